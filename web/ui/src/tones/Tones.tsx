// The trial tones at the design's drive, and what limits each.
import { colourOf } from "../colour";
import { digits, fixed, toneHertz, withUnit } from "../format";
import { limitWords } from "../limits";
import { moveCursor } from "../state/loop";
import { chosenTone, inches, tones } from "../state/store";

export function Tones() {
  if (tones.value.length === 0) return null;
  const by = inches.value ? 1 / 25.4 : 1;
  const unit = inches.value ? "in" : "mm";
  const levels = tones.value.map((t) => t.level_db).filter((v) => v !== null);
  const volts = tones.value[0]!.voltage_v;
  return (
    <section class="tones" aria-labelledby="tones-title">
      <header>
        <h2 id="tones-title">Tones</h2>
        <p class="aside">
          at {withUnit(digits(volts, 3), "V")}
          {levels.length > 1 && <>, mean {withUnit(fixed(levels.reduce((a, b) => a + b, 0) / levels.length, 1), "dB")}</>}
        </p>
      </header>
      <div class="scroll" tabIndex={0} role="region" aria-label="Tones">
        <table>
          <thead>
            <tr>
              <th scope="col">Tone</th>
              <th scope="col">Level</th>
              <th scope="col">Travel</th>
              <th scope="col">Load</th>
              <th scope="col">Heard from</th>
              <th scope="col">First limit</th>
              <th scope="col">at</th>
              <th scope="col">Level there</th>
            </tr>
          </thead>
          <tbody>
            {tones.value.map((t, i) => (
              <tr key={i} aria-current={chosenTone.value === i ? "true" : undefined}>
                <th scope="row">
                  <button
                    type="button"
                    onClick={() => {
                      chosenTone.value = i;
                      moveCursor(t.frequency_hz);
                    }}
                  >
                    {toneHertz(t.frequency_hz)}
                  </button>
                </th>
                <td class="figure" data-tone-level={i}>{t.level_db === null ? "–" : withUnit(fixed(t.level_db, 1), "dB")}</td>
                <td class="figure">{withUnit(digits(t.excursion_mm * by, 2), unit)}</td>
                <td class="figure">{withUnit(digits(t.impedance_ohm, 3), "Ω")}</td>
                <td>
                  {Object.entries(t.output_share)
                    .sort((a, b) => b[1] - a[1])
                    .slice(0, 2)
                    .map(([name, share]) => (
                      <span key={name} class="figure" style={{ color: colourOf(name) }}>
                        {name} {Math.round(share * 100)}&#8239;%{" "}
                      </span>
                    ))}
                </td>
                <td>{limitWords(t.limited_by)}</td>
                <td class="figure">{t.max_voltage_v === null ? "–" : withUnit(digits(t.max_voltage_v, 3), "V")}</td>
                <td class="figure">{t.max_level_db === null ? "–" : withUnit(fixed(t.max_level_db, 1), "dB")}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </section>
  );
}
