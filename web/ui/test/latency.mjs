// How long it takes from a control's change to repainted curves, in the real
// browser: prints the figure. Run by `npm run latency` against a running bench.
import { base, end, open } from "./harness.mjs";

const design = process.env.OCARINA_DESIGN ?? "dunlin.hcl";
const page = await open(design, { width: 1440, height: 900 });
const slider = page.locator(".fine").nth(1);
await slider.focus();
const times = await page.evaluate(async () => {
  const control = document.activeElement;
  const list = [];
  for (let i = 0; i < 240; i++) {
    performance.clearMeasures("ocarina:repaint");
    const begun = performance.now();
    control.dispatchEvent(new KeyboardEvent("keydown", { key: i % 40 < 20 ? "ArrowRight" : "ArrowLeft", bubbles: true }));
    for (;;) {
      const done = performance.getEntriesByName("ocarina:repaint").at(-1);
      if (done) {
        list.push(done.startTime + done.duration - begun);
        break;
      }
      await new Promise((r) => setTimeout(r, 1));
    }
    await new Promise((r) => setTimeout(r, 20));
  }
  return list.slice(10).sort((a, b) => a - b);
});
const at = (share) => times[Math.min(times.length - 1, Math.floor(share * times.length))];
console.log(JSON.stringify({ name: "latency", ok: true, detail: "", ms: at(0.95) }));
console.error(`${design} on ${base}: change to repainted curves, ${times.length} changes: median ${at(0.5).toFixed(1)} ms, 95 % within ${at(0.95).toFixed(1)} ms, worst ${at(1).toFixed(1)} ms`);
await end();
