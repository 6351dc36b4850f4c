// What the browser tests share: one headless Chromium over one server, a page
// that fails on any console error or request to elsewhere, and checks that are
// told as lines of JSON for the Go test that runs them.
import { chromium } from "playwright-core";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

export const base = process.env.OCARINA_PAGE;
export const folder = process.env.OCARINA_FOLDER;
const executablePath = process.env.OCARINA_CHROMIUM ?? "/usr/bin/chromium";
const quiet = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];

if (!base) throw new Error("OCARINA_PAGE has to be the address of a running bench");

const profile = mkdtempSync(join(tmpdir(), "ocarina-page-"));
const browser = await chromium.launch({ executablePath, args: quiet });

/** Opens the page on a design and waits until it is read. */
export async function open(design, { width = 1280, height = 900, dark = false, touch = false, calm = false, context: more = {} } = {}) {
  const context = await browser.newContext({
    viewport: { width, height },
    colorScheme: dark ? "dark" : "light",
    hasTouch: touch,
    reducedMotion: calm ? "reduce" : "no-preference",
    ...more,
  });
  const page = await context.newPage();
  page.faults = [];
  page.on("console", (m) => {
    if (m.type() === "error" || m.type() === "warning") page.faults.push(`console: ${m.text()}`);
  });
  page.on("pageerror", (e) => page.faults.push(`error: ${e.stack ?? e.message}`));
  page.on("request", (r) => {
    const url = r.url();
    if (!url.startsWith(base) && !url.startsWith("data:") && !url.startsWith("blob:")) page.faults.push(`asked elsewhere: ${url}`);
  });
  await page.goto(`${base}#${design}`);
  await page.waitForSelector('[data-panel="impedance"] .ring', { state: "attached", timeout: 15000 });
  await settled(page);
  return page;
}

/** A recording of the demo and the plan it was played by. */
export const recording = ["dunlin-recorded.wav", "dunlin.json"].map((name) => new URL(`../../../demo/recordings/${name}`, import.meta.url).pathname);

/** Waits until the ladder, and the recording beside it, are what the design says. */
export async function climbed(page) {
  await settled(page);
  await page.waitForFunction(() => !document.documentElement.dataset.climbing && !document.documentElement.dataset.comparing);
  await settled(page);
}

/** Waits until nothing is asked any more and what came is painted. */
export async function settled(page) {
  await page.waitForFunction(() => !document.documentElement.dataset.asking);
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
}

const results = [];

export async function check(name, work) {
  const begun = Date.now();
  let detail = "";
  try {
    await work();
  } catch (fault) {
    detail = fault?.stack ?? String(fault);
  }
  const line = { name, ok: detail === "", detail, ms: Date.now() - begun };
  results.push(line);
  console.log(JSON.stringify(line));
}

export function that(holds, words) {
  if (!holds) throw new Error(words);
}

export function equal(got, want, words) {
  const a = JSON.stringify(got);
  const b = JSON.stringify(want);
  if (a !== b) throw new Error(`${words}: got ${a}, want ${b}`);
}

export function noFaults(page) {
  that(page.faults.length === 0, `the page complained:\n${page.faults.join("\n")}`);
}

/** The text of an element, with thin spaces made plain and true minuses. */
export async function textOf(page, selector) {
  const text = await page.locator(selector).first().textContent();
  return text.replace(/[\u202f\u00a0]/g, " ").replaceAll("−", "-").trim();
}

export async function end() {
  await browser.close();
  rmSync(profile, { recursive: true, force: true });
  process.exitCode = results.every((r) => r.ok) ? 0 : 1;
}
