// What a cut of a builder's size would do to the tone, in words.
import type { Change, Dimension } from "../api/types";
import { niceStep } from "../curves/ticks";

export interface Advice {
  step: number; // in the dimension's unit, with the sign that makes the tone louder
  db: number; // gained by it
  word: string;
}

const WORDS: Record<string, [string, string]> = {
  length: ["longer", "shorter"],
  diameter: ["wider", "narrower"],
  size: ["larger", "smaller"],
  area: ["wider", "narrower"],
  to_area: ["wider", "narrower"],
  volume: ["larger", "smaller"],
};

export function adviceFor(d: Dimension, changes: Change[]): Advice | null {
  const c = changes.find((v) => v.part === d.part && v.key === d.key && (v.index ?? 0) === d.index);
  if (!c || c.unit !== d.unit || !Number.isFinite(c.db_per_unit) || c.db_per_unit === 0) return null;
  const size = d.whole ? 1 : niceStep(Math.abs(d.value) * 0.05 || d.step, 1);
  const step = Math.sign(c.db_per_unit) * size;
  const words = WORDS[d.key.split(".").at(-1)!] ?? ["more", "less"];
  return { step, db: Math.abs(c.db_per_unit) * size, word: step > 0 ? words[0] : words[1] };
}
