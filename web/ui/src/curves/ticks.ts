// Round numbers along an axis.

/** Ticks of a logarithmic axis: 1-2-5 over decades, closer ones when zoomed in. */
export function logTicks(from: number, to: number, most = 12): number[] {
  if (!(from > 0) || !(to > from)) return [];
  if (to / from < 2.6) return linearTicks(from, to, Math.min(7, most));
  const sets = [[1, 1.5, 2, 3, 4, 5, 6, 8], [1, 2, 3, 5, 7], [1, 2, 5], [1, 3], [1]];
  for (const set of sets) {
    const list: number[] = [];
    for (let e = Math.floor(Math.log10(from)); e <= Math.log10(to) + 1; e++) {
      for (const n of set) {
        const v = n * Math.pow(10, e);
        if (v >= from * 0.9999 && v <= to * 1.0001) list.push(Number(v.toPrecision(6)));
      }
    }
    if (list.length <= most || set.length === 1) return list;
  }
  return [];
}

export function niceStep(span: number, count: number): number {
  const raw = span / Math.max(1, count);
  const power = Math.pow(10, Math.floor(Math.log10(raw)));
  for (const n of [1, 2, 5, 10]) if (raw <= n * power * 1.0001) return n * power;
  return 10 * power;
}

export function linearTicks(from: number, to: number, count: number): number[] {
  const step = niceStep(to - from, count);
  const list: number[] = [];
  for (let v = Math.ceil(from / step - 1e-9) * step; v <= to + step * 1e-6; v += step) list.push(Number(v.toPrecision(10)));
  return list;
}

export function tickText(v: number): string {
  if (v >= 1000 && v % 100 === 0) return `${v / 1000}k`;
  return String(Number(v.toPrecision(6))).replace("-", "−");
}
