// Where everything of the cutaway stands, in px of a sheet whose width is given.
// Areas of chambers and lines are in proportion to volume; what is too small for
// that to be legible is marked as larger than it should be.
import type { Part } from "../api/types";
import { arrange, lineSide, type Block, type Link } from "./arrange";

export interface Rect {
  x: number;
  y: number;
  w: number;
  h: number;
}

export interface BlockShape extends Rect {
  block: Block;
  top: number; // height of the strip at the top that parts on the top wall reach into
  enlarged: boolean; // too small to be drawn in proportion
  axis: number; // y of a line's middle
  outline: [number, number][]; // of a line: x and half thickness
}

/** A place on a wall, and which way the part's to end or front looks. */
export interface Spot {
  link: Link;
  x: number;
  y: number;
  angle: number; // degrees; 0: to or front looks right
  reach: number; // half the length of a duct
  thick: number; // of a duct, diameter of a cone
  label: { x: number; y: number; anchor: "start" | "middle" | "end"; room: number };
}

/** A part between blocks that do not touch: from wall down, across, and up. */
export interface Route {
  link: Link | null; // null: the end of a line
  name: string;
  points: [number, number][];
  spot: Spot | null;
}

export interface Layout {
  width: number;
  height: number;
  floor: number;
  blocks: BlockShape[];
  spots: Spot[];
  routes: Route[];
  enlarged: boolean;
}

const LABEL = 50; // height of a chamber's three lines of words
let LEFT = 74;
let RIGHT = 62;
const TRACK = 44;

const rowHeight = (p: Part): number => (p.kind === "mount" ? 88 : p.kind === "passive" ? 76 : p.kind === "leak" ? 34 : 48);
const inner = (p: Part): number => (p.kind === "mount" ? 44 : p.kind === "passive" ? 16 : p.kind === "leak" ? 8 : 24);
const across = (p: Part): number => (p.kind === "mount" ? 82 : p.kind === "passive" ? 74 : 62);

interface Walls {
  left: Link[]; // to the outside
  right: Link[];
  top: Link[];
}

export function layout(parts: Part[], width: number, tallest = 290): Layout {
  const { blocks, links } = arrange(parts);
  LEFT = width < 420 ? 52 : 74;
  RIGHT = width < 420 ? 58 : 62;
  if (blocks.length === 0) return { width, height: 80, floor: 60, blocks: [], spots: [], routes: [], enlarged: false };
  const at = new Map(blocks.map((b, i) => [b.name, i]));
  const walls: Walls[] = blocks.map(() => ({ left: [], right: [], top: [] }));
  const shared: Link[][] = blocks.map(() => []); // on the wall to the right of each block
  const routed: Link[] = [];
  for (const l of links) sort(l, blocks, at, walls, shared, routed);

  const gaps = blocks.map((b, i) => gapAfter(b, blocks[i + 1], shared[i]!));
  const thickness = thicknessOf(parts);
  const sizes = sizeBlocks(blocks, walls, shared, routed, gaps, width - LEFT - RIGHT, tallest);
  const shapes: BlockShape[] = [];
  const above = Math.max(...walls.map((w) => (w.top.length > 0 ? 46 : 0)), 12);
  const tallestBlock = Math.max(...sizes.map((s) => s.h));
  const floor = above + tallestBlock;
  const total = sizes.reduce((sum, s) => sum + s.w, 0) + gaps.slice(0, -1).reduce((sum, g) => sum + g, 0);
  const sheetWidth = Math.max(width, total + LEFT + RIGHT);
  let x = LEFT + (sheetWidth - LEFT - RIGHT - total) / 2;
  blocks.forEach((block, i) => {
    const s = sizes[i]!;
    const shape: BlockShape = { block, x, y: floor - s.h, w: s.w, h: s.h, top: s.top, enlarged: s.enlarged, axis: 0, outline: [] };
    if (block.kind === "line") tube(shape, s.thick, floor);
    shapes.push(shape);
    x += s.w + gaps[i]!;
  });
  const spots: Spot[] = [];
  blocks.forEach((_, i) => place(i, shapes, walls[i]!, shared[i]!, thickness, spots));
  const routes = route(routed, blocks, shapes, at, floor, thickness);
  const deepest = routes.reduce((y, r) => Math.max(y, ...r.points.map((p) => p[1])), floor);
  return { width: sheetWidth, height: deepest + (routes.length ? 34 : 14), floor, blocks: shapes, spots, routes, enlarged: shapes.some((s) => s.enlarged) };
}

