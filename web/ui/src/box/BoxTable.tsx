import type { LadderStep } from "../api/types";
import { driven } from "../ladder/ladder";
import { digits, withUnit } from "../format";
import { moment } from "../state/store";
import { play } from "./motion";

type Row = [part: string, what: string, size: number, unit: string, more: string];

/** The cutaway's numbers, for reading and copying. */
export function BoxTable() {
  const hard = play.value?.volts ? driven.value?.step : null;
  const rows = hard ? drivenRows(hard) : softRows();
  if (rows.length === 0) return null;
  return (
    <details class="twin">
      <summary>The box as a table</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label="The box as a table">
        <table>
          <thead>
            <tr>
              <th scope="col">Part</th>
              <th scope="col">What</th>
              <th scope="col">Size</th>
              <th scope="col">{hard ? "And the other way" : "Phase"}</th>
            </tr>
          </thead>
          <tbody>
            {rows.map(([name, what, size, unit, more]) => (
              <tr key={name + what}>
                <th scope="row">{name}</th>
                <td>{what}</td>
                <td class="figure">{withUnit(digits(size, 3), unit)}</td>
                <td class="figure">{more}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  );
}

function softRows(): Row[] {
  const m = moment.value;
  if (!m) return [];
  const phase = (p: { phase_deg: number }): string => withUnit(digits(p.phase_deg, 3), "°");
  const rows: Row[] = [];
  for (const [name, p] of Object.entries(m.chambers_pa)) rows.push([name, "pressure", p.size, "Pa RMS", phase(p)]);
  for (const [name, p] of Object.entries(m.cones_mm)) rows.push([name, "travel, peak", p.size, "mm", phase(p)]);
  for (const [name, slices] of Object.entries(m.ducts)) {
    const s = (slices ?? []).reduce((a, b) => (b.speed_m_s.size > a.speed_m_s.size ? b : a), slices![0]!);
    rows.push([name, "air speed, peak", s.speed_m_s.size, "m/s", phase(s.speed_m_s)]);
  }
  return rows;
}

function drivenRows(s: LadderStep): Row[] {
  const rows: Row[] = [];
  const ends = (name: string, what: string, unit: string, y: number[]): void => {
    rows.push([name, what, Math.max(...y), unit, withUnit(digits(Math.min(...y), 3), unit)]);
  };
  for (const [name, y] of Object.entries(s.chamber_waveforms_pa ?? {})) ends(name, "most pressed", "Pa", y ?? [0]);
  for (const [name, t] of Object.entries(s.mounts)) ends(name, "farthest out", "mm", t.waveform_mm ?? [0]);
  for (const [name, y] of Object.entries(s.passive_waveforms_mm ?? {})) ends(name, "farthest out", "mm", y ?? [0]);
  for (const [name, list] of Object.entries(s.along ?? {})) ends(name, "air, towards its to end", "mm", list?.at(-1)?.travel_mm ?? [0]);
  return rows;
}
