// The stack of curves over one axis of frequency, with the one cursor.
import { useComputed, useSignal } from "@preact/signals";
import { useEffect, useRef, useState } from "preact/hooks";
import type uPlot from "uplot";
import { colourOf, dark } from "../colour";
import { digits, hertz, withUnit } from "../format";
import { moveCursor } from "../state/loop";
import { band, chosenTone, cursor, curves, features, inches, measured, moment, outline, pins } from "../state/store";
import { done, steps } from "../sweep/matching";
import { Chart, GUTTER } from "./Chart";
import { CurvesTable } from "./CurvesTable";
import { cursorKey, lookAt, showAll, span, zoom } from "./gestures";
import { Owners } from "./Owners";
import { panelsOf, type Panel } from "./panels";
import { ToneStrip } from "./ToneStrip";

const SHARE: Record<string, number> = { impedance: 1.7, level: 1.15, travel: 0.8, speed: 0.95, delay: 0.75 };
const narrow = window.matchMedia("(max-width: 719px)");

export function Stack() {
  const host = useRef<HTMLDivElement>(null);
  const sheaf = useRef<HTMLDivElement>(null);
  const width = useSignal(700);
  const [phone, setPhone] = useState(narrow.matches);
  const plotted = useSignal<{ u: uPlot } | null>(null);
  useEffect(() => {
    const watch = new ResizeObserver((entries) => {
      const w = Math.floor(entries[0]!.contentRect.width);
      if (w > 0) width.value = w;
    });
    watch.observe(host.current!);
    const turned = (): void => setPhone(narrow.matches);
    narrow.addEventListener("change", turned);
    return () => {
      watch.disconnect();
      narrow.removeEventListener("change", turned);
    };
  }, []);

  const panels = useComputed(() => (curves.value ? panelsOf(curves.value, outline.value, null, inches.value) : []));
  const values = useComputed(() => (curves.value ? panelsOf({ ...curves.value }, outline.value, moment.value, inches.value) : []));
  const kept = useComputed(() => pins.value.map((p) => ({ label: p.label, frequency: p.curves.frequency_hz ?? [], panels: panelsOf(p.curves, outline.value, null, inches.value) })));
  void dark.value;
  const frequency = curves.value?.frequency_hz ?? [];
  const weight = panels.value.reduce((sum, p) => sum + (SHARE[p.name] ?? 1), 0);
  const room = phone ? 0 : Math.max(430, Math.min(760, window.innerHeight - 300 - panels.value.length * 24));
  const heightOf = (p: Panel, last: boolean): number => (phone ? 236 : Math.max(74, Math.round((room * (SHARE[p.name] ?? 1)) / weight)) + (last ? 23 : 0));

  return (
    <section class="stack" aria-labelledby="curves-title">
      <header>
        <h2 id="curves-title">Curves</h2>
        <p class="aside">
          <button type="button" onClick={() => zoom(0.7)}>closer</button>
          <button type="button" onClick={() => zoom(1 / 0.7)}>wider</button>
          <button type="button" onClick={showAll} disabled={band.value === null}>all</button>
          <button type="button" onClick={pin} disabled={!curves.value}>keep to compare</button>
          {pins.value.length > 0 && (
            <button type="button" onClick={() => (pins.value = [])}>
              drop {pins.value.length} kept
            </button>
          )}
        </p>
      </header>
      {phone && (
        <p class="tabs">
          {panels.value.map((p, i) => (
            <button key={p.name} type="button" onClick={() => sheaf.current?.scrollTo({ left: i * sheaf.current.clientWidth, behavior: "smooth" })}>
              {p.title.toLowerCase()}
            </button>
          ))}
        </p>
      )}
      <div
        ref={host}
        class="panels"
      >
        {!phone && <ToneStrip width={width.value} />}
        <div class="sheaf" ref={sheaf} tabIndex={phone ? 0 : -1}>
          {panels.value.map((p, i) => {
            const last = i === panels.value.length - 1;
            const height = heightOf(p, last);
            return (
              <figure key={p.name} class="panel" data-panel={p.name}>
                <figcaption>
                  <b>{p.title}</b> <span class="unit">{p.unit}</span>
                  {p.name === "impedance" && <span class="unit phase-note">phase dotted</span>}
                  <span class="values">
                    {(values.value[i]?.values ?? []).map((v, k) => (
                      <span key={v.name + k} class="figure" style={v.name ? { color: colourOf(v.name) } : {}} data-value={`${p.name}${v.name ? ":" + v.name : k ? ":phase" : ""}`}>
                        {p.values.length > 1 && v.name ? `${v.name} ` : ""}
                        {v.text}
                      </span>
                    ))}
                  </span>
                </figcaption>
                {phone && <ToneStrip width={width.value} />}
                <div class="plot" onPointerDown={(e) => press(e, width.value)} onWheel={(e) => wheel(e, width.value)} onTouchStart={(e) => pinch(e, width.value)} onDblClick={showAll}>
                  <Chart
                    panel={p}
                    frequency={frequency}
                    width={width.value}
                    height={height}
                    foot={last || phone}
                    extras={{
                      panel: p,
                      tones: outline.value?.tones_hz ?? [],
                      pins: kept.value.flatMap((k) => {
                        const same = k.panels.find((q) => q.name === p.name);
                        return same ? [{ panel: same, frequency: k.frequency }] : [];
                      }),
                      dots: p.name === "impedance" && measured.value ? { x: measured.value.frequency, y: measured.value.magnitude } : null,
                      fitted: p.name === "impedance" ? fittedCurve() : null,
                      rings: p.name === "impedance" ? features.value.map((f) => ({ x: f.frequency_hz, y: f.impedance_ohm })) : [],
                    }}
                    follows={[outline.value, kept.value, features.value, measured.value, done.value, steps.value]}
                    {...(p.name === "impedance" ? { plotted } : {})}
                  />
                  {p.name === "impedance" && <Owners plotted={plotted} features={features.value} width={width.value} />}
                </div>
              </figure>
            );
          })}
        </div>
        <CursorTag width={width.value} />
      </div>
      {measured.value && <p class="aside">Dots: {measured.value.name}, measured.{fittedCurve() ? " Long dashes: the match." : ""}</p>}
      {pins.value.length > 0 && (
        <p class="aside">Dashed: {pins.value.map((p) => p.label).join("; ")}.</p>
      )}
      <CurvesTable />
    </section>
  );
}

