import { useState } from "preact/hooks";
import { digits, fixed } from "../format";
import { curves, features, inches, outline } from "../state/store";
import { panelsOf } from "./panels";

/** The curves' numbers, three to an octave, and the peaks and dips. */
export function CurvesTable() {
  const [open, setOpen] = useState(false);
  return (
    <details class="twin" onToggle={(e) => setOpen((e.currentTarget as HTMLDetailsElement).open)}>
      <summary>The curves as tables</summary>
      {open && <Tables />}
    </details>
  );
}

function Tables() {
  const c = curves.value;
  if (!c) return null;
  const panels = panelsOf(c, outline.value, null, inches.value);
  const frequency = c.frequency_hz ?? [];
  const shown = new Set<number>();
  let next = 0;
  frequency.forEach((f, i) => {
    if (f < next) return;
    shown.add(i);
    next = f * Math.pow(2, 1 / 3);
  });
  const columns = panels.flatMap((p) => p.lines.map((l) => ({ head: `${p.title}${l.name ? " " + l.name : ""}${l.right ? " phase" : ""}`, unit: l.right ? "°" : p.unit, y: l.y, phase: l.right || p.name === "level" })));
  return (
    <>
      <div class="scroll" tabIndex={0} role="region" aria-label="Peaks and dips">
        <table>
          <thead>
            <tr>
              <th scope="col">Peaks and dips</th>
              <th scope="col">Hz</th>
              <th scope="col">Ω</th>
              <th scope="col">Q</th>
              <th scope="col">Owner</th>
            </tr>
          </thead>
          <tbody>
            {features.value.map((f) => (
              <tr key={f.frequency_hz}>
                <th scope="row">{f.kind}</th>
                <td class="figure">{digits(f.frequency_hz, 4)}</td>
                <td class="figure">{digits(f.impedance_ohm, 3)}</td>
                <td class="figure">{digits(f.q, 3)}</td>
                <td>{f.owner}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <div class="scroll" tabIndex={0} role="region" aria-label="Curves">
        <table>
          <thead>
            <tr>
              <th scope="col">Hz</th>
              {columns.map((k) => (
                <th scope="col" key={k.head}>
                  {k.head} <span class="unit">{k.unit}</span>
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {frequency.map((f, i) =>
              shown.has(i) ? (
                <tr key={i}>
                  <th scope="row" class="figure">{digits(f, 3)}</th>
                  {columns.map((k) => (
                    <td class="figure" key={k.head}>{k.phase ? fixed(k.y[i] ?? NaN, 1) : digits(k.y[i] ?? NaN, 3)}</td>
                  ))}
                </tr>
              ) : null,
            )}
          </tbody>
        </table>
      </div>
    </>
  );
}
