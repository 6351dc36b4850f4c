// What moves, at an instant. Everything keeps its true relation in size and
// phase; only time and travel are scaled, and both scales are told.
import type { Moment, Phasor } from "../api/types";

export const PERIOD = 2.6; // s a period takes on the page

export interface Scales {
  slowed: number; // times slower than the air
  pxPerMm: number; // of travel
  barMm: number; // a round travel, for the scale bar
  pressure: number; // Pa peak that takes the full colour
}

const CONE_ROOM = 11; // px a cone may travel
const AIR_ROOM = 26; // px air may

export function scalesOf(m: Moment): Scales {
  const cone = Math.max(0, ...Object.values(m.cones_mm).map((p) => p.size));
  let air = 0;
  for (const slices of Object.values(m.ducts)) {
    for (const s of slices ?? []) air = Math.max(air, s.travel_mm.size);
  }
  const pxPerMm = Math.min(cone > 0 ? CONE_ROOM / cone : Infinity, air > 0 ? AIR_ROOM / air : Infinity);
  const pressures = Object.values(m.chambers_pa).map((p) => p.size);
  for (const slices of Object.values(m.ducts)) if ((slices ?? []).length > 2) for (const s of slices!) pressures.push(s.pressure_pa.size);
  return {
    slowed: m.frequency_hz * PERIOD,
    pxPerMm: Number.isFinite(pxPerMm) ? pxPerMm : 0,
    barMm: Number.isFinite(pxPerMm) ? roundDown(34 / pxPerMm) : 0,
    pressure: Math.SQRT2 * Math.max(0, ...pressures),
  };
}

/** The next of 1, 2, 5 times a power of ten below. */
export function roundDown(x: number): number {
  if (!(x > 0) || !Number.isFinite(x)) return 0;
  const power = Math.pow(10, Math.floor(Math.log10(x)));
  for (const n of [5, 2, 1]) if (n * power <= x) return n * power;
  return power;
}

/** The value of a phasor at a part of the period. */
export function instant(p: Phasor | undefined, turn: number): number {
  if (!p) return 0;
  return p.size * Math.cos(2 * Math.PI * turn + (p.phase_deg * Math.PI) / 180);
}

/** The part of the period to stand at in a still: the greatest pressure, or else travel. */
export function telling(m: Moment): number {
  let best: Phasor = { size: 0, phase_deg: 0 };
  for (const p of Object.values(m.chambers_pa)) if (p.size > best.size) best = p;
  if (best.size === 0) for (const p of Object.values(m.cones_mm)) if (p.size > best.size) best = p;
  const turn = -best.phase_deg / 360;
  return turn - Math.floor(turn);
}

/** A phasor between two places of a duct. */
export function between(a: Phasor, b: Phasor, u: number): Phasor {
  const ra = (a.phase_deg * Math.PI) / 180;
  const rb = (b.phase_deg * Math.PI) / 180;
  const re = a.size * Math.cos(ra) * (1 - u) + b.size * Math.cos(rb) * u;
  const im = a.size * Math.sin(ra) * (1 - u) + b.size * Math.sin(rb) * u;
  return { size: Math.hypot(re, im), phase_deg: (Math.atan2(im, re) * 180) / Math.PI };
}
