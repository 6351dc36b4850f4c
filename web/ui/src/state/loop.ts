// The live loop: one question under way at a time, the newest change always
// asked next, so that a drag never waits behind its own past.
import { batch } from "@preact/signals";
import { call, Refusal } from "../api/client";
import type { Edit } from "../api/types";
import { band, cursor, inches, latestProblems, moment, outline, result, sheet, tell } from "./store";

export const POINTS = 500;

let waiting: Edit[] = [];
let wantBench = false;
let wantMoment = false;
let busy = false;
let generation = 0; // of the text: grows when it changes other than by edits
let settled: (() => void)[] = [];

/** Called after each answer is on the page, for the latency script. */
let since = 0;

function place(e: Edit): string {
  return `${e.op} ${e.part} ${e.key ?? ""} ${e.index ?? 0}`;
}

/** Asks for edits to be done; a later one of the same value replaces an earlier. */
export function edit(...edits: Edit[]): void {
  for (const e of edits) {
    waiting = e.op === "set" ? waiting.filter((w) => place(w) !== place(e)) : waiting;
    waiting.push(e);
  }
  if (since === 0) since = performance.now();
  wantBench = true;
  run();
}

/** Puts another text in place: typed, undone, opened. */
export function replaceText(text: string): void {
  const s = sheet.value;
  if (!s) return;
  generation++;
  waiting = [];
  sheet.value = { ...s, text };
  wantBench = true;
  run();
}

export function refresh(): void {
  wantBench = true;
  run();
}

/** Moves the cursor; the box there is asked for. */
export function moveCursor(f: number): void {
  if (!(f > 0) || !Number.isFinite(f)) return;
  cursor.value = Math.min(Math.max(f, 0.5), 20000);
  wantMoment = true;
  run();
}

/** Resolves when nothing is under way or waiting. */
export function idle(): Promise<void> {
  if (!busy && !wantBench && !wantMoment) return Promise.resolve();
  return new Promise((done) => settled.push(done));
}

function run(): void {
  if (busy) return;
  if (wantBench) void once(askBench);
  else if (wantMoment) void once(askMoment);
  else {
    delete document.documentElement.dataset["asking"];
    const done = settled;
    settled = [];
    for (const d of done) d();
  }
}

async function once(ask: () => Promise<void>): Promise<void> {
  busy = true;
  document.documentElement.dataset["asking"] = "yes";
  try {
    await ask();
  } catch (fault) {
    tell(fault instanceof Refusal ? fault.message : "Something on this page is broken: " + String(fault), true);
  } finally {
    busy = false;
  }
  run();
}

async function askBench(): Promise<void> {
  const s = sheet.value;
  wantBench = false;
  wantMoment = false;
  if (!s) return;
  const edits = waiting;
  const started = since;
  waiting = [];
  since = 0;
  const mine = generation;
  const range = band.value;
  const answer = await call("post", "/api/bench", {
    body: {
      name: s.name,
      text: s.text,
      points: POINTS,
      cursor_hz: cursor.value,
      explain: true,
      slim: true,
      inches: inches.value,
      ...(edits.length ? { edits } : {}),
      ...(range ? { from_hz: range.from, to_hz: range.to } : {}),
    },
  });
  if (mine !== generation) return; // another text took its place meanwhile
  batch(() => {
    const now = sheet.value;
    if (now && answer.text !== now.text) sheet.value = { ...now, text: answer.text };
    latestProblems.value = answer.problems;
    if (answer.outline) {
      result.value = answer;
      if (answer.moment) moment.value = answer.moment;
    }
  });
  if (answer.refused) tell(answer.refused, true);
  if (started > 0) requestAnimationFrame(() => performance.measure("ocarina:repaint", { start: started, end: performance.now() }));
}

async function askMoment(): Promise<void> {
  wantMoment = false;
  const s = sheet.value;
  if (!s || !outline.value || latestProblems.value.some((p) => !p.warning)) return;
  const mine = generation;
  const answer = await call("post", "/api/moment", { body: { name: s.name, text: s.text, cursor_hz: cursor.value } });
  if (mine === generation) moment.value = answer;
}