/** Puts a link on the wall it belongs to. */
function sort(l: Link, blocks: Block[], at: Map<string, number>, walls: Walls[], shared: Link[][], routed: Link[]): void {
  const a = l.from === null ? -1 : at.get(l.from)!;
  const b = l.to === null ? -1 : at.get(l.to)!;
  if (a >= 0 && b >= 0 && a !== b) {
    if (Math.abs(a - b) === 1) shared[Math.min(a, b)]!.push(l);
    else routed.push(l);
    return;
  }
  const i = Math.max(a, b);
  const last = blocks.length - 1;
  if (i === 0 && i === last) walls[i]![l.part.kind === "mount" ? "left" : "right"].push(l);
  else if (i === 0) walls[i]!.left.push(l);
  else if (i === last) walls[i]!.right.push(l);
  else walls[i]!.top.push(l);
}

/** Blocks that are joined touch; a line's open end and strangers keep a distance. */
function gapAfter(b: Block, next: Block | undefined, joined: Link[]): number {
  if (!next) return 0;
  const right = b.kind === "line" ? lineSide(b, "right") : undefined;
  const left = next.kind === "line" ? lineSide(next, "left") : undefined;
  if (b.kind === "line" && right === next.name) return 0;
  if (next.kind === "line" && left === b.name) return 0;
  if (right !== undefined || left !== undefined) return 44;
  return joined.length > 0 ? 0 : 26;
}

/** How thick cones and ducts are drawn: one scale of lengths for all of them. */
function thicknessOf(parts: Part[]): (p: Part) => number {
  const cones = parts.filter((p) => p.kind === "mount" || p.kind === "passive").map((p) => Math.sqrt(p.area_m2 ?? 0));
  const largest = Math.max(...cones, 1e-6);
  const ducts = parts.filter((p) => p.kind === "port").map((p) => Math.sqrt(p.area_m2 ?? 0));
  const scale = Math.min(62 / largest, ducts.length ? 26 / Math.max(...ducts, 1e-6) : Infinity);
  const cone = Math.max(scale, 46 / largest);
  return (p) => {
    const side = Math.sqrt(p.area_m2 ?? 0);
    if (p.kind === "mount" || p.kind === "passive") return Math.max(34, Math.min(62, side * cone));
    if (p.kind === "leak") return 3;
    return Math.max(7, Math.min(26, side * scale));
  };
}

interface Size {
  w: number;
  h: number;
  top: number;
  thick: number; // average of a line
  enlarged: boolean;
}

const volumeOf = (b: Block): number =>
  b.kind === "chamber"
    ? b.part.volume_m3 ?? 0
    : b.kind === "line"
      ? (b.part.pieces ?? []).reduce((sum, p) => sum + (p.length_m * (p.area_m2 + p.to_area_m2)) / 2, 0) * Math.max(1, b.part.count ?? 1)
      : 0;

/** Finds the scale of areas at which all blocks together are as wide as asked. */
function sizeBlocks(blocks: Block[], walls: Walls[], shared: Link[][], routed: Link[], gaps: number[], width: number, tallest: number): Size[] {
  const stack = (list: Link[]): number => list.reduce((sum, l) => sum + rowHeight(l.part), 0);
  const deep = (list: Link[]): number => Math.max(0, ...list.map((l) => inner(l.part)));
  const needs = blocks.map((b, i) => {
    const before = i > 0 ? shared[i - 1]! : [];
    const w = walls[i]!;
    const below = routed.filter((l) => l.from === b.name || l.to === b.name).length;
    const top = w.top.length ? deep(w.top) + 8 : 0;
    const rows = Math.max(stack(w.left), stack(w.right), stack(shared[i]!), stack(before));
    return {
      top,
      h: Math.max(84, rows + LABEL + top + 8),
      w: Math.max(
        b.kind === "junction" ? 78 : b.kind === "line" ? 120 : 82,
        Math.max(deep(w.left), deep(before)) + Math.max(deep(w.right), deep(shared[i]!)) + 16,
        w.top.reduce((sum, l) => sum + across(l.part), 0) + 8,
        below * 44 + 12,
      ),
      volume: volumeOf(b),
    };
  });
  const room = width - gaps.slice(0, -1).reduce((sum, g) => sum + g, 0);
  const sized = (k: number, aspect: number): Size[] =>
    blocks.map((b, i) => {
      const need = needs[i]!;
      const area = k * need.volume;
      if (b.kind === "junction") return { w: need.w, h: Math.max(need.h, 112), top: need.top, thick: 0, enlarged: false };
      if (b.kind === "line") {
        const w = Math.max(need.w, Math.min(Math.sqrt(area * 4.5), room * 0.62));
        const thick = area / w;
        return { w, h: 0, top: 0, thick: Math.max(16, Math.min(thick, tallest * 0.7)), enlarged: thick < 15 };
      }
      let h = Math.max(need.h, Math.min(tallest, Math.sqrt(area) * aspect));
      let w = area / h;
      if (w < need.w) {
        w = need.w;
        h = Math.max(need.h, area / w);
      }
      return { w, h, top: need.top, thick: 0, enlarged: w * h > area * 1.03 };
    });
  const fitted = (aspect: number): Size[] => {
    let low = 1;
    let high = 1e12;
    for (let n = 0; n < 60; n++) {
      const mid = Math.sqrt(low * high);
      if (sized(mid, aspect).reduce((sum, s) => sum + s.w, 0) > room) high = mid;
      else low = mid;
    }
    return sized(low, aspect);
  };
  // Taller shapes leave room for a larger scale, where the smallest need it.
  let found = fitted(blocks.length === 1 ? 0.62 : 0.9);
  for (const aspect of [1.2, 1.6, 2.2]) {
    if (!found.some((s) => s.enlarged)) break;
    const next = fitted(aspect);
    if (next.filter((s) => s.enlarged).length < found.filter((s) => s.enlarged).length) found = next;
  }
  return found;
}

