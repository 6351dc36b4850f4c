// What each graph of the ladder shows.
import { colourOf, ink } from "../colour";
import { digits } from "../format";
import type { ComparedTone, LadderStep, LadderTone, Outline, RecordedStep } from "../api/types";
import type { Limit } from "../curves/panels";
import { niceStep } from "../curves/ticks";
import type { Serie, Sheet } from "./Graph";
import { limitWords } from "../limits";

export const HARMONICS = 10;
const FLOOR = -90; // dB re the fundamental, where the graphs end

export interface Shown {
  tone: LadderTone;
  rungs: LadderStep[];
  step: LadderStep; // with its waveforms, if they are here
  told: ComparedTone | null;
  take: RecordedStep | null; // what was recorded at this step
  calibrated: boolean;
  outline: Outline | null;
  inches: boolean;
}

const FALL = 20 / Math.LN10;

/** A range with round ends and a little room. */
function room(values: (number | null)[], least = 0): [number, number] {
  const list = values.filter((v): v is number => v !== null && Number.isFinite(v));
  const low = Math.min(...list);
  const high = Math.max(...list);
  if (!(high >= low)) return [0, 1];
  const spread = Math.max(high - low, least, Math.abs(high) * 1e-6, 1e-9);
  const nice = niceStep(spread, 5);
  return [Math.floor((low - 0.04 * spread) / nice) * nice, Math.ceil((high + 0.1 * spread) / nice) * nice];
}

const voltsOf = (s: Shown): number[] => s.rungs.map((r) => r.voltage_v);

/** A recorded number at the rungs it was recorded at, and null at the others. */
function atRungs(s: Shown, told: (step: NonNullable<ComparedTone["steps"]>[number]) => number | null | undefined): (number | null)[] | null {
  const steps = s.told?.steps;
  if (!steps?.length) return null;
  const list = s.rungs.map((r) => {
    const one = steps.find((t) => Math.abs(t.voltage_v / r.voltage_v - 1) < 1e-6);
    return (one && told(one)) ?? null;
  });
  return list.some((v) => v !== null) ? list : null;
}

function overDrive(s: Shown): Pick<Sheet, "foot" | "x" | "log" | "mark" | "end"> {
  const end = s.tone.limit_voltage_v;
  return {
    foot: "drive, V RMS",
    x: voltsOf(s),
    log: true,
    mark: s.step.voltage_v,
    end: end !== null && end <= (s.rungs.at(-1)?.voltage_v ?? 0) ? { x: end, text: "" } : null,
  };
}

export function levelSheet(s: Shown): Sheet | null {
  const level = s.rungs.map((r) => r.level_db);
  if (level.every((v) => v === null)) return null;
  const linear = s.rungs.map((r) => (r.level_db === null ? null : r.level_db + r.compression_db));
  const series: Serie[] = [
    { label: "", y: linear, colour: ink.value.soft, kind: "fine" },
    { label: "predicted", y: level, colour: ink.value.ink, kind: "line" },
  ];
  const dots = s.calibrated ? atRungs(s, (t) => t.level_db.recorded) : null;
  if (dots) series.push({ label: "recorded", y: dots, colour: ink.value.accent, kind: "dots" });
  const base = overDrive(s);
  return {
    ...base, name: "level", title: "How loud", unit: "dB; dotted: a linear, cold driver", series, limits: [],
    span: room(series.flatMap((one) => one.y)),
    end: base.end && { ...base.end, text: limitWords(s.tone.first_limit) },
  };
}

/** dB re the fundamental, or null below what is told. */
export function relative(step: LadderStep, k: number): number | null {
  const h = step.harmonics_db?.[k];
  return h === null || h === undefined || step.level_db === null ? null : h - step.level_db;
}

