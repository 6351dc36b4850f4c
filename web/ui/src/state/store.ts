// What the page knows. Everything shown follows from these signals.
import { computed, signal } from "@preact/signals";
import type { Curves, DesignFile, Moment, Result } from "../api/types";

/** The design's text and the file it came from. */
export interface Sheet {
  name: string;
  text: string;
  version: string; // of the file as read; "" for one that is not saved yet
  saved: string; // the text as it is in the file
}

export const folder = signal<{ path: string; designs: DesignFile[] }>({ path: "", designs: [] });
export const sheet = signal<Sheet | null>(null);

/** What the last text without errors means. */
export const result = signal<Result | null>(null);
export const latestProblems = signal<Result["problems"]>([]);

export const outline = computed(() => result.value?.outline ?? null);
export const curves = computed(() => result.value?.curves ?? null);
export const explanation = computed(() => result.value?.explain ?? null);
export const features = computed(() => explanation.value?.features ?? []);
export const tones = computed(() => explanation.value?.tones ?? []);

export const cursor = signal(100); // Hz
export const moment = signal<Moment | null>(null);

/** What the curves show, Hz; null: all of it. */
export const band = signal<{ from: number; to: number } | null>(null);

export const inches = signal(false);
export const still = signal(false); // the drawing stands

/** The tone whose changes are shown beside the dimensions. */
export const chosenTone = signal(0);

/** Curves kept to compare with. */
export interface Pin {
  label: string;
  curves: Curves;
}
export const pins = signal<Pin[]>([]);

export interface Measured {
  name: string;
  frequency: number[];
  magnitude: number[];
  phase: number[] | null;
}
export const measured = signal<Measured | null>(null);

/** A line of words at the foot: what was done or could not be done. */
export interface Notice {
  text: string;
  fault: boolean;
}
export const notice = signal<Notice | null>(null);

export function tell(text: string, fault = false): void {
  notice.value = { text, fault };
}

export const unsaved = computed(() => {
  const s = sheet.value;
  return s !== null && (s.version === "" || s.text !== s.saved);
});

/** The names of parts that have a colour, in the order of the design. */
export const partNames = computed(() => (outline.value?.parts ?? []).map((p) => p.name));
