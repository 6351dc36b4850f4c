// What moves, at an instant: softly, as the cursor's linear state, or driven, by
// the waveforms of a large signal. Everything keeps its true relation in size and
// phase; only time and travel are scaled, and both scales are told.
import { computed } from "@preact/signals";
import type { LadderStep, Moment, Phasor } from "../api/types";
import { driven, inBox } from "../ladder/ladder";
import { moment } from "../state/store";

export const PERIOD = 2.6; // s a period takes on the page

/** A quantity at a part of the period. */
export type Wave = (turn: number) => number;

/** The air at a place of a duct. */
export interface Place {
  at: number;
  travel: Wave; // mm
  pressure: Wave; // Pa
}

/** All that moves, with the greatest of each kind. */
export interface Play {
  frequency: number;
  volts: number | null; // of a driven box
  chambers: Record<string, Wave>; // Pa
  cones: Record<string, Wave>; // mm
  ducts: Record<string, Place[]>;
  cone: number; // mm
  air: number; // mm
  pressure: number; // Pa
  telling: number; // the part of the period to stand at: the greatest pressure, or else travel
}

export const play = computed<Play | null>(() => {
  const d = driven.value;
  if (inBox.value && d?.step) return drivenPlay(d.frequency_hz, d.step);
  return moment.value && softPlay(moment.value);
});

function softPlay(m: Moment): Play {
  const wave = (p: Phasor, scale = 1): Wave => {
    const phase = (p.phase_deg * Math.PI) / 180;
    return (turn) => scale * p.size * Math.cos(2 * Math.PI * turn + phase);
  };
  const waves = (list: Record<string, Phasor>, scale: number): Record<string, Wave> => Object.fromEntries(Object.entries(list).map(([name, p]) => [name, wave(p, scale)]));
  const ducts = Object.entries(m.ducts).map(([name, slices]) => [name, slices ?? []] as const);
  const pressures = Object.values(m.chambers_pa);
  let loudest: Phasor = { size: 0, phase_deg: 0 };
  for (const p of pressures) if (p.size > loudest.size) loudest = p;
  if (loudest.size === 0) for (const p of Object.values(m.cones_mm)) if (p.size > loudest.size) loudest = p;
  const turn = -loudest.phase_deg / 360;
  return {
    frequency: m.frequency_hz,
    volts: null,
    chambers: waves(m.chambers_pa, Math.SQRT2),
    cones: waves(m.cones_mm, 1),
    ducts: Object.fromEntries(ducts.map(([name, slices]) => [name, slices.map((s) => ({ at: s.at, travel: wave(s.travel_mm), pressure: wave(s.pressure_pa, Math.SQRT2) }))])),
    cone: Math.max(0, ...Object.values(m.cones_mm).map((p) => p.size)),
    air: Math.max(0, ...ducts.flatMap(([, slices]) => slices.map((s) => s.travel_mm.size))),
    pressure: Math.SQRT2 * Math.max(0, ...pressures.map((p) => p.size), ...ducts.flatMap(([, slices]) => (slices.length > 2 ? slices.map((s) => s.pressure_pa.size) : []))),
    telling: turn - Math.floor(turn),
  };
}

function drivenPlay(frequency: number, s: LadderStep): Play {
  const most = (y: number[]): number => y.reduce((a, v) => Math.max(a, Math.abs(v)), 0);
  const cones: Record<string, number[]> = {};
  for (const [name, m] of Object.entries(s.mounts)) cones[name] = m.waveform_mm ?? [];
  for (const [name, y] of Object.entries(s.passive_waveforms_mm ?? {})) cones[name] = y ?? [];
  const chambers = Object.entries(s.chamber_waveforms_pa ?? {}).map(([name, y]) => [name, y ?? []] as const);
  const ducts = Object.entries(s.along ?? {}).map(([name, list]) => [name, (list ?? []).map((p) => ({ at: p.at, travel: p.travel_mm ?? [], pressure: p.pressure_pa ?? [] }))] as const);
  const loud = [...chambers.map(([, y]) => y), ...Object.values(cones)].reduce<number[]>((a, y) => (most(a) > 0 ? a : y), []);
  const loudest = chambers.reduce((a, [, y]) => (most(y) > most(a) ? y : a), loud);
  const peak = loudest.reduce((a, v, i) => (v > loudest[a]! ? i : a), 0);
  const all = (list: Record<string, number[]>): Record<string, Wave> => Object.fromEntries(Object.entries(list).map(([name, y]) => [name, sampled(y)]));
  return {
    frequency,
    volts: s.voltage_v,
    chambers: all(Object.fromEntries(chambers)),
    cones: all(cones),
    ducts: Object.fromEntries(ducts.map(([name, list]) => [name, list.map((p) => ({ at: p.at, travel: sampled(p.travel), pressure: sampled(p.pressure) }))])),
    cone: Math.max(0, ...Object.values(cones).map(most)),
    air: Math.max(0, ...ducts.flatMap(([, list]) => list.map((p) => most(p.travel)))),
    pressure: Math.max(0, ...chambers.map(([, y]) => most(y)), ...ducts.flatMap(([, list]) => (list.length > 2 ? list.map((p) => most(p.pressure)) : []))),
    telling: loudest.length > 0 ? peak / loudest.length : 0,
  };
}

/** One period at even steps, straight between them. */
export function sampled(y: number[]): Wave {
  const n = y.length;
  if (n === 0) return () => 0;
  return (turn) => {
    const t = (turn - Math.floor(turn)) * n;
    const i = Math.floor(t) % n;
    return y[i]! + (y[(i + 1) % n]! - y[i]!) * (t - Math.floor(t));
  };
}

export interface Scales {
  slowed: number; // times slower than the air
  pxPerMm: number; // of travel
  barMm: number; // a round travel, for the scale bar
}

const CONE_ROOM = 11; // px a cone may travel
const AIR_ROOM = 26; // px air may

export function scalesOf(p: Play): Scales {
  const pxPerMm = Math.min(p.cone > 0 ? CONE_ROOM / p.cone : Infinity, p.air > 0 ? AIR_ROOM / p.air : Infinity);
  return {
    slowed: p.frequency * PERIOD,
    pxPerMm: Number.isFinite(pxPerMm) ? pxPerMm : 0,
    barMm: Number.isFinite(pxPerMm) ? roundDown(34 / pxPerMm) : 0,
  };
}

/** The next of 1, 2, 5 times a power of ten below. */
export function roundDown(x: number): number {
  if (!(x > 0) || !Number.isFinite(x)) return 0;
  const power = Math.pow(10, Math.floor(Math.log10(x)));
  for (const n of [5, 2, 1]) if (n * power <= x) return n * power;
  return power;
}

/** The air between the places that are known. */
export function along(places: Place[], u: number, quantity: "travel" | "pressure", turn: number): number {
  let i = 0;
  while (i < places.length - 2 && places[i + 1]!.at < u) i++;
  const a = places[i]!;
  const b = places[i + 1] ?? a;
  const part = b.at > a.at ? Math.min(1, Math.max(0, (u - a.at) / (b.at - a.at))) : 0;
  return a[quantity](turn) * (1 - part) + b[quantity](turn) * part;
}
