// Numbers for people: no more digits than they deserve, always with a unit.

const spaces: Record<string, string> = { "": "" };

/** A number with the given significant digits and no exponent for usual sizes. */
export function digits(value: number, n = 3): string {
  if (!Number.isFinite(value)) return "–";
  if (value === 0) return "0";
  const size = Math.floor(Math.log10(Math.abs(value)));
  if (size < -4 || size > 5) return value.toExponential(n - 1).replace("-", "−");
  const decimals = Math.max(0, n - 1 - size);
  return value.toFixed(Math.min(decimals, 8)).replace("-", "−");
}

/** A number with a fixed count of decimals and a true minus. */
export function fixed(value: number, decimals: number): string {
  if (!Number.isFinite(value)) return "–";
  const text = value.toFixed(decimals);
  return (Number(text) === 0 ? text.replace("-", "") : text).replace("-", "−");
}

export function withUnit(text: string, unit: string): string {
  return unit in spaces ? text : `${text}\u202f${unit}`;
}

/** A frequency with its unit. */
export function hertz(f: number): string {
  return withUnit(digits(f, f >= 1000 ? 4 : f >= 100 ? 4 : 3), "Hz");
}

/** A trial tone, which is what it was set to: no digits but those given. */
export function toneHertz(f: number): string {
  return withUnit(String(Number(f.toPrecision(4))), "Hz");
}

export function signed(value: number, decimals: number): string {
  return (value >= 0 ? "+" : "") + fixed(value, decimals);
}

/** Units as people write them. */
export function pretty(unit: string): string {
  return (
    ({ cm2: "cm²", m2: "m²", mm2: "mm²", in2: "in²", cm3: "cm³", m3: "m³", in3: "in³", ft3: "ft³", ohm: "Ω", mohm: "mΩ", um: "µm", uH: "µH", uF: "µF", "T*m": "T·m", "N*s/m": "N·s/m", C: "°C", F: "°F" } as Record<string, string>)[unit] ?? unit
  );
}
