// The drive turned up at one tone: how loud, how clean, how far, and what gives
// way first; with the recording of it, if there is one, beside it.
import { useComputed, useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { dark } from "../colour";
import { hertz, toneHertz } from "../format";
import { Named } from "../head/Sentence";
import { moveCursor } from "../state/loop";
import { chosenTone, cursor, inches, outline } from "../state/store";
import { Drive } from "./Drive";
import { besideTone, clean, driveCursor, driven, extra, fault, follow, inBox, ladder, near, onExtra, oneTone, rungs, same, step, tone, volts } from "./ladder";
import { Graph, type Sheet } from "./Graph";
import { Play } from "./Play";
import { Recorded } from "./Recorded";
import { follow as followRecording, recorded } from "./recording";
import { coneSheet, harmonicsSheet, levelSheet, soundSheet, spectrumSheet, travelSheet, type Shown } from "./sheets";
import { LadderTable, StepTable } from "./Tables";

export function Harder() {
  const host = useRef<HTMLElement>(null);
  const room = useSignal(1200);
  useEffect(() => {
    const watch = new IntersectionObserver((seen) => (near.value = seen.some((e) => e.isIntersecting)), { rootMargin: "400px" });
    watch.observe(host.current!);
    const size = new ResizeObserver((entries) => (room.value = Math.floor(entries[0]!.contentRect.width)));
    size.observe(host.current!);
    const stop = follow();
    const stopRecording = followRecording();
    return () => {
      watch.disconnect();
      size.disconnect();
      stop();
      stopRecording();
    };
  }, []);

  const l = ladder.value;
  const t = tone.value;
  return (
    <section class="harder" aria-labelledby="harder-title" ref={host}>
      <header>
        <h2 id="harder-title">Driven harder</h2>
        <p class="aside">
          <label>
            clean is a distortion under{" "}
            <input
              inputMode="decimal"
              size={4}
              defaultValue={String(clean.value)}
              onChange={(e) => {
                const v = Number(e.currentTarget.value.replace(",", "."));
                if (v > 0 && v <= 100) clean.value = v;
                else e.currentTarget.value = String(clean.value);
              }}
            />
            &#8239;%
          </label>
        </p>
      </header>
      {fault.value && <p class="fault" role="alert">{fault.value}</p>}
      {l && t && (
        <>
          <p class="pick">
            {(l.tones ?? []).map((one, i) => (
              <button
                key={i}
                type="button"
                aria-pressed={one === t}
                onClick={() => {
                  onExtra.value = extra.value !== null && i === l.tones!.length - 1;
                  if (!onExtra.value) chosenTone.value = i;
                  if (inBox.value) moveCursor(one.frequency_hz);
                }}
              >
                {toneHertz(one.frequency_hz)}
              </button>
            ))}
            {!(l.tones ?? []).some((one) => Math.abs(one.frequency_hz / cursor.value - 1) < 1e-3) && (
              <button type="button" class="aside" onClick={driveCursor}>
                and {hertz(cursor.value)}, where the cursor is
              </button>
            )}
          </p>
          <p class="told" data-reading>
            <Named text={t.reading} />
          </p>
          <DriveControl />
          {(l.cautions ?? []).length > 0 && (
            <ul class="beware">
              {l.cautions!.map((c) => (
                <li key={c}>{c}</li>
              ))}
            </ul>
          )}
          <Graphs width={room.value} />
          <StepTable />
          <LadderTable />
          {l.reading && <p class="told">{l.reading}</p>}
          <details class="twin">
            <summary>What is assumed</summary>
            <ul class="notes">
              {[...(l.assumed ?? []), ...(l.warnings ?? [])].map((a) => (
                <li key={a}>
                  <Named text={a} />
                </li>
              ))}
            </ul>
          </details>
        </>
      )}
      {l && <Play />}
      <Recorded />
    </section>
  );
}

/** The drive, step by step, and whether the box shows it. */
function DriveControl() {
  const t = tone.value!;
  return (
    <div class="drive-control">
      <Drive id="drive" />
      <button
        type="button"
        aria-pressed={inBox.value}
        disabled={!driven.value}
        onClick={() => {
          if (inBox.value) {
            inBox.value = false;
            return;
          }
          moveCursor(t.frequency_hz);
          inBox.value = true;
          bringBox();
        }}
      >
        {inBox.value ? "the box shows it" : "show it in the box"}
      </button>
    </div>
  );
}

/** Brings the drawing into sight, under the sentence that stays at the top. */
function bringBox(): void {
  const box = document.querySelector(".box")!.getBoundingClientRect();
  const under = document.querySelector(".sentence")!.getBoundingClientRect().height + 12;
  if (box.top >= under && box.bottom <= innerHeight) return;
  scrollBy({ top: box.top - under, behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
}

function Graphs({ width }: { width: number }) {
  const sheets = useComputed<Sheet[]>(() => {
    void dark.value;
    const t = tone.value;
    const s = step.value;
    if (!t || !s) return [];
    const d = driven.value;
    const whole = d?.step && same(d.step.voltage_v, s.voltage_v) && d.frequency_hz === t.frequency_hz ? d.step : s;
    const report = recorded.value?.report;
    const told = besideTone.value?.told ?? null;
    const played = (report?.tones ?? []).find((r) => oneTone(r.nominal_hz || r.frequency_hz, t.frequency_hz));
    const take = told ? ((played?.steps ?? []).find((r) => r.drive_db !== null && same(Math.pow(10, r.drive_db / 20), s.voltage_v)) ?? null) : null;
    const shown: Shown = { tone: t, rungs: rungs.value, step: whole, told, take, calibrated: !!report?.calibration, outline: outline.value, inches: inches.value };
    return [coneSheet(shown), soundSheet(shown), spectrumSheet(shown), levelSheet(shown), harmonicsSheet(shown, clean.value), travelSheet(shown)].filter((one) => one !== null);
  });
  const columns = width >= 1000 ? 3 : width >= 620 ? 2 : 1;
  const each = Math.floor((width - (columns - 1) * 24) / columns);
  return (
    <div class="graphs" style={{ gridTemplateColumns: `repeat(${columns}, minmax(0, 1fr))` }}>
      {sheets.value.map((s) => (
        <Graph key={s.name} sheet={s} width={each} {...(s.log ? { take: (v: number) => (volts.value = v) } : {})} />
      ))}
    </div>
  );
}
