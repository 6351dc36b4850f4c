// One small graph of the ladder: uPlot draws the axes and curves, the rest is
// painted as on the large panels.
import uPlot from "uplot";
import { useEffect, useRef } from "preact/hooks";
import { dark, ink } from "../colour";
import { bounds, boundWords, FONT, say, stroke, within } from "../curves/paint";
import type { Limit } from "../curves/panels";
import { linearTicks, logTicks, tickText } from "../curves/ticks";

export interface Serie {
  label: string; // written at the curve; "" for none
  y: (number | null)[];
  colour: string;
  kind: "line" | "dashed" | "fine" | "bars" | "dots" | "rings" | "ticks";
}

export interface Sheet {
  name: string; // for the stylesheet and the tests
  title: string;
  unit: string;
  foot: string; // what the x axis is, with its unit
  x: number[];
  log: boolean; // the x axis
  span: [number, number]; // of the y axis
  series: Serie[];
  limits: Limit[];
  mark: number | null; // x of what is chosen
  end: { x: number; text: string } | null; // from which x on something has given way
}

const GUTTER = 42;
const HEIGHT = 168;

export function Graph({ sheet, width, take }: { sheet: Sheet; width: number; take?: (x: number) => void }) {
  const host = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | null>(null);
  const now = useRef(sheet);
  now.current = sheet;
  const shape = sheet.series.map((s) => s.kind + s.colour).join() + sheet.log + dark.value;

  useEffect(() => {
    const u = new uPlot(options(now, width), data(sheet), host.current!);
    plot.current = u;
    return () => u.destroy();
  }, [shape]);
  useEffect(() => {
    plot.current?.setSize({ width, height: HEIGHT });
  }, [width, shape]);
  useEffect(() => {
    plot.current?.setData(data(sheet));
  }, [sheet, shape]);

  const seek = (e: PointerEvent): void => {
    const u = plot.current;
    if (!u || !take) return;
    take(u.posToVal(e.clientX - u.over.getBoundingClientRect().left, "x"));
  };
  return (
    <figure class="graph" data-graph={sheet.name}>
      <figcaption>
        <b>{sheet.title}</b> <span class="unit">{sheet.unit}</span>
      </figcaption>
      <div
        ref={host}
        style={{ height: `${HEIGHT}px` }}
        class={take ? "takes" : ""}
        onPointerDown={(e) => {
          if (!take) return;
          (e.currentTarget as HTMLElement).setPointerCapture(e.pointerId);
          seek(e);
        }}
        onPointerMove={(e) => {
          if (e.buttons === 1) seek(e);
        }}
      />
      <p class="unit foot-note">{sheet.foot}</p>
    </figure>
  );
}

function data(s: Sheet): uPlot.AlignedData {
  return [s.x, ...s.series.map((one) => one.y)] as uPlot.AlignedData;
}

function options(now: { current: Sheet }, width: number): uPlot.Options {
  const s = now.current;
  const i = ink.value;
  const axis = { stroke: i.soft, font: `11px ${FONT}`, ticks: { show: false }, grid: { stroke: i.grid, width: 1 }, filter: (_: uPlot, ticks: number[]) => ticks };
  const ends = (): [number, number] => {
    const x = now.current.x;
    const from = x[0] ?? 1;
    const to = x.at(-1) ?? 2;
    return now.current.series.some((one) => one.kind === "bars") ? [from - 0.6, to + 0.6] : to > from ? [from, to] : [from * 0.9, from * 1.1];
  };
  return {
    width,
    height: HEIGHT,
    legend: { show: false },
    cursor: { show: false },
    padding: [8, 12, 0, 0],
    scales: {
      x: { time: false, distr: s.log ? 3 : 1, log: 10, range: ends },
      y: { range: () => now.current.span },
    },
    axes: [
      { ...axis, size: 22, gap: 4, splits: () => xTicks(now.current, ends()), values: (_, ticks) => ticks.map(tickText) },
      { ...axis, size: GUTTER, gap: 6, splits: (_u, _a, low, high) => linearTicks(low, high, 5), values: (_, ticks) => ticks.map(tickText) },
    ],
    series: [{}, ...s.series.map((one) => drawn(one, i.paper))],
    hooks: {
      drawAxes: [(u) => below(u, now.current)],
      draw: [(u) => above(u, now.current)],
    },
  };
}