export function harmonicsSheet(s: Shown, clean: number): Sheet {
  const i = ink.value;
  const of = (k: number): (number | null)[] => s.rungs.map((r) => floored(relative(r, k)));
  const series: Serie[] = [
    { label: "H2", y: of(1), colour: i.ink, kind: "line" },
    { label: "H3", y: of(2), colour: i.soft, kind: "dashed" },
  ];
  const second = atRungs(s, (t) => heard(t, 0));
  const third = atRungs(s, (t) => heard(t, 1));
  if (second) series.push({ label: "", y: second, colour: i.accent, kind: "dots" });
  if (third) series.push({ label: "", y: third, colour: i.accent, kind: "rings" });
  const limit = FALL * Math.log(clean / 100);
  return {
    ...overDrive(s), name: "harmonics", title: "How clean", unit: "dB re the fundamental" + (second ? "; ● H2, ○ H3 recorded" : ""),
    series, limits: [{ name: "clean", y: limit, text: `${clean} %` }], span: [FLOOR, Math.max(0, Math.ceil((Math.max(...of(1).map(Number), ...of(2).map(Number)) + 3) / 10) * 10)],
  };
}

const floored = (v: number | null): number | null => (v === null || v < FLOOR ? null : v);

/** A recorded harmonic where it stands clear of its floor. */
function heard(t: NonNullable<ComparedTone["steps"]>[number], k: number): number | null {
  const pair = t.harmonics_db?.[k];
  return pair?.recorded != null && pair.recorded > t.floor_db + 3 && pair.recorded > FLOOR ? pair.recorded : null;
}

export function travelSheet(s: Shown): Sheet {
  const by = s.inches ? 1 / 25.4 : 1;
  const series: Serie[] = [];
  const limits: Limit[] = [];
  const parts = new Map((s.outline?.parts ?? []).map((p) => [p.name, p]));
  for (const name of Object.keys(s.step.mounts)) {
    const many = Object.keys(s.step.mounts).length > 1;
    const of = (get: (t: LadderStep["mounts"][string]) => number): number[] => s.rungs.map((r) => get(r.mounts[name]!) * by);
    series.push({ label: many ? `${name} out` : "out", y: of((t) => t.outward_mm), colour: colourOf(name), kind: "line" });
    series.push({ label: many ? "" : "in", y: of((t) => t.inward_mm), colour: colourOf(name), kind: "dashed" });
    series.push({ label: "", y: of((t) => Math.abs(t.offset_mm)), colour: colourOf(name), kind: "fine" });
    const limit = (parts.get(name)?.limit ?? 0) * by;
    if (limit > 0) limits.push({ name, y: limit, text: `${many ? name + " " : ""}xmax ${digits(limit, 3)}` });
  }
  for (const name of Object.keys(s.step.passives_mm)) {
    series.push({ label: name, y: s.rungs.map((r) => r.passives_mm[name]! * by), colour: colourOf(name), kind: "line" });
    const limit = (parts.get(name)?.limit ?? 0) * by;
    if (limit > 0) limits.push({ name, y: limit, text: `${name} ${digits(limit, 3)}` });
  }
  const high = Math.max(...series.flatMap((one) => one.y.map(Number)));
  const near = limits.filter((l) => l.y < high * 2.2).map((l) => l.y * 1.12);
  return {
    ...overDrive(s), name: "travel", title: "How far", unit: `${s.inches ? "in" : "mm"} from rest; dotted: drift of the middle`, series, limits,
    span: [0, room([0, high, ...near])[1]],
  };
}

/** One period, in parts of a period's milliseconds. */
const times = (frequency: number, n: number): number[] => Array.from({ length: n + 1 }, (_, q) => (1000 * q) / n / frequency);
const closed = (y: number[]): number[] => [...y, y[0]!];

