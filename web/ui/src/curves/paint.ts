// What a panel's canvas shows besides its curves: limits, tones, rings at
// features, pinned and measured curves, and the names of curves.
import type uPlot from "uplot";
import { colourOf, ink } from "../colour";
import type { Limit, Line, Panel } from "./panels";

export interface Extras {
  panel: Panel;
  tones: number[];
  pins: { panel: Panel; frequency: number[] }[];
  fitted: { x: number[]; y: number[] } | null; // the model as matched to a sweep
  dots: { x: number[]; y: number[] } | null;
  rings: { x: number; y: number }[];
}

export const FONT = "system-ui, sans-serif";

/** Paints inside the axes, whatever uPlot left set. */
export function within(u: uPlot, paint: (c: CanvasRenderingContext2D, ratio: number) => void): void {
  const c = u.ctx;
  const { left, top, width, height } = u.bbox;
  c.save();
  c.beginPath();
  c.rect(left, top, width, height);
  c.clip();
  c.setLineDash([]);
  paint(c, devicePixelRatio);
  c.restore();
}

export function under(u: uPlot, e: Extras): void {
  within(u, (c, ratio) => paintUnder(u, e, c, ratio));
}

export function over(u: uPlot, e: Extras): void {
  within(u, (c, ratio) => paintOver(u, e, c, ratio));
}

function paintUnder(u: uPlot, e: Extras, c: CanvasRenderingContext2D, ratio: number): void {
  const { left, top, width, height } = u.bbox;
  bounds(u, e.panel.limits);
  c.strokeStyle = ink.value.soft;
  c.lineWidth = ratio;
  c.setLineDash([1.5 * ratio, 4 * ratio]);
  for (const f of e.tones) {
    const x = Math.round(u.valToPos(f, "x", true));
    if (x >= left && x <= left + width) stroke(c, [[x, top], [x, top + height]]);
  }
  c.setLineDash([]);
  for (const pin of e.pins) {
    pin.panel.lines.forEach((line, i) => {
      if (line.right) return;
      const mine = e.panel.lines[i];
      c.strokeStyle = line.name && mine ? colourOf(line.name) : ink.value.soft;
      c.globalAlpha = 0.6;
      c.lineWidth = 1.2 * ratio;
      c.setLineDash([6 * ratio, 3 * ratio]);
      stroke(c, pin.frequency.map((f, k) => [u.valToPos(f, "x", true), u.valToPos(line.y[k] ?? NaN, "y", true)]));
      c.globalAlpha = 1;
    });
  }
}

/** Hatches what lies beyond limits. */
export function bounds(u: uPlot, limits: Limit[]): void {
  const c = u.ctx;
  const ratio = devicePixelRatio;
  const { left, top, width } = u.bbox;
  for (const limit of limits) {
    const y = u.valToPos(limit.y, "y", true);
    if (y < top - 1) continue;
    c.fillStyle = hatch(c, ink.value.accent);
    c.fillRect(left, top, width, Math.max(0, y - top));
    c.strokeStyle = ink.value.accent;
    c.lineWidth = ratio;
    c.setLineDash([5 * ratio, 4 * ratio]);
    stroke(c, [[left, y], [left + width, y]]);
  }
  c.setLineDash([]);
}

/** Writes the words of limits at their lines. */
export function boundWords(u: uPlot, limits: Limit[]): void {
  const c = u.ctx;
  const ratio = devicePixelRatio;
  const { left, top, width } = u.bbox;
  c.font = `${11 * ratio}px ${FONT}`;
  c.textAlign = "right";
  c.textBaseline = "bottom";
  for (const limit of limits) {
    const y = u.valToPos(limit.y, "y", true);
    if (y < top) continue;
    const above = y > top + 15 * ratio;
    say(c, limit.text, left + width - 4 * ratio, above ? y - 2 * ratio : y + 14 * ratio, ink.value.accent, ratio);
  }
}

