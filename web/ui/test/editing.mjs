// Changing a design by hand and by text, saving it, and not losing anything.
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { check, end, equal, folder, noFaults, open, settled, textOf, that } from "./harness.mjs";

const file = (name) => readFileSync(join(folder, name), "utf8");
const text = (page) => page.locator("textarea").inputValue();
const row = (page, d) => page.locator(`[data-dimension="${d}"]`);
const level = async (page) => parseFloat(await textOf(page, '[data-value="level"]'));

await check("a typed value changes text, curves and tones", async () => {
  const page = await open("dunlin.hcl");
  const was = await textOf(page, '[data-tone-level="1"]');
  await page.getByLabel("volume of near", { exact: true }).fill("1.25 L");
  await page.keyboard.press("Enter");
  await settled(page);
  that((await text(page)).includes('"1.25 L"'), "the text did not follow");
  that((await textOf(page, '[data-tone-level="1"]')) !== was, "the tones did not follow");
  that((await textOf(page, ".top .state")) === "not saved", "it says saved");
  noFaults(page);
  await page.context().close();
});

await check("inches, typed and shown", async () => {
  const page = await open("dunlin.hcl");
  await page.getByRole("button", { name: "metric" }).click();
  await settled(page);
  that((await page.getByLabel("length of mouth", { exact: true }).inputValue()).endsWith("in"), "no inches");
  await page.getByLabel("length of mouth", { exact: true }).fill("3 in");
  await page.keyboard.press("Enter");
  await settled(page);
  that((await text(page)).includes('"3 in"'), "the text has no inches");
  that((await textOf(page, '[data-panel="travel"] figcaption')).includes("in, one way"), "travel is not in inches");
  noFaults(page);
  await page.context().close();
});

await check("the fine control: arrows, drag, home", async () => {
  const page = await open("dunlin.hcl");
  const fine = row(page, "inner.length.0").getByRole("slider");
  await fine.focus();
  await page.keyboard.press("ArrowRight");
  await settled(page);
  const once = Number(await fine.getAttribute("aria-valuenow"));
  that(once > 30 && once < 31.1, `one step went to ${once}`);
  const box = await fine.boundingBox();
  const before = await level(page);
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.9, box.y + box.height / 2, { steps: 12 });
  await settled(page);
  const dragged = Number(await fine.getAttribute("aria-valuenow"));
  await page.mouse.up();
  that(dragged > 45, `the drag went to ${dragged}`);
  that((await text(page)).includes(`"${dragged} mm"`), "the text did not follow the drag");
  await settled(page);
  that((await level(page)) !== before, "the level did not follow the drag");
  await page.keyboard.press("Home");
  await settled(page);
  equal(Number(await fine.getAttribute("aria-valuenow")), 30, "home");
  noFaults(page);
  await page.context().close();
});

await check("undo and redo, a drag being one step", async () => {
  const page = await open("dunlin.hcl");
  const first = await text(page);
  const fine = row(page, "mouth.length.0").getByRole("slider");
  await fine.scrollIntoViewIfNeeded();
  const box = await fine.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + 8);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.7, box.y + 8, { steps: 15 });
  await page.mouse.up();
  await settled(page);
  const second = await text(page);
  that(second !== first, "the drag changed nothing");
  await page.getByLabel("volume of near", { exact: true }).fill("1 L");
  await page.keyboard.press("Enter");
  await settled(page);
  const third = await text(page);
  await page.keyboard.press("Control+z");
  await settled(page);
  equal(await text(page), second, "one undo");
  await page.getByRole("button", { name: "undo" }).click();
  await settled(page);
  equal(await text(page), first, "two undos");
  await page.keyboard.press("Control+Shift+z");
  await page.keyboard.press("Control+y");
  await settled(page);
  equal(await text(page), third, "two redos");
  noFaults(page);
  await page.context().close();
});

await check("what to change: the advice does what it says", async () => {
  const page = await open("dunlin.hcl");
  await page.getByLabel("Tone to make louder").selectOption("1");
  await page.locator(".tone-strip").getByRole("button", { name: "tone 144.0" }).click();
  await settled(page);
  const before = await level(page);
  const advice = row(page, "mouth.size.0").locator("button.advice");
  const promised = parseFloat((await advice.locator("b").textContent()).replace("+", ""));
  await advice.click();
  await settled(page);
  const gained = (await level(page)) - before;
  that(gained > 0 && Math.abs(gained - promised) < 0.3 * promised + 0.1, `promised ${promised} dB, gained ${gained}`);
  await page.context().close();
});

await check("errors stand in their line, and the page lives on", async () => {
  const page = await open("dunlin.hcl");
  const good = await text(page);
  await page.locator("textarea").fill(good.replace('"36 mm"', '"36 kg"'));
  await settled(page);
  equal(await page.locator(".editor pre mark").textContent(), '"36 kg"', "the place marked");
  that((await textOf(page, ".problems")).includes("mass"), "the problem is not told");
  const line = 1 + good.slice(0, good.indexOf('"36 mm"')).split("\n").length - 1;
  that((await textOf(page, ".problems button")).includes(String(line)), "the line is not told");
  that((await page.locator(".owner").count()) > 0, "the curves went away");
  await page.locator("textarea").fill(good);
  await settled(page);
  equal(await page.locator(".editor pre mark").count(), 0, "the mark stays");
  noFaults(page);
  await page.context().close();
});

