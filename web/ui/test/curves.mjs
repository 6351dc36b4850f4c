// The stack of curves and its one cursor.
import { readFileSync } from "node:fs";
import { check, end, equal, noFaults, open, settled, textOf, that } from "./harness.mjs";

const valueNow = async (page) => Number(await page.locator(".cursor-handle").getAttribute("aria-valuenow"));

await check("numbers equal predict --json", async () => {
  // Written by the real command for dunlin.hcl at these frequencies.
  const want = JSON.parse(readFileSync(process.env.OCARINA_PREDICTED, "utf8"));
  const page = await open("dunlin.hcl");
  const number = async (name) => parseFloat((await textOf(page, `[data-value="${name}"]`)).replace(/^[a-z]+ /, ""));
  for (let i = 0; i < want.frequency_hz.length; i++) {
    const f = want.frequency_hz[i];
    await page.locator(".tone-strip").getByRole("button", { name: `tone ${f.toFixed(1)}` }).click();
    await settled(page);
    that(Math.abs((await valueNow(page)) - f) < 1e-9, `the cursor is not at ${f}`);
    const near = (got, real, words) => that(Math.abs(got - real) <= 0.006 * Math.abs(real) + 0.051, `${words} at ${f} Hz: page ${got}, predict ${real}`);
    const close = (got, real, words) => that(Math.abs(got - real) <= 0.0051 * Math.abs(real), `${words} at ${f} Hz: page ${got}, predict ${real}`);
    close(await number("impedance"), want.impedance_ohm[i], "impedance");
    that(Math.abs((await number("impedance:phase")) - want.impedance_phase_deg[i]) <= 0.51, "phase");
    that(Math.abs((await number("level")) - want.level_db[i]) <= 0.051, "level");
    close(await number("travel:cone"), want.mounts.cone.excursion_mm[i], "travel");
    close(await number("speed:inner"), want.ports.inner.air_speed_m_s[i], "air speed of inner");
    close(await number("speed:mouth"), want.ports.mouth.air_speed_m_s[i], "air speed of mouth");
    near(await number("delay"), want.group_delay_ms[i], "group delay");
  }
  // The curves' table holds the same numbers as the API's arrays.
  noFaults(page);
  await page.context().close();
});

await check("every peak and dip wears its owner's name", async () => {
  const page = await open("dunlin.hcl");
  const names = await page.locator(".owner").allTextContents();
  for (const want of ["cone on its own spring", "mouth against far and near", "inner against near and far"]) {
    that(names.includes(want), `no label ${want} among ${names.join("; ")}`);
  }
  const boxes = await page.locator(".owner").evaluateAll((list) => list.map((e) => e.getBoundingClientRect().toJSON()));
  for (let i = 0; i < boxes.length; i++) {
    for (let j = i + 1; j < boxes.length; j++) {
      const [a, b] = [boxes[i], boxes[j]];
      that(a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top, `${names[i]} lies on ${names[j]}`);
    }
  }
  await page.locator(".owner").first().hover();
  that((await textOf(page, ".near")).includes("suspension"), "no reading on approach");
  await page.context().close();
});

await check("keys move the cursor, and everything with it", async () => {
  const page = await open("dunlin.hcl");
  await page.focus(".cursor-handle");
  const start = await valueNow(page);
  await page.keyboard.press("ArrowRight");
  await settled(page);
  that((await valueNow(page)) > start, "right does not go up");
  await page.keyboard.press("ArrowLeft");
  await settled(page);
  that(Math.abs((await valueNow(page)) / start - 1) < 1e-9, "left does not go back");
  await page.keyboard.press("Home");
  await page.keyboard.press("Shift+ArrowRight");
  await settled(page);
  that(Math.abs((await valueNow(page)) - 68.9) < 0.1, `shift went to ${await valueNow(page)}`);
  that((await textOf(page, ".sentence .reading")).startsWith("Peak at 68.9"), "the sentence did not follow");
  await page.keyboard.press("Control+ArrowRight");
  await settled(page);
  equal(await valueNow(page), 112, "control to the next tone");
  await page.keyboard.press("Alt+ArrowRight");
  await settled(page);
  equal(await valueNow(page), 144, "alt to the next tone");
  that((await textOf(page, "#box-title")).includes("144.0 Hz"), "the box did not follow");
  const before = await textOf(page, ".sentence .reading");
  await page.keyboard.press("Shift+ArrowLeft");
  await settled(page);
  that((await textOf(page, ".sentence .reading")) !== before, "the sentence stood");
  noFaults(page);
  await page.context().close();
});

