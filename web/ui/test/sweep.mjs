// A measured sweep on the page: read, matched step by step, accepted, undone.
import { readFileSync } from "node:fs";
import { check, end, equal, noFaults, open, settled, textOf, that } from "./harness.mjs";

// Written by the Go test from a design that differs from dunlin.hcl in one length.
const csv = process.env.OCARINA_SWEEP;

/** Drops a file on the page as a hand would. */
const drop = async (page, name, content) => {
  const data = await page.evaluateHandle(([n, c]) => {
    const t = new DataTransfer();
    t.items.add(new File([c], n));
    return t;
  }, [name, content]);
  await page.dispatchEvent("main", "drop", { dataTransfer: data });
};

await check("a sweep is dropped, matched, accepted and undone", async () => {
  const page = await open("dunlin.hcl");
  const before = await page.locator("textarea").inputValue();
  await drop(page, "box.csv", readFileSync(csv, "utf8"));
  await page.waitForFunction(() => document.querySelector(".sweep .well").textContent.includes("points"));
  await page.getByRole("button", { name: "match the design to it" }).click();
  await page.waitForSelector(".convergence", { timeout: 60000 });
  await page.getByRole("button", { name: "put the correction into the design" }).waitFor({ timeout: 120000 });
  const rows = await page.locator('.sweep [aria-label="Features paired"] tbody tr').count();
  that(rows >= 4, `${rows} features paired`);
  const said = await textOf(page, ".sweep");
  const [drawn, fitted] = /([\d.]+) dB apart as drawn, ([\d.e-−]+) dB as fitted/.exec(said).slice(1).map((n) => parseFloat(n.replace("−", "-")));
  that(fitted < drawn / 4, `from ${drawn} to ${fitted} dB`);
  await page.getByRole("button", { name: "put the correction into the design" }).click();
  await settled(page);
  const after = await page.locator("textarea").inputValue();
  that(after !== before, "the text is as before");
  const dip = Number(/mouth"[^}]*length\s*= "([\d.]+) mm"/s.exec(after)?.[1]);
  that(Math.abs(dip - 80) < 6, `the mouth came out ${dip} mm long, was made 80`);
  await page.keyboard.press("Control+z");
  await settled(page);
  equal(await page.locator("textarea").inputValue(), before, "undone");
  noFaults(page);
  await page.context().close();
});

await check("a match can be stopped", async () => {
  const page = await open("dunlin.hcl");
  await drop(page, "box.csv", readFileSync(csv, "utf8"));
  // A match of so small a box is over in a moment; here its answer is held up.
  await page.route("**/api/match", async (route) => {
    await new Promise((done) => setTimeout(done, 1500));
    await route.continue().catch(() => {});
  });
  await page.getByRole("button", { name: "match the design to it" }).click();
  await page.getByRole("button", { name: "stop", exact: true }).click();
  await page.getByRole("button", { name: "match the design to it" }).waitFor();
  equal(await page.locator(".sweep table").count(), 0, "results of a stopped match");
  noFaults(page);
  await page.context().close();
});

await check("a faulty file is refused line by line", async () => {
  const page = await open("dunlin.hcl");
  await drop(page, "bad.csv", "frequency,|Z|\n10,4\n20,oops\n30,-5\n");
  await page.getByRole("alert").waitFor();
  const said = await textOf(page, ".sweep [role=alert]");
  that(said.includes("3") && said.includes("oops"), said);
  that(page.faults.every((f) => f.includes("422")), page.faults.join("\n"));
  await page.context().close();
});

await end();
