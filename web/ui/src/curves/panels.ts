// What stands in the stack: one panel a kind of quantity, one axis of frequency
// for all.
import type { Curves, Moment, Outline } from "../api/types";
import { digits, fixed, withUnit } from "../format";

export type PanelName = "impedance" | "level" | "travel" | "speed" | "delay";

export interface Line {
  name: string; // of the part; "" where the panel has but one curve
  y: (number | null)[];
  right?: boolean; // on the right axis
}

export interface Limit {
  name: string;
  y: number;
  text: string;
}

export interface Value {
  name: string;
  text: string;
}

export interface Panel {
  name: PanelName;
  title: string;
  unit: string;
  log: boolean;
  lines: Line[];
  limits: Limit[];
  values: Value[]; // at the cursor
}

const MM_PER_INCH = 25.4;

type Numbers = number[] | null | undefined;
const scaled = (list: Numbers, by: number): number[] => (list ?? []).map((v) => v * by);

/** The panels of a set of curves; the same for pinned ones. */
export function panelsOf(c: Curves, outline: Outline | null, m: Moment | null, inches: boolean): Panel[] {
  const list: Panel[] = [];
  const z = m?.impedance_ohm;
  list.push({
    name: "impedance", title: "Impedance", unit: "Ω", log: true,
    lines: [
      { name: "", y: c.impedance_ohm ?? [] },
      { name: "", y: c.impedance_phase_deg ?? [], right: true },
    ],
    limits: [],
    values: z ? [{ name: "", text: withUnit(digits(z.size, 3), "Ω") }, { name: "", text: `${fixed(z.phase_deg, 0)}°` }] : [],
  });
  if (c.level_db) {
    list.push({
      name: "level", title: "Level", unit: "dB", log: false, lines: [{ name: "", y: c.level_db }], limits: [],
      values: m?.level_db != null ? [{ name: "", text: withUnit(fixed(m.level_db, 1), "dB") }] : [],
    });
  }
  const by = inches ? 1 / MM_PER_INCH : 1;
  const unit = inches ? "in" : "mm";
  const parts = new Map((outline?.parts ?? []).map((p) => [p.name, p]));
  const cones = [...Object.entries(c.mounts ?? {}), ...Object.entries(c.passives ?? {})];
  if (cones.length) {
    const limits: Limit[] = [];
    for (const [name] of cones) {
      const limit = (parts.get(name)?.limit ?? 0) * by;
      if (limit > 0) limits.push({ name, y: limit, text: `${cones.length > 1 ? name + " " : ""}xmax ${digits(limit, 3)}` });
    }
    list.push({
      name: "travel", title: "Travel", unit: `${unit}, one way`, log: false,
      lines: cones.map(([name, curve]) => ({ name, y: scaled(curve.excursion_mm, by) })),
      limits,
      values: cones.map(([name]) => ({ name, text: withUnit(digits((m?.cones_mm[name]?.size ?? 0) * by, 3), unit) })),
    });
  }
  const ducts = [...Object.entries(c.ports ?? {}), ...Object.entries(c.lines ?? {})];
  if (ducts.length) {
    const limits: Limit[] = [];
    for (const [name] of ducts) {
      const limit = parts.get(name)?.limit ?? 0;
      if (limit > 0 && !limits.some((l) => Math.abs(l.y / limit - 1) < 1e-6)) limits.push({ name, y: limit, text: `limit ${digits(limit, 3)}` });
    }
    list.push({
      name: "speed", title: "Air speed", unit: "m/s, peak", log: false,
      lines: ducts.map(([name, curve]) => ({ name, y: curve.air_speed_m_s ?? [] })),
      limits,
      values: ducts.map(([name]) => ({ name, text: withUnit(digits(fastest(m, name), 3), "m/s") })),
    });
  }
  if (c.group_delay_ms) {
    list.push({
      name: "delay", title: "Group delay", unit: "ms", log: false, lines: [{ name: "", y: c.group_delay_ms }], limits: [],
      values: m?.group_delay_ms != null ? [{ name: "", text: withUnit(digits(m.group_delay_ms, 3), "ms") }] : [],
    });
  }
  return list;
}

function fastest(m: Moment | null, name: string): number {
  return Math.max(0, ...(m?.ducts[name] ?? []).map((s) => s.speed_m_s.size));
}

/** A range that one deep notch does not flatten. */
function robust(list: (number | null)[]): [number, number] {
  const sorted = list.filter((v): v is number => v !== null && Number.isFinite(v)).sort((a, b) => a - b);
  const at = (share: number): number => sorted[Math.round(share * (sorted.length - 1))] ?? 0;
  const low = Math.min(0, at(0.02));
  const high = Math.max(0, at(0.98));
  const room = (high - low || 1) * 0.15;
  return [low < 0 ? low - room : 0, high + room];
}

/** How far a panel's axis reaches. */
export function reach(p: Panel): [number, number] {
  let low = Infinity;
  let high = -Infinity;
  for (const line of p.lines) {
    if (line.right) continue;
    for (const v of line.y) {
      if (v === null || !Number.isFinite(v)) continue;
      if (v < low) low = v;
      if (v > high) high = v;
    }
  }
  if (!(high > low)) return p.log ? [1, 10] : [low - 1 || 0, (high || 0) + 1];
  if (p.name === "impedance") return [low * 0.82, high * 1.32];
  if (p.name === "level") {
    const top = Math.ceil((high + 2) / 5) * 5;
    return [Math.max(Math.floor((low - 1) / 5) * 5, top - 50), top];
  }
  if (p.name === "delay") return robust(p.lines[0]!.y);
  // A limit within sight belongs on the panel; a far one would flatten the rest.
  const near = p.limits.filter((l) => l.y < high * 2.2).map((l) => l.y * 1.12);
  return [0, Math.max(high * 1.12, ...near)];
}