await check("pointer moves the cursor and snaps to features", async () => {
  const page = await open("dunlin.hcl");
  const plot = page.locator('[data-panel="level"] .plot');
  const box = await plot.boundingBox();
  await page.mouse.move(box.x + 120, box.y + 20);
  await page.mouse.down();
  await settled(page);
  const a = await valueNow(page);
  await page.mouse.move(box.x + 300, box.y + 20, { steps: 6 });
  await settled(page);
  const b = await valueNow(page);
  await page.mouse.up();
  that(b > a * 1.3, `a drag went from ${a} to ${b}`);
  const inside = box.width - 88;
  const at = (f) => box.x + 44 + (Math.log(f / 10) / Math.log(1008 / 10)) * inside;
  await page.mouse.click(at(106.7) + 3, box.y + 20);
  await settled(page);
  that(Math.abs((await valueNow(page)) - 106.7035) < 0.01, `near the dip it went to ${await valueNow(page)}`);
  await page.context().close();
});

await check("zoom, pan of detail, and back", async () => {
  const page = await open("dunlin.hcl");
  const span = async () => [Number(await page.locator(".cursor-handle").getAttribute("aria-valuemin")), Number(await page.locator(".cursor-handle").getAttribute("aria-valuemax"))];
  const all = await span();
  await page.getByRole("button", { name: "closer" }).click();
  await settled(page);
  const near = await span();
  that(near[0] > all[0] && near[1] < all[1], "closer is not closer");
  const plot = await page.locator('[data-panel="level"] .plot').boundingBox();
  await page.mouse.move(plot.x + 300, plot.y + 30);
  await page.keyboard.down("Control");
  await page.mouse.wheel(0, -300);
  await page.keyboard.up("Control");
  await settled(page);
  const wheel = await span();
  that(wheel[1] / wheel[0] < near[1] / near[0], "the wheel does not zoom");
  await page.getByRole("button", { name: "all", exact: true }).click();
  await settled(page);
  equal(await span(), all, "back to all");
  await page.context().close();
});

await check("curves kept to compare, limits and tables", async () => {
  const page = await open("dunlin.hcl");
  await page.getByRole("button", { name: "keep to compare" }).click();
  await page.getByLabel("length of mouth", { exact: true }).fill("100 mm");
  await page.keyboard.press("Enter");
  await settled(page);
  that((await page.locator(".stack").textContent()).includes("Dashed: kept at"), "what is kept is not told");
  await page.getByRole("button", { name: /drop 1 kept/ }).click();
  that(!(await page.locator(".stack").textContent()).includes("Dashed"), "it is still there");
  await page.locator(".stack .twin summary").click();
  await page.waitForSelector(".stack .twin tbody tr");
  const rows = await page.locator(".stack .twin tbody tr").count();
  that(rows > 20, `${rows} rows in the tables`);
  noFaults(page);
  await page.context().close();
});

await check("touch: two fingers keep the frequencies under them", async () => {
  const page = await open("dunlin.hcl", { width: 360, height: 780, touch: true });
  const plot = page.locator('[data-panel="impedance"] .plot');
  await plot.scrollIntoViewIfNeeded();
  const box = await plot.boundingBox();
  const cdp = await page.context().newCDPSession(page);
  const touch = (type, xs) => cdp.send("Input.dispatchTouchEvent", { type, touchPoints: xs.map((x, id) => ({ x: box.x + x, y: box.y + 90, id })) });
  // The frequency at a place of the panel, between gutters of 44 px.
  const under = (x, from, to) => from * Math.pow(to / from, (x - 44) / (box.width - 88));
  const ask = page.waitForRequest((r) => r.url().endsWith("/api/bench") && r.postDataJSON().from_hz > 10);
  await touch("touchStart", [130, 190]);
  await touch("touchMove", [110, 210]);
  await touch("touchMove", [80, 240]);
  await touch("touchEnd", []);
  const sent = (await ask).postDataJSON();
  await settled(page);
  for (const [was, is] of [[130, 80], [190, 240]]) {
    // Each step asked for on the way is a step of the same gesture.
    const before = under(was, 10, 1008);
    const after = under(sent.to_hz / sent.from_hz < 9 ? is : is === 80 ? 110 : 210, sent.from_hz, sent.to_hz);
    that(Math.abs(Math.log(after / before)) < 0.02, `${before} Hz was under the finger, then ${after} Hz`);
  }
  noFaults(page);
  await page.context().close();
});

await check("touch: a tap moves the cursor, a swipe shows the next curve", async () => {
  const page = await open("dunlin.hcl", { width: 360, height: 780, touch: true });
  const before = await valueNow(page);
  const plot = page.locator('[data-panel="impedance"] .plot');
  await plot.scrollIntoViewIfNeeded();
  const box = await plot.boundingBox();
  await page.touchscreen.tap(box.x + 90, box.y + 120);
  await settled(page);
  that((await valueNow(page)) !== before, "the tap did nothing");
  const sheaf = page.locator(".sheaf");
  equal(await sheaf.evaluate((e) => getComputedStyle(e).scrollSnapType.startsWith("x")), true, "panels do not snap");
  await page.getByRole("button", { name: "air speed" }).click();
  await page.waitForTimeout(700);
  that((await sheaf.evaluate((e) => e.scrollLeft)) > 600, "the air speed did not come");
  noFaults(page);
  await page.context().close();
});

await end();
