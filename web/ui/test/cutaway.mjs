// The drawing: legible for every network, in proportion, and moving as the air
// does.
import { readdirSync } from "node:fs";
import { check, end, equal, folder, noFaults, open, settled, textOf, that } from "./harness.mjs";

const designs = readdirSync(folder).filter((n) => n.endsWith(".hcl"));

/** Boxes of everything that may not lie on one another. */
const shapes = (page) =>
  page.evaluate(() => {
    const svg = document.querySelector(".drawing svg");
    const sheet = svg.getBoundingClientRect();
    const box = (e) => {
      const r = e.getBoundingClientRect();
      return { x: r.x, y: r.y, w: r.width, h: r.height };
    };
    const union = (all) => {
      const x = Math.min(...all.map((b) => b.x));
      const y = Math.min(...all.map((b) => b.y));
      return { x, y, w: Math.max(...all.map((b) => b.x + b.w)) - x, h: Math.max(...all.map((b) => b.y + b.h)) - y };
    };
    const list = (selector, name) => [...svg.querySelectorAll(selector)].map((e) => ({ name: e.dataset[name], ...box(e) }));
    return {
      sheet: box(svg),
      right: document.querySelector(".drawing").scrollWidth - document.querySelector(".drawing").clientWidth,
      // The walls of a line; its air may move out of it.
      blocks: list("rect[data-block]", "block").concat([...svg.querySelectorAll("g[data-block]")].map((e) => ({ name: e.dataset.block, ...union([...e.querySelectorAll("path")].map(box)) }))),
      labels: list("text.name", "label"),
      parts: [...svg.querySelectorAll("[data-part]")].map((e) => ({ name: e.dataset.part, ...box(e.querySelector("g")) })),
      sheetWidth: sheet.width,
    };
  });

const overlap = (a, b, slack = 1) => a.x + a.w - slack > b.x && b.x + b.w - slack > a.x && a.y + a.h - slack > b.y && b.y + b.h - slack > a.y;

for (const width of [1280, 360]) {
  for (const design of designs) {
    await check(`cutaway of ${design} at ${width}: nothing on anything`, async () => {
      const page = await open(design, { width, calm: true });
      const s = await shapes(page);
      that(s.blocks.length > 0, "no chambers are drawn");
      for (let i = 0; i < s.blocks.length; i++) {
        for (let j = i + 1; j < s.blocks.length; j++) {
          that(!overlap(s.blocks[i], s.blocks[j], 6), `${s.blocks[i].name} lies on ${s.blocks[j].name}`);
        }
      }
      for (let i = 0; i < s.labels.length; i++) {
        for (let j = i + 1; j < s.labels.length; j++) {
          that(!overlap(s.labels[i], s.labels[j]), `the names ${s.labels[i].name} and ${s.labels[j].name} overlap`);
        }
        const l = s.labels[i];
        that(l.x >= s.sheet.x - 1 && l.x + l.w <= s.sheet.x + s.sheet.w + 1 && l.y >= s.sheet.y - 1, `the name ${l.name} leaves the sheet`);
      }
      for (let i = 0; i < s.parts.length; i++) {
        for (let j = i + 1; j < s.parts.length; j++) {
          that(!overlap(s.parts[i], s.parts[j], 2), `${s.parts[i].name} lies on ${s.parts[j].name}`);
        }
      }
      noFaults(page);
      await page.context().close();
    });
  }
}

await check("areas are in proportion to volume", async () => {
  for (const design of designs) {
    const page = await open(design, { calm: true });
    const list = await page.evaluate(() =>
      [...document.querySelectorAll(".drawing rect[data-chamber]")].map((e) => {
        const words = [...document.querySelectorAll(".drawing .words")].find((w) => w.querySelector("[data-label]").dataset.label === e.dataset.chamber);
        return {
          name: e.dataset.chamber,
          area: e.width.baseVal.value * e.height.baseVal.value,
          litres: parseFloat(words.querySelector(".value").textContent),
          enlarged: words.querySelector(".name").textContent.includes("*"),
        };
      }),
    );
    const fair = list.filter((c) => !c.enlarged);
    for (const c of fair) {
      const ratio = c.area / c.litres / (fair[0].area / fair[0].litres);
      that(Math.abs(ratio - 1) < 0.04, `${design}: ${c.name} is drawn ${ratio.toFixed(3)} times its share`);
    }
    const plain = await page.locator(".box").textContent();
    equal(list.some((c) => c.enlarged) ? plain.includes("larger than its volume") : true, true, `${design}: says so where it is not in proportion`);
    await page.context().close();
  }
});

