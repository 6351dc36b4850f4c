// The page for everybody: axe, keyboard alone, small and large, light and dark,
// light in weight and quick to come.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { gzipSync } from "node:zlib";
import { base, check, end, equal, noFaults, open, recording, settled, textOf, that } from "./harness.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

for (const dark of [false, true]) {
  for (const width of [360, 1280, 1920]) {
    await check(`axe at ${width} px, ${dark ? "dark" : "light"}`, async () => {
      // The content policy holds for the page; the checker is put in from outside.
      const page = await open("dunlin.hcl", { width, dark, calm: true, context: { bypassCSP: true } });
      await page.locator(".harder").scrollIntoViewIfNeeded();
      await page.waitForSelector(".graph");
      await page.setInputFiles('[aria-label="Recording and its plan"]', recording);
      await page.waitForSelector(".beside");
      await page.evaluate(() => document.querySelectorAll("details").forEach((d) => (d.open = true)));
      await settled(page);
      await page.evaluate(axe);
      const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ["violations"] }));
      const serious = found.violations.filter((v) => v.impact === "serious" || v.impact === "critical");
      that(serious.length === 0, serious.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 120) + " " + (n.any[0]?.message ?? "")).join("\n  ")}`).join("\n"));
      const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      that(over <= 0, `the page is ${over} px too wide`);
      noFaults(page);
      await page.context().close();
    });
  }
}

await check("keyboard alone: open, edit, move, undo, save", async () => {
  const page = await open("sanderling.hcl");
  const focused = () => page.evaluate(() => `${document.activeElement.tagName} ${document.activeElement.getAttribute("aria-label") ?? document.activeElement.textContent.slice(0, 30)}`);
  const to = async (words) => {
    for (let i = 0; i < 120; i++) {
      await page.keyboard.press("Tab");
      if ((await focused()).includes(words)) return;
    }
    throw new Error(`Tab never came to ${words}`);
  };
  await to("length of vent, fine control");
  const before = await page.locator("textarea").inputValue();
  await page.keyboard.press("ArrowUp");
  await page.keyboard.press("ArrowUp");
  await settled(page);
  that((await page.locator("textarea").inputValue()) !== before, "the fine control did nothing");
  await to("Frequency of the cursor");
  const sentence = await textOf(page, ".sentence");
  await page.keyboard.press("Shift+ArrowRight");
  await settled(page);
  that((await textOf(page, ".sentence")) !== sentence, "the cursor did not move");
  await page.keyboard.press("Control+z");
  await settled(page);
  equal(await page.locator("textarea").inputValue(), before, "undone");
  // Focus is always to be seen.
  await to("closer");
  const outline = await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle);
  equal(outline, "solid", "the focus is not seen");
  noFaults(page);
  await page.context().close();
});

await check("first paint within a second, page under 250 kB compressed", async () => {
  const page = await open("dunlin.hcl");
  await page.reload();
  await page.waitForSelector(".ring", { state: "attached" });
  const paint = await page.evaluate(() => performance.getEntriesByName("first-contentful-paint")[0].startTime);
  const files = await page.evaluate(() => performance.getEntriesByType("resource").map((r) => r.name).filter((n) => !n.includes("/api/")));
  let weight = 0;
  for (const file of [base, ...files]) {
    const answer = await fetch(file);
    weight += gzipSync(Buffer.from(await answer.arrayBuffer()), { level: 9 }).length;
  }
  console.error(`first paint ${Math.round(paint)} ms, ${(weight / 1000).toFixed(1)} kB compressed`);
  that(weight < 250000, `${weight} bytes`);
  that(paint < 1000, `first paint after ${paint} ms`);
  await page.context().close();
});

await check("the policy forbids what was not built in", async () => {
  const page = await open("dunlin.hcl");
  const ran = await page.evaluate(async () => {
    const s = document.createElement("script");
    s.textContent = "window.inline = 1";
    document.body.append(s);
    const blocked = await fetch("https://example.com/").then(() => false, () => true);
    return { inline: window.inline ?? null, blocked };
  });
  equal(ran, { inline: null, blocked: true }, "policy");
  await page.context().close();
});

await check("print shows the still box without controls", async () => {
  const page = await open("dunlin.hcl");
  await page.emulateMedia({ media: "print" });
  await page.waitForTimeout(200);
  equal(await page.locator(".top nav").isVisible(), false, "controls are printed");
  equal(await page.locator(".drawing svg").isVisible(), true, "the box is not printed");
  const pose = () => page.locator("[data-cone]").first().getAttribute("d");
  const first = await pose();
  await page.waitForTimeout(300);
  equal(await pose(), first, "it moves in print");
  await page.context().close();
});

await end();
