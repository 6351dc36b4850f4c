// One panel: uPlot draws the curves, paint.ts the rest, and names of features
// stand above it as buttons.
import type { Signal } from "@preact/signals";
import uPlot from "uplot";
import { useEffect, useRef } from "preact/hooks";
import { dark, ink, colourOf } from "../colour";
import { cursor } from "../state/store";
import { moveCursor } from "../state/loop";
import { over, under, type Extras } from "./paint";
import { reach, type Panel } from "./panels";
import { linearTicks, logTicks, tickText } from "./ticks";

export const GUTTER = 44; // px left and right of every panel, for its axes

interface Props {
  panel: Panel;
  frequency: number[];
  extras: Extras;
  width: number;
  height: number;
  foot: boolean; // shows the frequencies
  follows: unknown[]; // what it is drawn anew for
  plotted?: Signal<{ u: uPlot } | null>; // set anew whenever it was drawn
}

export function Chart(props: Props) {
  const host = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | null>(null);
  const now = useRef(props);
  now.current = props;
  const shape = props.panel.name + props.panel.lines.map((l) => `${l.name}/${l.right ?? ""}`).join() + props.foot + dark.value + props.panel.lines.map((l) => colourOf(l.name)).join();

  useEffect(() => {
    const u = new uPlot(options(now), data(props), host.current!);
    plot.current = u;
    return () => u.destroy();
  }, [shape]);

  useEffect(() => {
    plot.current?.setSize({ width: props.width, height: props.height });
  }, [props.width, props.height, shape]);

  useEffect(() => {
    const u = plot.current;
    if (!u) return;
    u.setData(data(props));
    // uPlot draws in a microtask of its own; the names come after.
    queueMicrotask(() => {
      if (props.plotted && plot.current === u) props.plotted.value = { u };
    });
  }, [props.panel, props.frequency, props.width, props.height, shape, ...props.follows]);

  return (
    <div class="chart" style={{ height: `${props.height}px` }}>
      <div ref={host} />
      <CursorLine width={props.width} frequency={props.frequency} />
    </div>
  );
}

function data(p: Props): uPlot.AlignedData {
  return [p.frequency, ...p.panel.lines.map((l) => l.y)] as uPlot.AlignedData;
}

function options(now: { current: Props }): uPlot.Options {
  const p = now.current;
  const i = ink.value;
  const span = (): [number, number] => [now.current.frequency[0] ?? 10, now.current.frequency.at(-1) ?? 1000];
  const right = p.panel.lines.some((l) => l.right);
  const text = { stroke: i.soft, font: "11px system-ui, sans-serif", ticks: { show: false }, filter: (_: uPlot, ticks: number[]) => ticks };
  return {
    width: p.width,
    height: p.height,
    legend: { show: false },
    cursor: { show: false },
    padding: [7, right ? 0 : GUTTER, 0, 0],
    scales: {
      x: { time: false, distr: 3, log: 10, range: span },
      y: { distr: p.panel.log ? 3 : 1, log: 10, range: () => reach(now.current.panel) },
      r: { range: [-120, 120] },
    },
    axes: [
      {
        ...text,
        size: p.foot ? 24 : 1,
        gap: 4,
        grid: { stroke: i.grid, width: 1 },
        splits: () => logTicks(...span(), p.width < 480 ? 6 : 12),
        values: (_, ticks) => (p.foot ? ticks.map(tickText) : ticks.map(() => "")),
      },
      {
        ...text,
        size: GUTTER,
        gap: 6,
        grid: { stroke: i.grid, width: 1 },
        splits: (_u, _a, low, high) => (p.panel.log ? logTicks(low, high, p.height < 150 ? 4 : 7) : linearTicks(low, high, Math.max(2, Math.floor(p.height / 27)))),
        values: (_, ticks) => ticks.map(tickText),
      },
      ...(right
        ? [{ ...text, scale: "r", side: 1 as const, size: GUTTER, gap: 6, grid: { show: false }, splits: () => [-90, -45, 0, 45, 90], values: (_: uPlot, t: number[]) => t.map((v) => `${tickText(v)}°`) }]
        : []),
    ],
    series: [
      {},
      ...p.panel.lines.map((l) => ({
        scale: l.right ? "r" : "y",
        stroke: l.right ? i.soft : l.name ? colourOf(l.name) : i.ink,
        width: l.right ? 1 : 2,
        ...(l.right ? { dash: [2, 3] } : {}),
        points: { show: false },
      })),
    ],
    hooks: {
      drawAxes: [(u) => under(u, now.current.extras)],
      draw: [(u) => over(u, now.current.extras)],
    },
  };
}

/** The one cursor, as it crosses this panel. */
function CursorLine({ width, frequency }: { width: number; frequency: number[] }) {
  const from = frequency[0] ?? 10;
  const to = frequency.at(-1) ?? 1000;
  const share = Math.log(cursor.value / from) / Math.log(to / from);
  if (!(share >= 0 && share <= 1)) return null;
  const x = GUTTER + share * (width - 2 * GUTTER);
  return (
    <i
      class="cursor-line"
      aria-hidden="true"
      style={{ transform: `translateX(${x}px)` }}
      onPointerDown={(e) => {
        // On a touch screen the line itself is the handle; the rest swipes.
        const box = (e.currentTarget as HTMLElement).parentElement!.getBoundingClientRect();
        const line = e.currentTarget as HTMLElement;
        line.setPointerCapture(e.pointerId);
        e.stopPropagation();
        const move = (m: PointerEvent): void => moveCursor(from * Math.pow(to / from, Math.min(1, Math.max(0, (m.clientX - box.left - GUTTER) / (width - 2 * GUTTER)))));
        const end = (): void => {
          line.removeEventListener("pointermove", move);
          line.removeEventListener("pointerup", end);
          line.removeEventListener("pointercancel", end);
        };
        line.addEventListener("pointermove", move);
        line.addEventListener("pointerup", end);
        line.addEventListener("pointercancel", end);
      }}
    />
  );
}
