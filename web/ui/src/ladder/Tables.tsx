// The ladder in numbers: every drive of the tone, and all that is known of one.
import { useEffect, useRef } from "preact/hooks";
import { colourOf } from "../colour";
import { digits, fixed, toneHertz, withUnit } from "../format";
import type { LadderStep } from "../api/types";
import { limitWords } from "../limits";
import { inches } from "../state/store";
import { choose, driven, ladder, rung, rungs, same, step, tone } from "./ladder";
import { HARMONICS, relative } from "./sheets";

const dash = "–";
const or = (v: number | null, decimals = 0): string => (v === null ? dash : fixed(v, decimals));

/** The mount that goes farthest at a step. */
function farthest(s: LadderStep): LadderStep["mounts"][string] | null {
  return Object.values(s.mounts).reduce<LadderStep["mounts"][string] | null>((a, m) => (!a || Math.max(m.outward_mm, m.inward_mm) > Math.max(a.outward_mm, a.inward_mm) ? m : a), null);
}

export function LadderTable() {
  const rows = useRef<HTMLDivElement>(null);
  const shown = rung.value;
  useEffect(() => {
    const list = rows.current;
    const row = list?.querySelector<HTMLElement>("[aria-current]");
    if (list && row) list.scrollTop = row.offsetTop - list.clientHeight / 2;
  }, [shown, rungs.value]);
  const by = inches.value ? 1 / 25.4 : 1;
  const unit = inches.value ? "in" : "mm";
  return (
    <details class="twin ladder" open>
      <summary>Every drive of {toneHertz(tone.value!.frequency_hz)}</summary>
      <div ref={rows} class="scroll" tabIndex={0} role="region" aria-label="Every drive of the tone">
        <table>
          <thead>
            <tr>
              <th scope="col">V</th>
              <th scope="col">dB</th>
              <th scope="col">H2 dB</th>
              <th scope="col">H3 dB</th>
              <th scope="col">THD %</th>
              <th scope="col">Out {unit}</th>
              <th scope="col">In {unit}</th>
              <th scope="col">Drift {unit}</th>
              <th scope="col">Air m/s</th>
              <th scope="col">A</th>
              <th scope="col">°C, {ladder.value?.seconds ?? 60}&#8239;s</th>
              <th scope="col">Lag dB</th>
              <th scope="col">Beyond</th>
            </tr>
          </thead>
          <tbody>
            {rungs.value.map((s, i) => {
              const far = farthest(s);
              const air = Math.max(0, ...Object.values(s.ports_m_s), ...Object.values(s.lines_m_s));
              const hot = Math.max(...Object.values(s.mounts).map((m) => m.temperature_c));
              return (
                <tr key={s.voltage_v} aria-current={i === shown ? "true" : undefined}>
                  <th scope="row">
                    <button type="button" class="figure" onClick={() => choose(i)}>{digits(s.voltage_v, 3)}</button>
                  </th>
                  <td>{or(s.level_db, 1)}</td>
                  <td>{or(relative(s, 1))}</td>
                  <td>{or(relative(s, 2))}</td>
                  <td>{digits(100 * s.thd_f, 2)}</td>
                  <td>{far ? digits(far.outward_mm * by, 2) : dash}</td>
                  <td>{far ? digits(far.inward_mm * by, 2) : dash}</td>
                  <td>{far ? fixed(far.offset_mm * by, 3) : dash}</td>
                  <td>{digits(air, 2)}</td>
                  <td>{digits(s.current_a, 2)}</td>
                  <td>{Number.isFinite(hot) ? fixed(hot, 0) : dash}</td>
                  <td>{fixed(s.compression_db, 1)}</td>
                  <td class={s.beyond?.length ? "past" : ""}>
                    {(s.beyond ?? []).map(limitWords).join(", ")}
                    {!s.beyond?.length && s.safe && <span class="unit">safe to play</span>}
                    {s.jumped && " (jumped)"}
                  </td>
                </tr>
              );
            })}
          </tbody>
        </table>
      </div>
    </details>
  );
}

/** What the graphs of one drive show. */
export function StepTable() {
  const s = step.value;
  const t = tone.value;
  if (!s || !t) return null;
  const d = driven.value?.step;
  const whole = d && same(d.voltage_v, s.voltage_v) ? d : s;
  const by = inches.value ? 1 / 25.4 : 1;
  const unit = inches.value ? "in" : "mm";
  const mounts = Object.entries(whole.mounts);
  const n = whole.waveform_pa?.length ?? mounts[0]?.[1].waveform_mm?.length ?? 0;
  return (
    <details class="twin">
      <summary>{withUnit(digits(s.voltage_v, 3), "V")} as a table</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label="Harmonics of this drive">
        <table>
          <thead>
            <tr>
              <th scope="col">Harmonic</th>
              <th scope="col">Hz</th>
              <th scope="col">dB</th>
              <th scope="col">re the first</th>
              <th scope="col">Phase °</th>
              {mounts.map(([name]) => (
                <th scope="col" key={name} style={{ color: colourOf(name) }}>{name} {unit}</th>
              ))}
            </tr>
          </thead>
          <tbody>
            {Array.from({ length: HARMONICS }, (_, k) => (
              <tr key={k}>
                <th scope="row">{k + 1}</th>
                <td>{digits((k + 1) * t.frequency_hz, 4)}</td>
                <td>{or(whole.harmonics_db?.[k] ?? null, 1)}</td>
                <td>{or(relative(whole, k), 1)}</td>
                <td>{or(whole.harmonic_phases_deg?.[k] ?? null)}</td>
                {mounts.map(([name, m]) => (
                  <td key={name}>{digits((m.harmonics_mm?.[k] ?? 0) * by, 3)}</td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {n > 0 && (
        <div class="scroll" tabIndex={0} role="region" aria-label="One period of this drive">
          <table>
            <thead>
              <tr>
                <th scope="col">ms</th>
                {whole.waveform_pa && <th scope="col">sound, Pa</th>}
                {mounts.map(([name]) => (
                  <th scope="col" key={name} style={{ color: colourOf(name) }}>{name} {unit}</th>
                ))}
              </tr>
            </thead>
            <tbody>
              {Array.from({ length: n }, (_, q) => (
                <tr key={q}>
                  <th scope="row" class="figure">{fixed((1000 * q) / n / t.frequency_hz, 3)}</th>
                  {whole.waveform_pa && <td>{digits(whole.waveform_pa[q]!, 3)}</td>}
                  {mounts.map(([name, m]) => (
                    <td key={name}>{digits((m.waveform_mm?.[q] ?? 0) * by, 3)}</td>
                  ))}
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </details>
  );
}