/** Gives a line its outline: thickness follows its area from end to end. */
function tube(shape: BlockShape, thick: number, floor: number): void {
  const part = shape.block.part;
  const pieces = part.pieces ?? [];
  const length = pieces.reduce((sum, p) => sum + p.length_m, 0) || 1;
  const mean = pieces.reduce((sum, p) => sum + (p.length_m * (p.area_m2 + p.to_area_m2)) / 2, 0) / length || 1;
  const points: [number, number][] = [];
  let at = 0;
  for (const p of pieces) {
    const steps = p.to_area_m2 === p.area_m2 ? 1 : 8;
    for (let i = 0; i <= steps; i++) {
      const u = i / steps;
      const area = p.bent ? p.area_m2 * Math.pow(p.to_area_m2 / p.area_m2, u) : Math.pow(Math.sqrt(p.area_m2) + (Math.sqrt(p.to_area_m2) - Math.sqrt(p.area_m2)) * u, 2);
      points.push([(at + u * p.length_m) / length, Math.max(5, Math.min(115, ((area / mean) * thick) / 2))]);
    }
    at += p.length_m;
  }
  const widest = Math.max(...points.map((p) => p[1]), 10);
  shape.axis = floor - Math.max(widest + 6, 34);
  shape.outline = points.map(([u, half]) => [shape.x + (shape.block.turned ? 1 - u : u) * shape.w, half] as [number, number]).sort((a, b) => a[0] - b[0]);
  shape.h = floor - (shape.axis - widest);
  shape.y = shape.axis - widest;
}

/** Puts the parts on a block's own walls, and on the one it shares to the right. */
function place(i: number, shapes: BlockShape[], w: Walls, shared: Link[], thickness: (p: Part) => number, out: Spot[]): void {
  const s = shapes[i]!;
  const reachOf = (p: Part): number => (p.kind === "port" ? 11 + 13 * Math.min(1, (p.length_m ?? 0) / 0.2) : inner(p));
  const column = (list: Link[], x: number, low: number, high: number, leftBlock: string | null, side: "left" | "right" | "shared"): void => {
    const need = list.reduce((sum, l) => sum + rowHeight(l.part), 0);
    let y = low + Math.max(0, (high - low - need) / 2);
    for (const l of list) {
      const row = rowHeight(l.part);
      const middle = y + row / 2 + 7;
      const thick = thickness(l.part);
      // 0° where the to end or front is on the right of the wall.
      const right = side === "left" ? l.to === s.block.name : side === "right" ? l.from === s.block.name : l.from === leftBlock;
      const outward = side === "left" ? { x: x - 12, anchor: "end" as const, room: LEFT - 16 } : side === "right" ? { x: x + 10, anchor: "start" as const, room: RIGHT - 12 } : { x, anchor: "middle" as const, room: 74 };
      out.push({
        link: l, x, y: middle, angle: right ? 0 : 180, reach: reachOf(l.part), thick,
        label: { ...outward, y: middle - thick / 2 - 7 },
      });
      y += row;
    }
  };
  const floor = s.y + s.h;
  const top = s.y + s.top + LABEL;
  column(w.left, s.x, top, floor - 4, null, "left");
  column(w.right, s.x + s.w, top, floor - 4, s.block.name, "right");
  const next = shapes[i + 1];
  if (next && shared.length > 0) {
    column(shared, s.x + s.w, Math.max(top, next.y + next.top + LABEL), floor - 4, s.block.name, "shared");
  }
  const need = w.top.reduce((sum, l) => sum + across(l.part), 0);
  let x = s.x + (s.w - need) / 2;
  for (const l of w.top) {
    const wide = across(l.part);
    const out1 = l.from === s.block.name;
    const thick = thickness(l.part);
    out.push({
      link: l, x: x + wide / 2, y: s.y, angle: out1 ? -90 : 90, reach: reachOf(l.part), thick,
      label: { x: x + wide / 2, y: s.y - reachOf(l.part) - (l.part.kind === "port" ? 6 : -14), anchor: "middle", room: wide },
    });
    x += wide;
  }
}

