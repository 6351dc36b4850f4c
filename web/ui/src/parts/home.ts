// The values as they are in the file, where each fine control has its middle.
import { effect, signal } from "@preact/signals";
import type { Dimension } from "../api/types";
import { inches, outline, sheet } from "../state/store";

const homes = signal(new Map<string, number>());
let of = "";

const name = (d: Dimension): string => `${d.part} ${d.key} ${d.index} ${d.unit}`;

effect(() => {
  const s = sheet.value;
  const o = outline.value;
  if (!s || !o) return;
  const file = `${s.name} ${s.version} ${inches.value}`;
  if (file === of) {
    // Parts added since begin where they are.
    const known = homes.peek();
    const fresh = o.dimensions.filter((d) => !known.has(name(d)));
    if (fresh.length) homes.value = new Map([...known, ...fresh.map((d) => [name(d), d.value] as const)]);
    return;
  }
  of = file;
  homes.value = new Map(o.dimensions.map((d) => [name(d), d.value]));
});

export function homeOf(d: Dimension): number {
  return homes.value.get(name(d)) ?? d.value;
}
