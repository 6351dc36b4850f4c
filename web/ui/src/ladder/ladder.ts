// The drive turned up at each tone: asked for once the design has come to rest
// and the section is near the screen, so that a drag never waits for it.
import { computed, effect, signal } from "@preact/signals";
import { call } from "../api/client";
import type { Driven, Ladder, LadderStep } from "../api/types";
import { idle } from "../state/loop";
import { chosenTone, cursor, latestProblems, outline, sheet } from "../state/store";
import { compared } from "./recording";

export const POINTS = 96; // of one period
const REST = 300; // ms a text stands before its ladder is asked for
const GLANCE = 50; // ms a drive stands before its waveform is

export const near = signal(false); // the section is on the screen or almost
export const clean = signal(3); // % of distortion that counts as clean
export const ladder = signal<Ladder | null>(null);
export const fault = signal("");
export const volts = signal<number | null>(null); // chosen by hand
export const driven = signal<Driven | null>(null);
export const inBox = signal(false); // the drawing moves as driven

/** A frequency driven beside the design's tones, and whether it is the one shown. */
export const extra = signal<number | null>(null);
export const onExtra = signal(false);

const sound = computed(() => outline.value !== null && !latestProblems.value.some((p) => !p.warning));

export const tone = computed(() => {
  const list = ladder.value?.tones ?? [];
  return (onExtra.value ? list.at(-1) : list[chosenTone.value]) ?? list[0] ?? null;
});

/** Drives the frequency the cursor is at, too. */
export function driveCursor(): void {
  extra.value = Number(cursor.value.toPrecision(4));
  onExtra.value = true;
}

/** What the recording tells of the chosen tone, beside what is predicted. */
export const besideTone = computed(() => {
  const f = tone.value?.frequency_hz;
  const i = (compared.value?.comparison.tones ?? []).findIndex((t) => f !== undefined && oneTone(t.frequency_hz, f));
  if (i < 0) return null;
  return { told: compared.value!.comparison.tones![i]!, predicted: compared.value!.ladder.tones?.[i] ?? null };
});

/** The steps of the chosen tone: its own ladder's and those that were recorded. */
export const rungs = computed<LadderStep[]>(() => {
  const own = tone.value?.steps ?? [];
  const more = (besideTone.value?.predicted?.steps ?? []).filter((s) => !own.some((o) => same(o.voltage_v, s.voltage_v)));
  return [...own, ...more].sort((a, b) => a.voltage_v - b.voltage_v);
});

/** Whether a recorded frequency is a tone's: clocks differ, tones lie farther apart. */
export const oneTone = (a: number, b: number): boolean => Math.abs(a / b - 1) < 0.015;

export const same = (a: number, b: number): boolean => Math.abs(a / b - 1) < 1e-6;

/** Which step is shown: the nearest to the drive chosen; else the loudest that was recorded, or that is inside everything. */
export const rung = computed(() => {
  const list = rungs.value;
  const v = volts.value ?? besideTone.value?.told.steps?.at(-1)?.voltage_v ?? null;
  if (v === null) return list.reduce((last, s, i) => (s.safe && !s.beyond?.length ? i : last), 0);
  let best = 0;
  list.forEach((s, i) => {
    if (Math.abs(Math.log(s.voltage_v / v)) < Math.abs(Math.log(list[best]!.voltage_v / v))) best = i;
  });
  return best;
});

export const step = computed(() => rungs.value[rung.value] ?? null);

export function choose(i: number): void {
  const s = rungs.value[Math.min(Math.max(i, 0), rungs.value.length - 1)];
  if (s) volts.value = s.voltage_v;
}

const under = new Set<string>(); // what is under way

/** Tells, for those who wait for it, whether anything is under way. */
function busy(what: string, yes: boolean): void {
  if (yes) under.add(what);
  else under.delete(what);
  if (under.size > 0) document.documentElement.dataset["climbing"] = "yes";
  else delete document.documentElement.dataset["climbing"];
}

let waiting: ReturnType<typeof setTimeout> | undefined;
let asked = 0;
let of = ""; // the design the ladder is of

/** Asks for the ladder whenever what it follows from has changed. */
export function follow(): () => void {
  const first = effect(() => {
    const s = sheet.value;
    if (s && s.name !== of) {
      of = s.name;
      volts.value = ladder.value = driven.value = extra.value = null;
      inBox.value = onExtra.value = false;
    }
    clearTimeout(waiting);
    const mine = ++asked;
    if (!near.value || !sound.value || !s) {
      busy("ladder", false);
      return;
    }
    const list = [...(outline.value?.tones_hz ?? [])];
    if (extra.value !== null) list.push(extra.value);
    if (list.length === 0) list.push(Number(cursor.peek().toPrecision(4)));
    const body = { name: s.name, text: s.text, tones_hz: list, clean_thd_f: clean.value / 100 };
    busy("ladder", true);
    waiting = setTimeout(async () => {
      await idle();
      if (mine !== asked) return; // the text has errors after all, or is another
      try {
        const answer = await call("post", "/api/ladder", { body });
        if (mine !== asked) return;
        ladder.value = answer;
        fault.value = "";
      } catch (f) {
        if (mine !== asked) return;
        ladder.value = null;
        fault.value = f instanceof Error ? f.message : String(f);
      }
      busy("ladder", false);
    }, ladder.peek() ? REST : 0);
  });
  const second = effect(look);
  const third = effect(() => {
    // The drawing belongs to the cursor: away from the tone it is the cursor's again.
    const t = tone.value;
    if (t && Math.abs(cursor.value / t.frequency_hz - 1) > 1e-6) inBox.value = false;
  });
  return () => {
    first();
    second();
    third();
  };
}

let glancing: ReturnType<typeof setTimeout> | undefined;
let looked = 0;

/** Asks for the waveform of the step shown, by the way up to it. */
function look(): void {
  const t = tone.value;
  const list = rungs.value;
  const i = rung.value;
  clearTimeout(glancing);
  const mine = ++looked;
  if (!t || list.length === 0) {
    driven.value = null;
    busy("driven", false);
    return;
  }
  busy("driven", true);
  glancing = setTimeout(async () => {
    await idle();
    const s = sheet.peek();
    if (mine !== looked) return;
    if (!s || !sound.peek()) {
      busy("driven", false);
      return;
    }
    try {
      const answer = await call("post", "/api/driven", {
        body: { name: s.name, text: s.text, tone_hz: t.frequency_hz, drives_v: list.slice(0, i + 1).map((r) => r.voltage_v), points: POINTS },
      });
      if (mine === looked) driven.value = answer.step ? answer : null;
    } catch {
      if (mine === looked) driven.value = null;
    }
    if (mine === looked) busy("driven", false);
  }, GLANCE);
}