/** Leads parts between distant blocks, and ends of lines, below the floor. */
function route(routed: Link[], blocks: Block[], shapes: BlockShape[], at: Map<string, number>, floor: number, thickness: (p: Part) => number): Route[] {
  interface Wire { link: Link | null; name: string; a: number; b: number; start: [number, number] | null }
  const wires: Wire[] = routed.map((link) => ({ link, name: link.part.name, a: at.get(link.from!)!, b: at.get(link.to!)!, start: null }));
  blocks.forEach((b, i) => {
    if (b.kind !== "line") return;
    for (const side of ["left", "right"] as const) {
      const wanted = lineSide(b, side);
      if (wanted === null || wanted === undefined || blocks[side === "left" ? i - 1 : i + 1]?.name === wanted) continue;
      const target = at.get(wanted);
      if (target === undefined) continue;
      const s = shapes[i]!;
      wires.push({ link: null, name: b.name, a: i, b: target, start: [side === "left" ? s.x - 18 : s.x + s.w + 18, s.axis] });
    }
  });
  if (wires.length === 0) return [];
  wires.sort((p, q) => Math.abs(p.a - p.b) - Math.abs(q.a - q.b));
  // Each block's bottom wall is shared out among the wires that come down from it.
  const ends = new Map<number, Wire[]>();
  for (const w of wires) {
    if (!w.start) ends.set(w.a, [...(ends.get(w.a) ?? []), w]);
    ends.set(w.b, [...(ends.get(w.b) ?? []), w]);
  }
  const foot = (w: Wire, i: number): number => {
    // Wires to the left stand left, the near ones outermost there; of those to
    // the right the far ones come first: so the long ones run around the short.
    const order = (v: Wire): number => {
      const other = v.a === i ? v.b : v.a;
      return other < i ? -1000 + (i - other) : 1000 - (other - i);
    };
    const list = [...ends.get(i)!].sort((p, q) => order(p) - order(q));
    const s = shapes[i]!;
    return s.x + (s.w * (list.indexOf(w) + 1)) / (list.length + 1);
  };
  const taken: [number, number][][] = [];
  return wires.map((w) => {
    const x1 = w.start ? w.start[0] : foot(w, w.a);
    const x2 = foot(w, w.b);
    const low = Math.min(x1, x2);
    const high = Math.max(x1, x2);
    let track = 0;
    while (taken[track]?.some(([p, q]) => p < high + 20 && q > low - 20)) track++;
    (taken[track] ??= []).push([low, high]);
    const y = floor + 34 + track * TRACK;
    const points: [number, number][] = w.start
      ? [[w.start[0] + (w.start[0] < shapes[w.a]!.x ? 18 : -18), w.start[1]], [x1, w.start[1]], [x1, y], [x2, y], [x2, floor]]
      : [[x1, floor], [x1, y], [x2, y], [x2, floor]];
    const middle = (x1 + x2) / 2;
    const spot: Spot | null = w.link
      ? {
          link: w.link, x: middle, y, angle: x2 > x1 ? 0 : 180, reach: Math.max(10, Math.abs(x2 - x1) / 2 - 14), thick: Math.min(26, thickness(w.link.part)),
          label: { x: middle, y: y - Math.min(26, thickness(w.link.part)) / 2 - 6, anchor: "middle", room: Math.abs(x2 - x1) },
        }
      : null;
    return { link: w.link, name: w.name, points, spot };
  });
}
