// A recording of the tones, with the plan it was played by, beside the design as
// it stands.
import { effect, signal } from "@preact/signals";
import { call, wordsOf } from "../api/client";
import type { Compared, RecordingRead } from "../api/types";
import { idle } from "../state/loop";
import { latestProblems, sheet } from "../state/store";

export const recorded = signal<RecordingRead | null>(null);
export const compared = signal<Compared | null>(null);
export const fault = signal("");
export const reading = signal(false);
export const planName = signal("");
export const waveName = signal("");

/** What may be told of the recording beside the plan, as typed. */
export const options = signal({ channel: "", calibrator_db: "", drive_channel: "", drive_full_scale_v: "", full_scales_per_pa: "" });

let wave: File | null = null;
let plan: File | null = null;

const isPlan = (f: File): boolean => /\.json$/i.test(f.name);

/** Whether files dropped anywhere belong here: a plan does, a recording with one, or once there is one. */
export function wanted(files: File[]): boolean {
  return files.some((f) => isPlan(f) && !/\.hcl\.json$/i.test(f.name)) || (wave !== null && files.every((f) => /\.wav$/i.test(f.name)));
}

export async function take(files: File[]): Promise<void> {
  for (const f of files) {
    if (isPlan(f)) plan = f;
    else wave = f;
  }
  planName.value = plan?.name ?? "";
  waveName.value = wave?.name ?? "";
  await again();
}

export function drop(): void {
  wave = plan = null;
  planName.value = waveName.value = fault.value = "";
  recorded.value = null;
  compared.value = null;
}

let asked = 0;

/** Reads the files taken, with the options as they stand. */
export async function again(): Promise<void> {
  recorded.value = null;
  compared.value = null;
  fault.value = "";
  if (!wave) return;
  const mine = ++asked;
  const form = new FormData();
  form.set("recording", wave);
  if (plan) form.set("plan", plan);
  const ask = new URLSearchParams();
  for (const [key, value] of Object.entries(options.value)) if (Number(value) > 0) ask.set(key, value);
  reading.value = true;
  try {
    const answer = await fetch(`./api/recording?${ask}`, { method: "POST", body: form });
    if (mine !== asked) return;
    if (answer.ok) recorded.value = (await answer.json()) as RecordingRead;
    else fault.value = await wordsOf(answer);
  } catch {
    fault.value = "The server does not answer. Is it still running?";
  } finally {
    if (mine === asked) reading.value = false;
  }
}

let waiting: ReturnType<typeof setTimeout> | undefined;
let comparing = 0;

/** Lays the recording beside the design again whenever that has changed. */
export function follow(): () => void {
  return effect(() => {
    const r = recorded.value;
    const s = sheet.value;
    clearTimeout(waiting);
    const mine = ++comparing;
    if (!r?.driven || !s || latestProblems.value.some((p) => !p.warning)) {
      delete document.documentElement.dataset["comparing"];
      return;
    }
    document.documentElement.dataset["comparing"] = "yes";
    waiting = setTimeout(async () => {
      await idle();
      if (mine !== comparing) return; // the text has errors after all, or is another
      try {
        const answer = await call("post", "/api/beside", { body: { name: s.name, text: s.text, report: r.report } });
        if (mine !== comparing) return;
        compared.value = answer;
        fault.value = "";
      } catch (f) {
        if (mine !== comparing) return;
        compared.value = null;
        fault.value = f instanceof Error ? f.message : String(f);
      }
      delete document.documentElement.dataset["comparing"];
    }, compared.peek() ? 300 : 0);
  });
}
