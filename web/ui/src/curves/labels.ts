// Finds room for names on a panel: never on one another, as near to their point
// as the curve allows.

export interface Wish {
  x: number; // of the point, px
  y: number;
  w: number;
  h: number;
  up: boolean; // a peak's name stands above it, a dip's below
}

export interface Placed {
  x: number; // left
  y: number; // top
  leader: boolean; // far enough to need a line to its point
}

interface Box {
  x: number;
  y: number;
  w: number;
  h: number;
}

const apart = (a: Box, b: Box): boolean => a.x + a.w <= b.x || b.x + b.w <= a.x || a.y + a.h <= b.y || b.y + b.h <= a.y;

/** The height of the curve over a stretch of x, lowest and highest px. */
export type Profile = (x0: number, x1: number) => [number, number];

export function placeLabels(wishes: Wish[], width: number, height: number, curve: Profile, taken: Box[] = [], dearest = 100): (Placed | null)[] {
  const used = [...taken];
  return wishes.map((wish) => {
    const found = candidates(wish, width)
      .filter((c) => c.x >= 0 && c.y >= 0 && c.x + wish.w <= width && c.y + wish.h <= height)
      .map((c) => ({ ...c, cost: c.cost + (hits(c, wish, curve) ? 40 : 0) }))
      .filter((c) => c.cost <= dearest)
      .sort((a, b) => a.cost - b.cost)
      .find((c) => used.every((u) => apart(u, { x: c.x - 3, y: c.y - 1, w: wish.w + 6, h: wish.h + 2 })));
    if (!found) return null;
    used.push({ x: found.x, y: found.y, w: wish.w, h: wish.h });
    return { x: found.x, y: found.y, leader: found.cost > 18 };
  });
}

function hits(c: { x: number; y: number }, wish: Wish, curve: Profile): boolean {
  const [top, bottom] = curve(c.x, c.x + wish.w);
  return !(c.y + wish.h < top || c.y > bottom);
}

function candidates(wish: Wish, width: number): { x: number; y: number; cost: number }[] {
  const list: { x: number; y: number; cost: number }[] = [];
  const clampX = (x: number): number => Math.min(Math.max(x, 0), Math.max(0, width - wish.w));
  const shift = [0, -0.3, 0.3, -0.55, 0.55, -0.9, 0.9];
  const way = wish.up ? -1 : 1;
  for (let ring = 0; ring < 6; ring++) {
    for (const s of shift) {
      const x = clampX(wish.x - wish.w / 2 + s * wish.w);
      const off = 8 + ring * 15;
      list.push({ x, y: wish.up ? wish.y - off - wish.h : wish.y + off, cost: ring * 6 + Math.abs(s) * 8 });
      list.push({ x, y: wish.up ? wish.y + off : wish.y - off - wish.h, cost: 22 + ring * 6 + Math.abs(s) * 8 });
    }
    list.push({ x: wish.x + 10 + ring * 12, y: wish.y - wish.h / 2 + way * ring * 4, cost: 5 + ring * 7 });
    list.push({ x: wish.x - 10 - wish.w - ring * 12, y: wish.y - wish.h / 2 + way * ring * 4, cost: 5 + ring * 7 });
  }
  return list;
}