/** The curve of the match under way, or of the one that is done. */
function fittedCurve(): { x: number[]; y: number[] } | null {
  const d = done.value;
  if (d) return { x: d.frequency_hz ?? [], y: d.fitted_ohm ?? [] };
  const step = steps.value.at(-1);
  return step ? { x: step.frequency_hz ?? [], y: step.impedance_ohm ?? [] } : null;
}

function CursorTag({ width }: { width: number }) {
  const [from, to] = span();
  const share = Math.log(cursor.value / from) / Math.log(to / from);
  const within = share >= 0 && share <= 1;
  return (
    <div class="cursor-tag">
      <div
        class="cursor-handle"
        tabIndex={0}
        role="slider"
        aria-label="Frequency of the cursor. Arrows move it, with shift to the next peak or dip, with control to the next tone."
        aria-valuemin={Math.min(from, cursor.value)}
        aria-valuemax={Math.max(to, cursor.value)}
        aria-valuenow={cursor.value}
        aria-valuetext={hertz(cursor.value)}
        data-within={within}
        style={{ left: within ? `${GUTTER + share * (width - 2 * GUTTER)}px` : "50%" }}
        onKeyDown={(e) => void cursorKey(e)}
        onPointerDown={(e) => dragCursor(e, e.currentTarget.parentElement!.getBoundingClientRect().left, width)}
      >
        {hertz(cursor.value)}
      </div>
    </div>
  );
}

function pin(): void {
  const c = curves.value;
  if (!c) return;
  const level = moment.value?.level_db;
  const label = `kept at ${new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })}${level != null ? `, ${withUnit(digits(level, 3), "dB")} at ${hertz(cursor.value)}` : ""}`;
  pins.value = [...pins.value, { label, curves: c }].slice(-4);
}

function frequencyAt(x: number, width: number): number {
  const [from, to] = span();
  return from * Math.pow(to / from, Math.min(1, Math.max(0, (x - GUTTER) / (width - 2 * GUTTER))));
}

