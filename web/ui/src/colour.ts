// A part keeps one colour in the drawing, the curves, the words and the tables.
import { computed, signal } from "@preact/signals";
import { partNames } from "./state/store";

/** Whether the system asks for dark; the page follows. */
const query = window.matchMedia("(prefers-color-scheme: dark)");
const printing = window.matchMedia("print");
export const dark = signal(query.matches);
const follow = () => (dark.value = query.matches && !printing.matches);
query.addEventListener("change", follow);
printing.addEventListener("change", follow);

const light = ["#a8431c", "#1c5f9e", "#0d6f5c", "#7b3f8c", "#7a5c00", "#a1315f", "#41596b", "#4d6a12"];
const chalk = ["#f0a07a", "#86bdf0", "#6fcdb4", "#d0a4e0", "#e0bf5c", "#f09ab8", "#a9bccb", "#b3cf74"];

export const COLOURS = light.length;

export const colourIndex = computed(() => new Map(partNames.value.map((name, i) => [name, i % COLOURS])));

export function colourOf(name: string): string {
  const list = dark.value ? chalk : light;
  return list[colourIndex.value.get(name) ?? 6] ?? list[0]!;
}

export interface Ink {
  paper: string;
  ink: string;
  soft: string; // text of second rank
  line: string; // hairlines
  grid: string;
  accent: string; // the cursor
  warm: [number, number, number];
  cool: [number, number, number];
  rest: [number, number, number];
}

export const ink = computed<Ink>(() =>
  dark.value
    ? {
        paper: "#171b1e", ink: "#e9e6dc", soft: "#a7abab", line: "#3a4145", grid: "#2a3034", accent: "#ff8d6b",
        warm: [158, 70, 30], cool: [26, 98, 124], rest: [23, 27, 30],
      }
    : {
        paper: "#faf8f2", ink: "#1d2a2f", soft: "#5b656a", line: "#cfcabb", grid: "#e6e2d6", accent: "#b5301a",
        warm: [226, 122, 66], cool: [74, 152, 176], rest: [250, 248, 242],
      },
);

/** The colour of a pressure, −1 (thinnest) to 1 (most pressed). */
export function pressed(share: number): string {
  const { warm, cool, rest } = ink.value;
  const end = share >= 0 ? warm : cool;
  const part = Math.min(1, Math.abs(share));
  const mix = rest.map((r, i) => Math.round(r + (end[i]! - r) * part));
  return `rgb(${mix[0]},${mix[1]},${mix[2]})`;
}