function paintOver(u: uPlot, e: Extras, c: CanvasRenderingContext2D, ratio: number): void {
  const { left, width } = u.bbox;
  if (e.fitted) {
    c.strokeStyle = ink.value.accent;
    c.lineWidth = 1.6 * ratio;
    c.setLineDash([10 * ratio, 5 * ratio]);
    const { x, y } = e.fitted;
    stroke(c, x.map((f, i) => [u.valToPos(f, "x", true), u.valToPos(y[i] ?? NaN, "y", true)]));
    c.setLineDash([]);
  }
  if (e.dots) {
    c.fillStyle = ink.value.accent;
    for (let i = 0; i < e.dots.x.length; i++) {
      const x = u.valToPos(e.dots.x[i]!, "x", true);
      const y = u.valToPos(e.dots.y[i]!, "y", true);
      if (x < left || x > left + width) continue;
      c.fillRect(x - 1.1 * ratio, y - 1.1 * ratio, 2.2 * ratio, 2.2 * ratio);
    }
  }
  for (const ring of e.rings) {
    const x = u.valToPos(ring.x, "x", true);
    const y = u.valToPos(ring.y, "y", true);
    if (x < left || x > left + width) continue;
    c.beginPath();
    c.arc(x, y, 4 * ratio, 0, 2 * Math.PI);
    c.fillStyle = ink.value.paper;
    c.strokeStyle = ink.value.ink;
    c.lineWidth = 1.6 * ratio;
    c.fill();
    c.stroke();
  }
  names(u, e.panel, c, ratio);
  boundWords(u, e.panel.limits);
}

/** Writes each curve's name at its highest point, or where it is free. */
function names(u: uPlot, p: Panel, c: CanvasRenderingContext2D, ratio: number): void {
  const named = p.lines.filter((l) => l.name);
  if (named.length === 0) return;
  c.font = `600 ${12 * ratio}px ${FONT}`;
  c.textBaseline = "bottom";
  c.textAlign = "center";
  const taken: { x: number; y: number; w: number }[] = [];
  for (const line of named) {
    const spot = nameSpot(u, line, taken, c.measureText(line.name).width, ratio);
    if (!spot) continue;
    taken.push(spot);
    say(c, line.name, spot.x, spot.y, colourOf(line.name), ratio);
  }
}

function nameSpot(u: uPlot, line: Line, taken: { x: number; y: number; w: number }[], w: number, ratio: number): { x: number; y: number; w: number } | null {
  const xs = u.data[0];
  const { left, top, width } = u.bbox;
  let best: { x: number; y: number; w: number } | null = null;
  let most = -Infinity;
  for (let i = 0; i < xs.length; i += 6) {
    const v = line.y[i];
    if (v === null || v === undefined || !Number.isFinite(v)) continue;
    const x = Math.min(Math.max(u.valToPos(xs[i]!, "x", true), left + w / 2 + 3), left + width - w / 2 - 3);
    const y = Math.max(u.valToPos(v, "y", true) - 3 * ratio, top + 15 * ratio);
    if (taken.some((t) => Math.abs(t.x - x) < (t.w + w) / 2 + 6 * ratio && Math.abs(t.y - y) < 15 * ratio)) continue;
    if (v > most) {
      most = v;
      best = { x, y, w };
    }
  }
  return best;
}

export function say(c: CanvasRenderingContext2D, text: string, x: number, y: number, colour: string, ratio: number): void {
  c.lineJoin = "round";
  c.lineWidth = 4 * ratio;
  c.strokeStyle = ink.value.paper;
  c.strokeText(text, x, y);
  c.fillStyle = colour;
  c.fillText(text, x, y);
}

export function stroke(c: CanvasRenderingContext2D, points: [number, number][]): void {
  c.beginPath();
  let pen = false;
  for (const [x, y] of points) {
    if (!Number.isFinite(x) || !Number.isFinite(y)) {
      pen = false;
      continue;
    }
    if (pen) c.lineTo(x, y);
    else c.moveTo(x, y);
    pen = true;
  }
  c.stroke();
}

let pattern: { colour: string; made: CanvasPattern | string } | null = null;

/** Slanted hairlines: a limit is told by more than colour. */
function hatch(c: CanvasRenderingContext2D, colour: string): CanvasPattern | string {
  if (pattern?.colour === colour) return pattern.made;
  const tile = document.createElement("canvas");
  tile.width = tile.height = 8;
  const t = tile.getContext("2d")!;
  t.strokeStyle = colour;
  t.globalAlpha = 0.28;
  t.lineWidth = 1;
  t.beginPath();
  t.moveTo(-2, 10);
  t.lineTo(10, -2);
  t.moveTo(-2, 2);
  t.lineTo(2, -2);
  t.moveTo(6, 10);
  t.lineTo(10, 6);
  t.stroke();
  pattern = { colour, made: c.createPattern(tile, "repeat") ?? colour };
  return pattern.made;
}
