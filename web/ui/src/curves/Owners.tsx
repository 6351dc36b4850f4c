// Every peak and dip wears its owner's name, with the reading on approach.
import type { Signal } from "@preact/signals";
import { useState } from "preact/hooks";
import type uPlot from "uplot";
import type { Feature } from "../api/types";
import { hertz } from "../format";
import { moveCursor } from "../state/loop";
import { placeLabels, type Placed } from "./labels";
import { GUTTER } from "./Chart";

const ruler = document.createElement("canvas").getContext("2d")!;

interface Props {
  plotted: Signal<{ u: uPlot } | null>;
  features: Feature[];
  width: number;
}

export function Owners({ plotted, features, width }: Props) {
  const [near, setNear] = useState<string | null>(null);
  const plot = plotted.value?.u;
  if (!plot) return null;
  const ratio = devicePixelRatio;
  const inside = plot.bbox.width / ratio;
  const tall = plot.bbox.height / ratio;
  const top = plot.bbox.top / ratio;
  const from = plot.scales["x"]!.min!;
  const to = plot.scales["x"]!.max!;
  const shown = features.filter((f) => f.frequency_hz >= from && f.frequency_hz <= to);
  ruler.font = "12px system-ui, sans-serif";
  const points = shown.map((f) => ({ x: plot.valToPos(f.frequency_hz, "x"), y: plot.valToPos(f.impedance_ohm, "y") }));
  const wishes = shown.map((f, i) => ({ ...points[i]!, w: ruler.measureText(f.owner).width + 8, h: 16, up: f.kind === "peak" }));
  const xs = plot.data[0] as number[];
  const ys = plot.data[1] as number[];
  const profile = (x0: number, x1: number): [number, number] => {
    let low = Infinity;
    let high = -Infinity;
    const a = plot.valToIdx(plot.posToVal(Math.max(0, x0), "x"));
    const b = plot.valToIdx(plot.posToVal(Math.min(inside, x1), "x"));
    for (let i = a; i <= b && i < xs.length; i++) {
      const y = plot.valToPos(ys[i]!, "y");
      if (y < low) low = y;
      if (y > high) high = y;
    }
    return [low - 2, high + 2];
  };
  const rings = points.map((p) => ({ x: p.x - 7, y: p.y - 7, w: 14, h: 14 }));
  const placed = placeLabels(wishes, inside, tall, profile, rings, width < 480 ? 47 : 100);
  // What finds no room is numbered, and named beneath.
  const lost = shown.map((f, i) => ({ f, at: points[i]! })).filter((_, i) => !placed[i]);
  return (
    <>
      <div class="owners" style={{ left: `${GUTTER}px`, top: `${top}px`, width: `${inside}px`, height: `${tall}px` }}>
        <svg aria-hidden="true" width={inside} height={tall}>
          {placed.map((p, i) => p?.leader && <path key={i} d={leader(p, wishes[i]!, points[i]!)} />)}
        </svg>
        {shown.map((f, i) => {
          const p = placed[i];
          return (
            p && (
              <button
                key={f.kind + i}
                type="button"
                class="owner"
                data-kind={f.kind}
                style={{ transform: `translate(${p.x}px, ${p.y}px)`, width: `${wishes[i]!.w}px` }}
                aria-label={`${f.kind} at ${hertz(f.frequency_hz)}: ${f.owner}`}
                onClick={() => moveCursor(f.frequency_hz)}
                onPointerEnter={() => setNear(f.reading)}
                onPointerLeave={() => setNear(null)}
                onFocus={() => setNear(f.reading)}
                onBlur={() => setNear(null)}
              >
                {f.owner}
              </button>
            )
          );
        })}
        {shown.map((f, i) => (
          <span
            key={f.kind + i}
            class="ring"
            style={{ transform: `translate(${points[i]!.x - 11}px, ${points[i]!.y - 11}px)` }}
            onPointerEnter={() => setNear(f.reading)}
            onPointerLeave={() => setNear(null)}
            onPointerDown={(e) => {
              e.stopPropagation();
              moveCursor(f.frequency_hz);
            }}
          />
        ))}
        {lost.map(({ f, at }, i) => (
          <b key={i} class="number" style={{ transform: `translate(${at.x - 8}px, ${f.kind === "peak" ? at.y - 20 : at.y + 5}px)` }}>
            {i + 1}
          </b>
        ))}
        {near && <p class="near" style={{ maxWidth: `${Math.min(width - 24, 420)}px` }}>{near}</p>}
      </div>
      {lost.length > 0 && (
        <ol class="lost">
          {lost.map(({ f }) => (
            <li key={f.frequency_hz}>
              <button type="button" class="owner-line" onClick={() => moveCursor(f.frequency_hz)}>
                {hertz(f.frequency_hz)} {f.owner}
              </button>
            </li>
          ))}
        </ol>
      )}
    </>
  );
}

function leader(p: Placed, wish: { w: number; h: number }, point: { x: number; y: number }): string {
  const x = Math.min(Math.max(point.x, p.x), p.x + wish.w);
  const y = p.y + wish.h / 2 < point.y ? p.y + wish.h : p.y;
  return `M${x},${y} L${point.x},${point.y}`;
}