const pose = (page) =>
  page.evaluate(() => ({
    air: Object.fromEntries([...document.querySelectorAll("rect[data-chamber]")].map((e) => [e.dataset.chamber, e.getAttribute("fill")])),
    cone: document.querySelector("[data-cone]").getAttribute("d"),
    grains: Object.fromEntries([...document.querySelectorAll("[data-port]")].map((e) => [e.dataset.port, e.getAttribute("transform")])),
  }));

await check("the box moves", async () => {
  const page = await open("dunlin.hcl");
  const seen = new Set();
  const cones = new Set();
  const grains = [];
  for (let i = 0; i < 24; i++) {
    const p = await pose(page);
    seen.add(p.air.near + p.air.far);
    cones.add(p.cone);
    grains.push(Number(/translate\(([-\d.]+)/.exec(p.grains.mouth)[1]));
    await page.waitForTimeout(110);
  }
  that(seen.size > 8, `chambers took ${seen.size} colours in a period`);
  that(cones.size > 8, `the cone stood in ${cones.size} places`);
  that(Math.max(...grains) > 15 && Math.min(...grains) < -15, `air of the mouth went from ${Math.min(...grains)} to ${Math.max(...grains)} px`);
  noFaults(page);
  await page.context().close();
});

await check("travel keeps its true relation", async () => {
  // At the dip the cone is almost still against the air of the mouth; at the
  // first peak it is not. Drawn and real ratios are the same.
  const page = await open("dunlin.hcl");
  for (const f of ["106.7", "68.9"]) {
    await page.focus(".cursor-handle");
    await page.keyboard.press("Home");
    for (let i = 0; i < (f === "68.9" ? 1 : 2); i++) await page.keyboard.press("Shift+ArrowRight");
    await settled(page);
    let cone = 0;
    let air = 0;
    for (let i = 0; i < 40; i++) {
      const p = await pose(page);
      // The dust cap stands 16 px behind the cone's place of rest.
      cone = Math.max(cone, Math.abs(Number(/L(-?[\d.]+),/.exec(p.cone)[1]) + 16));
      air = Math.max(air, Math.abs(Number(/translate\(([-\d.]+)/.exec(p.grains.mouth)[1])));
      await page.waitForTimeout(67);
    }
    const real = await page.evaluate(async ([name]) => {
      const text = document.querySelector("textarea").value;
      const cursor = Number(document.querySelector(".cursor-handle").getAttribute("aria-valuenow"));
      const m = await (await fetch("./api/moment", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ name, text, cursor_hz: cursor }) })).json();
      const [a, b] = m.ducts.mouth;
      return { cone: m.cones_mm.cone.size, air: (a.travel_mm.size + b.travel_mm.size) / 2 };
    }, ["dunlin.hcl"]);
    const drawn = cone / air;
    const want = real.cone / real.air;
    that(Math.abs(drawn - want) < 0.08 * want + 0.01, `at ${f} Hz cone to mouth is drawn ${drawn.toFixed(3)}, is ${want.toFixed(3)}`);
  }
  await page.context().close();
});

await check("it stands still where that is wished", async () => {
  const page = await open("dunlin.hcl", { calm: true });
  const first = await pose(page);
  await page.waitForTimeout(400);
  equal(await pose(page), first, "reduced motion");
  that(first.air.near !== "rgb(250,248,242)", "the still shows nothing");
  await page.context().close();
  const other = await open("dunlin.hcl");
  await other.getByRole("button", { name: "hold still" }).click();
  await other.waitForTimeout(100);
  const held = await pose(other);
  await other.waitForTimeout(400);
  equal(await pose(other), held, "held still");
  await other.getByRole("button", { name: "let it move" }).click();
  await other.waitForTimeout(400);
  that(JSON.stringify(await pose(other)) !== JSON.stringify(held), "it does not move again");
  await other.context().close();
});

await check("the scale is written and true", async () => {
  const page = await open("dunlin.hcl");
  const slowed = Number(/([\d.]+)×/.exec(await textOf(page, "[data-slowed]"))[1]);
  const cursor = Number(await page.locator(".cursor-handle").getAttribute("aria-valuenow"));
  // A period lasts 2.6 s on the page.
  that(Math.abs(slowed / (cursor * 2.6) - 1) < 0.03, `slowed ${slowed}, cursor ${cursor}`);
  await page.context().close();
});

await end();