await check("parts added, joined and removed", async () => {
  const page = await open("dunlin.hcl");
  await page.getByLabel("Kind of part to add").selectOption("chamber");
  await page.getByLabel("Name of the new part").fill("third");
  await page.getByRole("button", { name: "add", exact: true }).click();
  await settled(page);
  that((await text(page)).includes('chamber "third"'), "no chamber");
  equal(await page.locator(".problems li").count(), 0, "problems with the chamber");
  await page.getByLabel("Kind of part to add").selectOption("port");
  await page.getByLabel("Name of the new part").fill("pipe");
  await page.getByLabel("from of the new part").selectOption("chamber.far");
  await page.getByLabel("to of the new part").selectOption("chamber.third");
  await page.getByRole("button", { name: "add", exact: true }).click();
  await settled(page);
  that((await page.locator('[data-part="pipe"]').count()) === 1, "the pipe is not drawn");
  await page.getByLabel("from of pipe").selectOption("chamber.near");
  await settled(page);
  that(/port "pipe" \{[^}]*from\s*= chamber\.near/.test(await text(page)), "not joined");
  await page.getByRole("button", { name: "Remove third", exact: true }).click();
  await settled(page);
  that(!(await text(page)).includes('chamber "third"'), "the chamber is still there");
  for (const kind of ["line", "mount", "passive", "leak"]) {
    await page.getByLabel("Kind of part to add").selectOption(kind);
    await page.getByLabel("Name of the new part").fill(`my-${kind}`);
    await page.getByRole("button", { name: "add", exact: true }).click();
    await settled(page);
    that((await text(page)).includes(`${kind} "my-${kind}"`), `no ${kind}`);
    equal(await page.locator(".problems li").count(), 0, `problems with a ${kind}`);
  }
  noFaults(page);
  await page.context().close();
});

await check("saving keeps comments and refuses to overwrite", async () => {
  const page = await open("curlew.hcl");
  const before = file("curlew.hcl");
  const comments = before.split("\n").filter((l) => l.trim().startsWith("#"));
  await page.getByLabel("volume of box", { exact: true }).fill("2.5 L");
  await page.keyboard.press("Enter");
  await settled(page);
  await page.keyboard.press("Control+s");
  await page.waitForFunction(() => document.querySelector(".top .state").textContent === "saved");
  const after = file("curlew.hcl");
  that(after.includes('"2.5 L"'), "not in the file");
  for (const c of comments) that(after.includes(c), `the comment ${c} is lost`);
  // Someone else changes the file.
  writeFileSync(join(folder, "curlew.hcl"), after + "# theirs\n");
  await page.getByLabel("volume of box", { exact: true }).fill("2.6 L");
  await page.keyboard.press("Enter");
  await settled(page);
  await page.keyboard.press("Control+s");
  await page.getByRole("alertdialog").waitFor();
  that(file("curlew.hcl").endsWith("# theirs\n"), "their change was overwritten");
  await page.getByRole("button", { name: "write mine over it" }).click();
  await page.waitForFunction(() => document.querySelector(".top .state").textContent === "saved");
  that(file("curlew.hcl").includes('"2.6 L"'), "mine is not there");
  // The one complaint is the refused save itself.
  that(page.faults.every((f) => f.includes("409")), page.faults.join("\n"));
  await page.context().close();
});

await check("two tabs do not lose each other's edits", async () => {
  const one = await open("plover.hcl");
  const two = await one.context().newPage();
  await two.goto(one.url());
  await two.waitForSelector(".ring", { state: "attached" });
  const value = async (page, v) => {
    await page.bringToFront();
    await page.locator('[data-dimension$=".volume.0"] input').first().fill(v);
    await page.keyboard.press("Enter");
    await settled(page);
  };
  await value(one, "1.31 L");
  await value(two, "1.32 L");
  await one.bringToFront();
  await one.keyboard.press("Control+s");
  await one.waitForFunction(() => document.querySelector(".top .state").textContent === "saved");
  await two.bringToFront();
  await two.waitForFunction(() => document.querySelector(".foot").textContent.includes("Another tab saved"));
  await two.keyboard.press("Control+s");
  await two.getByRole("alertdialog").waitFor();
  that(file("plover.hcl").includes('"1.31 L"'), "the first tab's edit is lost");
  await two.getByRole("button", { name: "take the file's text" }).click();
  await settled(two);
  that((await text(two)).includes('"1.31 L"'), "the second tab did not take it");
  await one.context().close();
});

await check("a new design, its report and its text to take away", async () => {
  const page = await open("dunlin.hcl");
  await page.getByRole("button", { name: "new", exact: true }).click();
  await settled(page);
  that((await text(page)).includes("New box"), "no new design");
  equal(await page.locator(".problems li").count(), 0, "problems in it");
  for (const [choice, ending, begins] of [["text", "hcl", "title"], ["report pdf", "pdf", "%PDF"], ["report html", "html", "<!doctype"], ["plot svg", "svg", "<"]]) {
    const [download] = await Promise.all([page.waitForEvent("download"), page.getByLabel("Take away as a file").selectOption(choice)]);
    that(download.suggestedFilename().endsWith("." + ending), download.suggestedFilename());
    that(readFileSync(await download.path(), "utf8").startsWith(begins), `${choice} begins otherwise`);
  }
  noFaults(page);
  await page.context().close();
});

await check("markup in a design stays text", async () => {
  writeFileSync(join(folder, "markup.hcl"), file("dunlin.hcl").replace(/title\s*= "Dunlin"/, 'title = "<script>window.bad=1</script><img src=x onerror=window.bad=2>"'));
  const page = await open("markup.hcl");
  equal(await page.evaluate(() => window.bad ?? null), null, "it ran");
  that((await textOf(page, "h1")).startsWith("<script>"), "the title is not there as text");
  noFaults(page);
  await page.context().close();
});

await end();
