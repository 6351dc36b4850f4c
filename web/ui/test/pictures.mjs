// Takes the pictures of the page for the README: `npm run pictures` against a
// running bench writes web/pictures.
import { mkdirSync } from "node:fs";
import { climbed, end, open, recording, settled } from "./harness.mjs";

const out = new URL("../../pictures/", import.meta.url).pathname;
mkdirSync(out, { recursive: true });
const page = await open("dunlin.hcl", { width: 1280, height: 800, calm: true });
await page.screenshot({ path: `${out}dip.png` });
await page.keyboard.press("Shift+ArrowRight");
await settled(page);
await page.screenshot({ path: `${out}peak.png` });
await page.context().close();
const tall = await open("dunlin.hcl", { width: 1280, height: 3000, calm: true });
await tall.waitForSelector(".graph");
await tall.setInputFiles('[aria-label="Recording and its plan"]', recording);
await tall.waitForSelector(".beside");
await climbed(tall);
const { y } = await tall.locator(".harder").boundingBox();
await tall.screenshot({ path: `${out}driven.png`, clip: { x: 0, y, width: 1280, height: 740 } });
await tall.context().close();
const phone = await open("sandpiper.hcl", { width: 360, height: 780, dark: true, calm: true });
await phone.screenshot({ path: `${out}phone.png` });
await end();
