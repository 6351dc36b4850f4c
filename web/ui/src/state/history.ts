// Undo and redo over the design's text. Changes of one gesture are one step.
import { signal } from "@preact/signals";
import type { Edit } from "../api/types";
import { edit, replaceText } from "./loop";
import { sheet } from "./store";

const past = signal<string[]>([]);
const future = signal<string[]>([]);
let gesture = "";
let last = 0;

const DEPTH = 200;
const PAUSE = 900; // ms after which the same control begins a new step

/** Remembers the text as it is now, unless the gesture under way already did. */
export function remember(name: string): void {
  const s = sheet.value;
  if (!s) return;
  const now = performance.now();
  const same = name === gesture && now - last < PAUSE;
  gesture = name;
  last = now;
  if (same || past.value.at(-1) === s.text) return;
  past.value = [...past.value, s.text].slice(-DEPTH);
  future.value = [];
}

/** Ends a gesture: the next change is a step of its own. */
export function endGesture(): void {
  gesture = "";
}

export function change(gestureName: string, ...edits: Edit[]): void {
  remember(gestureName);
  edit(...edits);
}

export function retype(text: string): void {
  remember("typing");
  replaceText(text);
}

export function undo(): void {
  step(past, future);
}

export function redo(): void {
  step(future, past);
}

function step(from: typeof past, to: typeof past): void {
  const s = sheet.value;
  if (!s) return;
  const list = [...from.value];
  let text = list.pop();
  while (text !== undefined && text === s.text) text = list.pop();
  from.value = list;
  if (text === undefined) return;
  to.value = [...to.value, s.text].slice(-DEPTH);
  gesture = "";
  replaceText(text);
}

export function forget(): void {
  past.value = [];
  future.value = [];
  gesture = "";
}

export const canUndo = past;
export const canRedo = future;
