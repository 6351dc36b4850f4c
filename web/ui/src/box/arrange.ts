// In which order the blocks of a box stand side by side, so that parts that are
// joined touch. Chambers and junctions are blocks, and so are lines, whose two
// ends point left and right.
import type { Part } from "../api/types";

export interface Block {
  name: string;
  kind: "chamber" | "junction" | "line";
  part: Part;
  turned: boolean; // a line whose from end points right
}

/** A part between two places. A null place is the outside. */
export interface Link {
  part: Part;
  from: string | null;
  to: string | null;
}

export interface Arrangement {
  blocks: Block[]; // from left to right
  links: Link[]; // all but lines
}

/** The name of the block at a place, or null for the outside. */
export function blockAt(place: string | undefined): string | null {
  if (!place || place === "outside" || place === "closed") return null;
  const dot = place.indexOf(".");
  return dot < 0 ? place : place.slice(dot + 1);
}

export function arrange(parts: Part[]): Arrangement {
  const blocks: Block[] = [];
  const links: Link[] = [];
  for (const part of parts) {
    if (part.kind === "chamber" || part.kind === "junction" || part.kind === "line") {
      blocks.push({ name: part.name, kind: part.kind, part, turned: false });
    }
  }
  const known = new Set(blocks.map((b) => b.name));
  for (const part of parts) {
    if (part.kind === "chamber" || part.kind === "junction" || part.kind === "line") continue;
    let from = blockAt(part.from);
    let to = blockAt(part.to);
    if (from !== null && !known.has(from)) from = null;
    if (to !== null && !known.has(to)) to = null;
    // A design joins no part to the outside at both ends.
    if (from !== null || to !== null) links.push({ part, from, to });
  }
  return { blocks: best(blocks, links), links };
}

/** Which block a side of a line should touch; null: the outside; undefined: nothing. */
export function lineSide(b: Block, side: "left" | "right"): string | null | undefined {
  const place = (side === "left") !== b.turned ? b.part.from : b.part.to;
  return place === "closed" ? undefined : blockAt(place);
}

function cost(order: Block[], links: Link[]): number {
  const at = new Map(order.map((b, i) => [b.name, i]));
  let sum = 0;
  const end = order.length - 1;
  for (const l of links) {
    const a = l.from === null ? -1 : at.get(l.from)!;
    const b = l.to === null ? -1 : at.get(l.to)!;
    if (a >= 0 && b >= 0) sum += a === b ? 0 : 12 * (Math.abs(a - b) - 1);
    else {
      // Cones read best on the left, ports on the right.
      const i = Math.max(a, b);
      const moving = l.part.kind === "mount";
      sum += moving ? (i === 0 ? 0 : i === end ? 0.5 : 1) : i === end ? 0 : i === 0 ? 0.6 : 1;
    }
  }
  for (let i = 0; i < order.length; i++) {
    const block = order[i]!;
    if (block.kind !== "line") continue;
    for (const side of ["left", "right"] as const) {
      const wanted = lineSide(block, side);
      const beside = order[side === "left" ? i - 1 : i + 1];
      if (wanted === undefined) sum += beside ? 0.5 : 0;
      else if (wanted === null) sum += beside ? 4 : side === "left" ? 0.3 : 0;
      else if (beside?.name !== wanted) sum += 9 + 3 * Math.abs(at.get(wanted)! - i);
    }
  }
  return sum;
}

function best(blocks: Block[], links: Link[]): Block[] {
  if (blocks.length <= 1) return blocks;
  return blocks.length <= 6 ? everyOrder(blocks, links) : climb(walk(blocks, links), links);
}

function everyOrder(blocks: Block[], links: Link[]): Block[] {
  let found = blocks;
  let least = Infinity;
  const order: Block[] = [];
  const left = new Set(blocks);
  const place = (): void => {
    if (left.size === 0) {
      const c = cost(order, links);
      if (c < least - 1e-9) {
        least = c;
        found = [...order];
      }
      return;
    }
    for (const b of [...left]) {
      left.delete(b);
      for (const one of b.kind === "line" ? [b, { ...b, turned: true }] : [b]) {
        order.push(one);
        place();
        order.pop();
      }
      left.add(b);
    }
  };
  place();
  return found;
}

/** Begins at a block with few neighbours and goes on to the nearest. */
function walk(blocks: Block[], links: Link[]): Block[] {
  const beside = new Map<string, string[]>(blocks.map((b) => [b.name, []]));
  const join = (a: string | null, b: string | null): void => {
    if (a === null || b === null || a === b || !beside.has(a) || !beside.has(b)) return;
    beside.get(a)!.push(b);
    beside.get(b)!.push(a);
  };
  for (const l of links) join(l.from, l.to);
  for (const b of blocks) {
    if (b.kind !== "line") continue;
    join(b.name, blockAt(b.part.from));
    join(b.name, blockAt(b.part.to));
  }
  const order: Block[] = [];
  const left = new Map(blocks.map((b) => [b.name, b]));
  while (left.size > 0) {
    const next = [...left.values()].sort((a, b) => beside.get(a.name)!.length - beside.get(b.name)!.length)[0]!;
    const stack = [next.name];
    while (stack.length > 0) {
      const name = stack.pop()!;
      const block = left.get(name);
      if (!block) continue;
      left.delete(name);
      order.push(block);
      stack.push(...beside.get(name)!);
    }
  }
  return order;
}

/** Moves single blocks as long as that helps. */
function climb(order: Block[], links: Link[]): Block[] {
  let now = cost(order, links);
  for (let round = 0; round < 60; round++) {
    let better: Block[] | null = null;
    for (let i = 0; i < order.length; i++) {
      for (let j = 0; j < order.length; j++) {
        const next = [...order];
        const [b] = next.splice(i, 1);
        for (const one of b!.kind === "line" ? [b!, { ...b!, turned: !b!.turned }] : [b!]) {
          const tried = [...next.slice(0, j), one, ...next.slice(j)];
          const c = cost(tried, links);
          if (c < now - 1e-9) {
            now = c;
            better = tried;
          }
        }
      }
    }
    if (!better) return order;
    order = better;
  }
  return order;
}
