// A sweep dropped on the page, and the match of the design to it.
import { signal } from "@preact/signals";
import { wordsOf } from "../api/client";
import type { components } from "../api/schema";
import { endGesture, retype } from "../state/history";
import { idle } from "../state/loop";
import { measured, sheet, tell } from "../state/store";

type S = components["schemas"];
export type SweepRead = S["SweepRead"];
export type Step = S["MatchStep"];
export type Done = S["MatchDone"];

export const read = signal<SweepRead | null>(null);
export const steps = signal<Step[]>([]);
export const done = signal<Done | null>(null);
export const fault = signal("");
export const running = signal<AbortController | null>(null);
export const series = signal(""); // ohm, of a recording
export const header = signal(""); // of a table without one

let file: File | null = null;

export async function take(dropped: File): Promise<void> {
  file = dropped;
  await again();
}

/** Reads the file taken, with the options as they stand. */
export async function again(): Promise<void> {
  if (!file) return;
  cancel();
  done.value = null;
  fault.value = "";
  const ask = new URLSearchParams({ name: file.name });
  if (header.value.trim()) ask.set("header", header.value.trim());
  if (Number(series.value) > 0) ask.set("series_ohm", series.value);
  try {
    const answer = await fetch(`./api/sweep?${ask}`, { method: "POST", body: file, headers: { "Content-Type": "application/octet-stream" } });
    if (!answer.ok) {
      read.value = null;
      measured.value = null;
      fault.value = await wordsOf(answer);
      return;
    }
    const s = (await answer.json()) as SweepRead;
    read.value = s;
    measured.value = { name: s.name, frequency: s.frequency_hz, magnitude: s.impedance_ohm, phase: s.impedance_phase_deg ?? null };
  } catch {
    fault.value = "The server does not answer. Is it still running?";
  }
}

export function drop(): void {
  cancel();
  file = null;
  read.value = null;
  measured.value = null;
  steps.value = [];
  done.value = null;
  fault.value = "";
}

export function cancel(): void {
  running.value?.abort();
  running.value = null;
}

/** Fits the design to the sweep; each step is shown as it comes. */
export async function match(): Promise<void> {
  const s = read.value;
  if (!s || !sheet.value) return;
  cancel();
  await idle();
  const stop = new AbortController();
  running.value = stop;
  steps.value = [];
  done.value = null;
  fault.value = "";
  try {
    const { name, frequency_hz, impedance_ohm, impedance_phase_deg, relative_error } = s;
    const answer = await fetch("./api/match", {
      method: "POST",
      signal: stop.signal,
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({
        name: sheet.value.name,
        text: sheet.value.text,
        sweep: { name, frequency_hz, impedance_ohm, ...(impedance_phase_deg ? { impedance_phase_deg } : {}), ...(relative_error ? { relative_error } : {}) },
      }),
    });
    if (!answer.ok || !answer.body) {
      fault.value = await wordsOf(answer);
      return;
    }
    for await (const event of events(answer.body)) {
      if (event.name === "step") steps.value = [...steps.value, JSON.parse(event.data) as Step].slice(-400);
      else if (event.name === "done") done.value = JSON.parse(event.data) as Done;
      else if (event.name === "fault") fault.value = (JSON.parse(event.data) as S["MatchFault"]).detail;
    }
  } catch (f) {
    if (!stop.signal.aborted) fault.value = f instanceof Error ? f.message : String(f);
  } finally {
    if (running.value === stop) running.value = null;
  }
}

/** Writes the correction into the design, as one step that can be undone. */
export function accept(): void {
  const d = done.value;
  if (!d) return;
  endGesture();
  retype(d.corrected);
  endGesture();
  tell("The design is corrected. Undo takes it back.");
}

/** Reads server-sent events off a stream. */
async function* events(body: ReadableStream<Uint8Array>): AsyncGenerator<{ name: string; data: string }> {
  const reader = body.pipeThrough(new TextDecoderStream() as ReadableWritablePair<string, Uint8Array>).getReader();
  let held = "";
  for (;;) {
    const { value, done: end } = await reader.read();
    if (end) return;
    held += value;
    let cut: number;
    while ((cut = held.indexOf("\n\n")) >= 0) {
      const block = held.slice(0, cut);
      held = held.slice(cut + 2);
      let name = "message";
      let data = "";
      for (const line of block.split("\n")) {
        if (line.startsWith("event: ")) name = line.slice(7);
        else if (line.startsWith("data: ")) data += line.slice(6);
      }
      if (data) yield { name, data };
    }
  }
}