/** A press puts the cursor there, on a feature or tone if one is near; a drag takes it along. */
function press(e: PointerEvent, width: number): void {
  const box = e.currentTarget as HTMLElement;
  if (e.button !== 0 || (e.target as HTMLElement).closest("button")) return;
  const left = box.getBoundingClientRect().left;
  const to = (m: PointerEvent, snap: boolean): void => {
    const x = m.clientX - left;
    const f = frequencyAt(x, width);
    const marks = [...features.value.map((v) => v.frequency_hz), ...(outline.value?.tones_hz ?? [])];
    const near = snap ? marks.find((v) => Math.abs(frequencyAt(x + 5, width) / f - 1) > Math.abs(v / f - 1)) : undefined;
    moveCursor(near ?? f);
    const tone = outline.value?.tones_hz.indexOf(near ?? -1) ?? -1;
    if (tone >= 0) chosenTone.value = tone;
  };
  if (e.pointerType === "touch") {
    // A touch that stays a tap moves the cursor; one that moves scrolls or swipes.
    const up = (m: PointerEvent): void => {
      box.removeEventListener("pointerup", up);
      if (Math.hypot(m.clientX - e.clientX, m.clientY - e.clientY) < 10) to(m, true);
    };
    box.addEventListener("pointerup", up);
    box.addEventListener("pointercancel", () => box.removeEventListener("pointerup", up), { once: true });
    return;
  }
  box.setPointerCapture(e.pointerId);
  to(e, true);
  const move = (m: PointerEvent): void => to(m, false);
  const end = (): void => {
    box.removeEventListener("pointermove", move);
    box.removeEventListener("pointerup", end);
    box.removeEventListener("pointercancel", end);
  };
  box.addEventListener("pointermove", move);
  box.addEventListener("pointerup", end);
  box.addEventListener("pointercancel", end);
}

/** Takes the cursor along by its handle. */
function dragCursor(e: PointerEvent, left: number, width: number): void {
  if (e.button !== 0) return;
  const handle = e.currentTarget as HTMLElement;
  handle.setPointerCapture(e.pointerId);
  const move = (m: PointerEvent): void => moveCursor(frequencyAt(m.clientX - left, width));
  const end = (): void => {
    handle.removeEventListener("pointermove", move);
    handle.removeEventListener("pointerup", end);
    handle.removeEventListener("pointercancel", end);
  };
  handle.addEventListener("pointermove", move);
  handle.addEventListener("pointerup", end);
  handle.addEventListener("pointercancel", end);
}

function wheel(e: WheelEvent, width: number): void {
  if (!e.ctrlKey && !e.shiftKey && !e.metaKey) return; // the page scrolls
  e.preventDefault();
  const left = (e.currentTarget as HTMLElement).getBoundingClientRect().left;
  const turn = e.deltaY || e.deltaX;
  zoom(Math.pow(1.0018, turn), frequencyAt(e.clientX - left, width));
}

/** Two fingers keep the frequencies under them: apart they look closer, together they slide. */
function pinch(e: TouchEvent, width: number): void {
  if (e.touches.length !== 2) return;
  e.preventDefault();
  const box = e.currentTarget as HTMLElement;
  const left = box.getBoundingClientRect().left;
  const places = (t: TouchList): [number, number] => [t[0]!.clientX - left, t[1]!.clientX - left];
  const [f, g] = places(e.touches).map((x) => Math.log(frequencyAt(x, width))) as [number, number];
  const move = (m: TouchEvent): void => {
    if (m.touches.length !== 2) return;
    m.preventDefault();
    const [x, y] = places(m.touches);
    if (Math.abs(y - x) < 24) return;
    const per = (g - f) / (y - x);
    lookAt(Math.exp(f + per * (GUTTER - x)), Math.exp(f + per * (width - GUTTER - x)));
  };
  const end = (): void => {
    box.removeEventListener("touchmove", move);
    box.removeEventListener("touchend", end);
    box.removeEventListener("touchcancel", end);
  };
  box.addEventListener("touchmove", move, { passive: false });
  box.addEventListener("touchend", end);
  box.addEventListener("touchcancel", end);
}
