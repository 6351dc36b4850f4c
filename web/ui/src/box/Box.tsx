// The cutaway: the box drawn from the design, moving as it does at the cursor.
import { useComputed, useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { dark, pressed } from "../colour";
import { digits, hertz, toneHertz, withUnit } from "../format";
import { cursor, moment, outline, still } from "../state/store";
import { Drawing } from "./Drawing";
import { layout } from "./layout";
import { animate, type Stage } from "./animate";
import { Drive } from "../ladder/Drive";
import { inBox } from "../ladder/ladder";
import { play, scalesOf } from "./motion";
import { Shares } from "./Shares";
import { BoxTable } from "./BoxTable";

export const calm = window.matchMedia("(prefers-reduced-motion: reduce)");

export function Box() {
  const frame = useRef<HTMLDivElement>(null);
  const width = useSignal(480);
  const plan = useComputed(() => (outline.value ? layout(outline.value.parts, width.value, width.value < 420 ? 230 : 300) : null));
  const svg = useRef<SVGSVGElement>(null);
  const stage = useRef<Stage | null>(null);

  useEffect(() => {
    const watch = new ResizeObserver((entries) => {
      const w = Math.round(entries[0]!.contentRect.width);
      if (w > 0) width.value = Math.max(w, 300);
    });
    watch.observe(frame.current!);
    return () => watch.disconnect();
  }, []);

  useEffect(() => {
    stage.current = animate(svg.current);
    return () => stage.current?.stop();
  }, [plan.value, dark.value]);

  const m = moment.value;
  const p = play.value;
  const scales = p ? scalesOf(p) : null;
  return (
    <section class="box" aria-labelledby="box-title">
      <header>
        <h2 id="box-title">
          The box at <span class="figure">{p?.volts ? `${toneHertz(p.frequency)}, ${withUnit(digits(p.volts, 3), "V")}` : hertz(cursor.value)}</span>
        </h2>
        <p class="aside">
          {scales && <span class="figure" data-slowed>{still.value || calm.matches ? "at its greatest pressure" : `slowed ${digits(scales.slowed, 2)}×`}</span>}{" "}
          {p?.volts && (
            <>
              <button type="button" onClick={() => (inBox.value = false)}>at the design's drive</button>{" "}
            </>
          )}
          <button type="button" aria-pressed={still.value} onClick={() => (still.value = !still.value)}>
            {still.value ? "let it move" : "hold still"}
          </button>
        </p>
      </header>
      <div ref={frame} class="drawing">
        {plan.value && <Drawing plan={plan.value} svg={svg} />}
      </div>
      {scales && p && (
        <div class="scales">
          {p.pressure > 0 && (
            <div class="tint">
              <span class="figure">thin −{withUnit(digits(p.pressure, 2), "Pa")}</span>
              <span class="ramp" aria-hidden="true">
                {[-1, -0.75, -0.5, -0.25, 0, 0.25, 0.5, 0.75, 1].map((s) => (
                  <i key={s} style={{ background: pressed(s) }} />
                ))}
              </span>
              <span class="figure">pressed +{withUnit(digits(p.pressure, 2), "Pa")}</span>
            </div>
          )}
          {scales.barMm > 0 && (
            <div class="travel">
              <span class="bar" style={{ width: `${scales.barMm * scales.pxPerMm}px` }} aria-hidden="true" />
              <span class="figure">{withUnit(digits(scales.barMm, 1), "mm")} of travel, cone and air alike</span>
            </div>
          )}
          {p.volts && (
            <div class="drive-control">
              <Drive id="box-drive" />
            </div>
          )}
          {m && !p.volts && (
            <>
              <Shares name="moving" shares={m.kinetic_share} />
              <Shares name="pressed" shares={m.potential_share} />
            </>
          )}
        </div>
      )}
      {plan.value?.enlarged && <p class="aside">* drawn larger than its volume; all others are in proportion.</p>}
      <BoxTable />
    </section>
  );
}
