import { digits, withUnit } from "../format";
import { moment } from "../state/store";

/** The cutaway's numbers, for reading and copying. */
export function BoxTable() {
  const m = moment.value;
  if (!m) return null;
  const rows: [string, string, number, string, number][] = [];
  for (const [name, p] of Object.entries(m.chambers_pa)) rows.push([name, "pressure", p.size, "Pa RMS", p.phase_deg]);
  for (const [name, p] of Object.entries(m.cones_mm)) rows.push([name, "travel, peak", p.size, "mm", p.phase_deg]);
  for (const [name, slices] of Object.entries(m.ducts)) {
    const s = (slices ?? []).reduce((a, b) => (b.speed_m_s.size > a.speed_m_s.size ? b : a), slices![0]!);
    rows.push([name, "air speed, peak", s.speed_m_s.size, "m/s", s.speed_m_s.phase_deg]);
  }
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
              <th scope="col">Phase</th>
            </tr>
          </thead>
          <tbody>
            {rows.map(([name, what, size, unit, phase]) => (
              <tr key={name + what}>
                <th scope="row">{name}</th>
                <td>{what}</td>
                <td class="figure">{withUnit(digits(size, 3), unit)}</td>
                <td class="figure">{withUnit(digits(phase, 3), "°")}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  );
}