function xTicks(s: Sheet, [from, to]: [number, number]): number[] {
  if (s.series.some((one) => one.kind === "bars")) return s.x;
  return s.log ? logTicks(from, to, 7) : linearTicks(from, to, 5);
}

function drawn(s: Serie, paper: string): uPlot.Series {
  const line = { stroke: s.colour, points: { show: false } };
  switch (s.kind) {
    case "line":
      return { ...line, width: 2 };
    case "dashed":
      return { ...line, width: 1.6, dash: [7, 4] };
    case "fine":
      return { ...line, width: 1, dash: [2, 3] };
    case "bars":
      return { ...line, width: 0, fill: s.colour, fillTo: (u) => u.scales["y"]!.min!, paths: uPlot.paths.bars!({ size: [0.5, 22] }) };
    case "dots":
      return { stroke: s.colour, paths: () => null, points: { show: true, size: 6, width: 0, fill: s.colour } };
    case "rings":
      return { stroke: s.colour, paths: () => null, points: { show: true, size: 7, width: 1.6, fill: paper } };
    case "ticks":
      return { stroke: s.colour, paths: () => null, points: { show: false } };
  }
}

function below(u: uPlot, s: Sheet): void {
  within(u, (c, ratio) => {
    const { top, height } = u.bbox;
    bounds(u, s.limits);
    if (!s.end) return;
    const x = u.valToPos(s.end.x, "x", true);
    c.strokeStyle = ink.value.accent;
    c.lineWidth = ratio;
    c.setLineDash([5 * ratio, 4 * ratio]);
    stroke(c, [[x, top], [x, top + height]]);
  });
}

function above(u: uPlot, s: Sheet): void {
  within(u, (c, ratio) => {
    const { left, top, height } = u.bbox;
    for (const one of s.series) {
      if (one.kind !== "ticks") continue;
      c.strokeStyle = one.colour;
      c.lineWidth = 1.4 * ratio;
      one.y.forEach((v, i) => {
        if (v === null) return;
        const x = u.valToPos(s.x[i]!, "x", true);
        const y = u.valToPos(v, "y", true);
        stroke(c, [[x - 9 * ratio, y], [x + 9 * ratio, y]]);
      });
    }
    if (s.mark !== null) {
      const x = u.valToPos(s.mark, "x", true);
      c.strokeStyle = ink.value.accent;
      c.lineWidth = 1.5 * ratio;
      stroke(c, [[x, top], [x, top + height]]);
    }
    boundWords(u, s.limits);
    if (s.end?.text) {
      const x = u.valToPos(s.end.x, "x", true);
      c.font = `${11 * ratio}px ${FONT}`;
      c.textBaseline = "bottom";
      c.textAlign = "right";
      say(c, s.end.text, Math.max(x - 4 * ratio, left + c.measureText(s.end.text).width + 4 * ratio), top + height - 4 * ratio, ink.value.accent, ratio);
    }
    labels(u, s, c, ratio);
  });
}

/** Writes each curve's name where it is free: early on a ladder, where nothing has given way yet, and else at the end. */
function labels(u: uPlot, s: Sheet, c: CanvasRenderingContext2D, ratio: number): void {
  c.font = `600 ${11 * ratio}px ${FONT}`;
  c.textAlign = "right";
  c.textBaseline = "bottom";
  const { left, top, width, height } = u.bbox;
  const taken: { x: number; y: number; w: number }[] = [];
  for (const one of s.series) {
    if (!one.label) continue;
    const w = c.measureText(one.label).width;
    const wish = s.log ? Math.round(0.4 * one.y.length) : one.y.length - 1;
    const order = one.y.map((_, i) => i).sort((a, b) => Math.abs(a - wish) - Math.abs(b - wish));
    for (const i of order) {
      const v = one.y[i];
      if (v === null || v === undefined) continue;
      const x = Math.min(Math.max(u.valToPos(s.x[i]!, "x", true), left + w + 4 * ratio), left + width - 3 * ratio);
      const y = Math.max(u.valToPos(v, "y", true) - 5 * ratio, top + 14 * ratio);
      if (y > top + height || taken.some((t) => Math.abs(t.x - x) < Math.max(t.w, w) + 4 * ratio && Math.abs(t.y - y) < 14 * ratio)) continue;
      taken.push({ x, y, w });
      say(c, one.label, x, y, one.colour, ratio);
      break;
    }
  }
}