export function coneSheet(s: Shown): Sheet | null {
  const by = s.inches ? 1 / 25.4 : 1;
  const series: Serie[] = [];
  let n = 0;
  let xmax = 0;
  const parts = new Map((s.outline?.parts ?? []).map((p) => [p.name, p]));
  for (const [name, t] of Object.entries(s.step.mounts)) {
    const y = t.waveform_mm;
    if (!y?.length) continue;
    n = y.length;
    series.push({ label: name, y: closed(y).map((v) => v * by), colour: colourOf(name), kind: "line" });
    xmax = Math.max(xmax, (parts.get(name)?.limit ?? 0) * by);
  }
  for (const [name, y] of Object.entries(s.step.passive_waveforms_mm ?? {})) {
    if (y?.length) series.push({ label: name, y: closed(y).map((v) => v * by), colour: colourOf(name), kind: "dashed" });
  }
  if (n === 0) return null;
  const all = series.flatMap((one) => one.y.map(Number));
  const far = Math.max(...all.map(Math.abs));
  if (xmax > 0 && xmax < 2.2 * far) {
    const inner: Serie = { label: "", y: Array.from({ length: n + 1 }, () => -xmax), colour: ink.value.accent, kind: "fine" };
    series.push(inner);
    all.push(-xmax * 1.1, xmax * 1.1);
  }
  const reach = room([...all, -far, far]);
  return {
    name: "cone", title: "The cone, one period", unit: s.inches ? "in, out is up" : "mm, out is up", foot: "ms", log: false, mark: null, end: null,
    x: times(s.tone.frequency_hz, n), series,
    limits: xmax > 0 && xmax < 2.2 * far ? [{ name: "xmax", y: xmax, text: `xmax ${digits(xmax, 3)}` }] : [],
    span: reach,
  };
}

/** The recorded waveform from its harmonics, beginning where the predicted one does. */
function recordedWave(take: RecordedStep, phase: number, size: number, n: number): number[] {
  const list = take.harmonics ?? [];
  const scale = size > 0 ? size / (list[0]?.rms ?? 1) : 1;
  return Array.from({ length: n + 1 }, (_, q) => {
    const turn = (2 * Math.PI * q) / n + phase;
    return list.reduce((sum, h) => (h.rms > 2 * h.error_rms ? sum + scale * Math.SQRT2 * h.rms * Math.cos(h.number * turn + h.phase_rad) : sum), 0);
  });
}

export function soundSheet(s: Shown): Sheet | null {
  const y = s.step.waveform_pa;
  if (!y?.length || s.step.level_db === null) return null;
  const n = y.length;
  const phase = ((s.step.harmonic_phases_deg?.[0] ?? 0) * Math.PI) / 180;
  const rms = 20e-6 * Math.pow(10, s.step.level_db / 20);
  const pure = Array.from({ length: n + 1 }, (_, q) => Math.SQRT2 * rms * Math.cos((2 * Math.PI * q) / n + phase));
  const series: Serie[] = [
    { label: "", y: pure, colour: ink.value.soft, kind: "fine" },
    { label: s.take ? "predicted" : "", y: closed(y), colour: ink.value.ink, kind: "line" },
  ];
  if (s.take) series.push({ label: "recorded", y: recordedWave(s.take, phase, s.calibrated ? 0 : rms, n), colour: ink.value.accent, kind: "dashed" });
  const far = Math.max(...series.flatMap((one) => one.y.map((v) => Math.abs(Number(v)))));
  return {
    name: "sound", title: "The sound, one period", foot: "ms",
    unit: "Pa; dotted: a pure tone" + (s.take && !s.calibrated ? "; recording made as loud" : ""),
    log: false, mark: null, end: null, x: times(s.tone.frequency_hz, n), series, limits: [], span: room([-far, far]),
  };
}

export function spectrumSheet(s: Shown): Sheet | null {
  if (s.step.level_db === null) return null;
  const bars = Array.from({ length: HARMONICS }, (_, k) => floored(relative(s.step, k)));
  const series: Serie[] = [{ label: "", y: bars, colour: ink.value.soft, kind: "bars" }];
  if (s.take) {
    const list = s.take.harmonics ?? [];
    const first = list[0];
    const known = Array.from({ length: HARMONICS }, (_, k) => list.find((h) => h.number === k + 1));
    series.push({ label: "", y: known.map((h) => (h && h.rms > 2 * h.error_rms ? floored(h.relative_db) : null)), colour: ink.value.accent, kind: "dots" });
    series.push({ label: "", y: known.map((h) => (h && first ? floored(h.floor_db - first.level_db) : null)), colour: ink.value.accent, kind: "ticks" });
  }
  return {
    name: "spectrum", title: "Harmonics", foot: "number of the harmonic", unit: "dB re the fundamental" + (s.take ? "; ● recorded, – its floor" : ""),
    log: false, mark: null, end: null, x: Array.from({ length: HARMONICS }, (_, k) => k + 1), series, limits: [], span: [FLOOR, 5],
  };
}
