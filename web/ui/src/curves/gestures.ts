// How hands and keys move the one cursor and the span of the curves.
import { band, curves, cursor, explanation, outline } from "../state/store";
import { moveCursor, refresh } from "../state/loop";

export const LOWEST = 1;
export const HIGHEST = 20000;

export function span(): [number, number] {
  const list = curves.value?.frequency_hz;
  return [list?.[0] ?? 10, list?.at(-1) ?? 1000];
}

/** Makes the span `by` times as wide, about a frequency that stays where it is. */
export function zoom(by: number, about = cursor.value): void {
  const [from, to] = span();
  lookAt(about * Math.pow(from / about, by), about * Math.pow(to / about, by));
}

/** Shows a span, as far as there is anything to show. */
export function lookAt(from: number, to: number): void {
  if (!(to / from >= 1.05)) return;
  band.value = { from: Math.max(LOWEST, from), to: Math.min(HIGHEST, to) };
  refresh();
}

export function showAll(): void {
  band.value = null;
  refresh();
}

/** Moves the span by a part of itself. */
export function pan(share: number): void {
  const [from, to] = span();
  const by = Math.pow(to / from, share);
  if (from * by < LOWEST || to * by > HIGHEST) return;
  band.value = { from: from * by, to: to * by };
  refresh();
}

function nextOf(list: number[], way: number): void {
  const now = cursor.value;
  const sorted = [...list].sort((a, b) => a - b);
  const next = way > 0 ? sorted.find((f) => f > now * 1.0002) : sorted.reverse().find((f) => f < now / 1.0002);
  if (next !== undefined) moveCursor(next);
}

export const nextFeature = (way: number): void => nextOf((explanation.value?.features ?? []).map((f) => f.frequency_hz), way);
export const nextTone = (way: number): void => nextOf(outline.value?.tones_hz ?? [], way);

/** Handles the keys of the cursor; says whether it did. */
export function cursorKey(e: KeyboardEvent): boolean {
  const way = e.key === "ArrowRight" || e.key === "ArrowUp" ? 1 : e.key === "ArrowLeft" || e.key === "ArrowDown" ? -1 : 0;
  const [from, to] = span();
  if (way !== 0) {
    if (e.shiftKey) nextFeature(way);
    else if (e.ctrlKey || e.altKey) nextTone(way);
    else moveCursor(cursor.value * Math.pow(2, way / 48));
  } else if (e.ctrlKey || e.metaKey || e.altKey) return false;
  else if (e.key === "PageUp") moveCursor(cursor.value * Math.pow(2, 1 / 3));
  else if (e.key === "PageDown") moveCursor(cursor.value * Math.pow(2, -1 / 3));
  else if (e.key === "Home") moveCursor(from);
  else if (e.key === "End") moveCursor(to);
  else if (e.key === "+" || e.key === "=") zoom(0.7);
  else if (e.key === "-") zoom(1 / 0.7);
  else if (e.key === "0") showAll();
  else return false;
  e.preventDefault();
  return true;
}
