// Where a measured sweep meets the design.
import { colourOf } from "../colour";
import { digits, hertz, pretty, withUnit } from "../format";
import { Named } from "../head/Sentence";
import { moveCursor } from "../state/loop";
import { Well } from "../files/Well";
import { accept, again, cancel, done, drop, fault, header, match, read, running, series, steps, take, type Done } from "./matching";

export function Sweep() {
  const s = read.value;
  const isRecording = /\.wav$/i.test(s?.name ?? "") || /resistor|series/i.test(fault.value);
  return (
    <section class="sweep" aria-labelledby="sweep-title">
      <header>
        <h2 id="sweep-title">Measured sweep</h2>
        {s && (
          <p class="aside">
            <button type="button" onClick={drop}>take it away</button>
          </p>
        )}
      </header>
      <Well label="Sweep file" take={(files) => void take(files[0]!)}>
        {s ? (
          <>
            <b>{s.name}</b> {s.frequency_hz.length} points, {hertz(s.frequency_hz[0] ?? 0)} to {hertz(s.frequency_hz.at(-1) ?? 0)}
            {s.skipped > 0 && `, ${s.skipped} left out`}. Drop another to replace it.
          </>
        ) : (
          <>Drop an impedance file on the page, or choose one: a table, a Touchstone one-port, or a two-channel recording.</>
        )}
      </Well>
      {(isRecording || fault.value) && (
        <form
          class="options"
          onSubmit={(e) => {
            e.preventDefault();
            void again();
          }}
        >
          <label>
            known resistor, Ω <input inputMode="decimal" value={series.value} onInput={(e) => (series.value = e.currentTarget.value)} />
          </label>
          <label>
            columns <input value={header.value} placeholder="frequency Hz, |Z|, phase deg" onInput={(e) => (header.value = e.currentTarget.value)} />
          </label>
          <button type="submit">read again</button>
        </form>
      )}
      {fault.value && <pre class="fault" role="alert">{fault.value}</pre>}
      {s && s.warnings.length > 0 && (
        <ul class="notes">
          {s.warnings.map((w) => (
            <li key={w}>{w}</li>
          ))}
        </ul>
      )}
      {s && <Matching />}
      {done.value && <Found d={done.value} />}
    </section>
  );
}

function Matching() {
  const list = steps.value;
  const last = list.at(-1);
  return (
    <div class="matching">
      {running.value ? (
        <button type="button" onClick={cancel}>stop</button>
      ) : (
        <button type="button" onClick={() => void match()}>match the design to it</button>
      )}
      {last && (
        <p aria-live="polite" class="figure">
          {last.stage}, step {last.iteration}: {withUnit(digits(last.residual_db, 3), "dB")} apart
        </p>
      )}
      {list.length > 1 && <Convergence values={list.map((s) => s.residual_db)} />}
    </div>
  );
}

/** The residual from step to step, as a small line. */
function Convergence({ values }: { values: number[] }) {
  const logs = values.map((v) => Math.log10(Math.max(v, 1e-4)));
  const low = Math.min(...logs);
  const high = Math.max(...logs);
  const points = logs.map((v, i) => `${((i / (logs.length - 1)) * 196 + 2).toFixed(1)},${(2 + (1 - (v - low) / (high - low || 1)) * 32).toFixed(1)}`);
  return (
    <svg class="convergence" width="200" height="36" role="img" aria-label={`Difference from ${digits(values[0]!, 2)} to ${digits(values.at(-1)!, 2)} dB`}>
      <polyline points={points.join(" ")} />
    </svg>
  );
}

const or = (v: number | null): string => (v === null ? "–" : digits(v, 4));

function Found({ d }: { d: Done }) {
  const r = d.result;
  return (
    <>
      <p>
        {withUnit(digits(r.residual_db.drawn, 2), "dB")} apart as drawn, <b>{withUnit(digits(r.residual_db.fitted, 2), "dB")}</b> as fitted.{" "}
        <button type="button" onClick={accept}>put the correction into the design</button>
      </p>
      <div class="scroll" tabIndex={0} role="region" aria-label="Features paired">
        <table>
          <thead>
            <tr>
              <th scope="col">Feature</th>
              <th scope="col">Measured Hz</th>
              <th scope="col">Drawn Hz</th>
              <th scope="col">Fitted Hz</th>
              <th scope="col">Owner</th>
            </tr>
          </thead>
          <tbody>
            {(r.features ?? []).map((f, i) => (
              <tr key={i}>
                <th scope="row">
                  <button type="button" onClick={() => moveCursor(f.measured_hz ?? f.fitted_hz ?? f.drawn_hz ?? 0)}>{f.kind}</button>
                </th>
                <td class="figure">{or(f.measured_hz)}</td>
                <td class="figure">{or(f.drawn_hz)}</td>
                <td class="figure">{or(f.fitted_hz)}</td>
                <td>
                  {f.owner} {f.note && <span class="unit">{f.note}</span>}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {(r.findings ?? []).length > 0 && (
        <ul class="notes">
          {(r.findings ?? []).map((f) => (
            <li key={f.reading}>
              <Named text={f.reading} />
            </li>
          ))}
        </ul>
      )}
      <div class="scroll" tabIndex={0} role="region" aria-label="Dimensions fitted">
        <table>
          <thead>
            <tr>
              <th scope="col">Part</th>
              <th scope="col">Key</th>
              <th scope="col">Drawn</th>
              <th scope="col">Fitted</th>
              <th scope="col">±</th>
              <th scope="col">The sweep</th>
            </tr>
          </thead>
          <tbody>
            {(r.parameters ?? []).map((p) => (
              <tr key={p.part + p.key}>
                <th scope="row" style={{ color: colourOf(p.part) }}>{p.part}</th>
                <td>{p.key}</td>
                <td class="figure">{withUnit(digits(p.drawn, 4), pretty(p.unit))}</td>
                <td class="figure">{withUnit(digits(p.fitted, 4), pretty(p.unit))}</td>
                <td class="figure">{digits(p.standard_error, 2)}</td>
                <td>{p.determined ? "tells it" : "says nothing of it"}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {[...(r.ill_determined ?? []).map((t) => t.reading), ...(r.warnings ?? [])].map((w) => (
        <p key={w} class="unit">
          <Named text={w} />
        </p>
      ))}
    </>
  );
}
