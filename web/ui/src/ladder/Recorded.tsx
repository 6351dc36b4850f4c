// A recording of the tones: taken, read, and laid beside what is predicted.
import { digits, fixed, hertz, toneHertz } from "../format";
import type { ComparedTone, Pair, RecordedTone } from "../api/types";
import { Named } from "../head/Sentence";
import { Well } from "../files/Well";
import { chosenTone } from "../state/store";
import { besideTone, choose, ladder, oneTone, rungs, same, step } from "./ladder";
import { again, compared, drop, fault, options, planName, reading, recorded, take, waveName } from "./recording";

export function Recorded() {
  const r = recorded.value;
  return (
    <div
      class="recorded"
      onDrop={(e) => {
        const files = [...(e.dataTransfer?.files ?? [])];
        if (files.length === 0) return;
        e.preventDefault();
        e.stopPropagation();
        void take(files);
      }}
    >
      <header>
        <h3>Beside a recording</h3>
        {(waveName.value || planName.value) && (
          <p class="aside">
            <button type="button" onClick={drop}>take it away</button>
          </p>
        )}
      </header>
      <Well label="Recording and its plan" accept=".wav,.json" multiple take={(files) => void take(files)}>
        {waveName.value || planName.value ? (
          <>
            <b>{waveName.value || "no recording yet"}</b>
            {planName.value ? ` by the plan ${planName.value}` : ", no plan yet: drop the .json beside its sound to know the drives"}.
            {r && ` ${digits(r.report.seconds, 3)} s read.`} Drop others to replace them.
          </>
        ) : (
          <>Drop a recording here, a WAV of stepped tones, together with the plan that <code>tones make</code> wrote, or choose both.</>
        )}
      </Well>
      {(r || fault.value) && <Options />}
      {reading.value && <p aria-live="polite">Reading…</p>}
      {fault.value && <pre class="fault" role="alert">{fault.value}</pre>}
      {r && (r.report.warnings ?? []).length > 0 && (
        <ul class="notes">
          {r.report.warnings!.map((w) => (
            <li key={w}>{capital(w)}.</li>
          ))}
        </ul>
      )}
      {r && !r.report.calibration && (
        <p class="unit">No calibrator's tone was found: levels are in dB re full scale, and only what is relative is compared.</p>
      )}
      {compared.value && <Readings />}
      {besideTone.value && <BesideTable told={besideTone.value.told} />}
      {r && <Takes tones={r.report.tones ?? []} calibrated={!!r.report.calibration} />}
    </div>
  );
}

function Options() {
  const field = (key: keyof typeof options.value, words: string) => (
    <label>
      {words} <input inputMode="decimal" value={options.value[key]} onInput={(e) => (options.value = { ...options.value, [key]: e.currentTarget.value })} />
    </label>
  );
  return (
    <details class="twin">
      <summary>What else is known of the recording</summary>
      <form
        class="options"
        onSubmit={(e) => {
          e.preventDefault();
          void again();
        }}
      >
        {field("channel", "channel to read")}
        {field("calibrator_db", "level of the calibrator, dB")}
        {field("full_scales_per_pa", "full scales for a pascal")}
        {field("drive_channel", "channel of the drive")}
        {field("drive_full_scale_v", "volts of its full scale")}
        <button type="submit">read again</button>
      </form>
    </details>
  );
}

function Readings() {
  return (
    <ul class="notes told">
      {(compared.value!.comparison.tones ?? []).map((t) => (
        <li key={t.frequency_hz}>
          <button
            type="button"
            class="plainly"
            onClick={() => {
              const i = (ladder.value?.tones ?? []).findIndex((one) => oneTone(one.frequency_hz, t.frequency_hz));
              if (i >= 0) chosenTone.value = i;
            }}
          >
            <Named text={t.reading} />
          </button>
        </li>
      ))}
      {(compared.value!.comparison.missing_hz ?? []).map((f) => (
        <li key={f}>{hertz(f)}: its drives are not known, so it is not compared.</li>
      ))}
    </ul>
  );
}

type Told = NonNullable<ComparedTone["steps"]>[number];

function BesideTable({ told }: { told: ComparedTone }) {
  const cells = (p: Pair | undefined, decimals: number, scale = 1) => [
    <td key="p">{p ? fixed(p.predicted * scale, decimals) : "–"}</td>,
    <td key="r" class="heard">{p?.recorded != null ? fixed(p.recorded * scale, decimals) : "–"}</td>,
  ];
  const harmonic = (s: Told, k: number) => {
    const h = s.harmonics_db?.[k];
    return [
      <td key="p">{h && h.predicted >= s.floor_db ? fixed(h.predicted, 1) : "–"}</td>,
      <td key="r" class="heard">{h?.recorded != null && h.recorded > s.floor_db + 3 ? fixed(h.recorded, 1) : "–"}</td>,
    ];
  };
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="Predicted and recorded">
      <table class="beside">
        <thead>
          <tr>
            <th scope="col" rowSpan={2}>V</th>
            {["Level dB", "Lag dB", "THD %", "H2 dB", "H3 dB", "Asymmetry %"].map((h) => (
              <th scope="colgroup" colSpan={2} key={h}>{h}</th>
            ))}
          </tr>
          <tr>
            {Array.from({ length: 6 }, (_, i) => [
              <th scope="col" key={`p${i}`}>predicted</th>,
              <th scope="col" key={`r${i}`} class="heard">recorded</th>,
            ])}
          </tr>
        </thead>
        <tbody>
          {(told.steps ?? []).map((s) => (
            <tr key={s.voltage_v} aria-current={step.value && same(step.value.voltage_v, s.voltage_v) ? "true" : undefined}>
              <th scope="row">
                <button type="button" class="figure" onClick={() => choose(rungs.value.findIndex((r) => same(r.voltage_v, s.voltage_v)))}>
                  {digits(s.voltage_v, 3)}
                </button>
              </th>
              {cells(s.level_db, 1)}
              {cells(s.compression_db, 2)}
              {cells(s.thd_f, 2, 100)}
              {harmonic(s, 0)}
              {harmonic(s, 1)}
              {cells(s.asymmetry, 1, 100)}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

/** The recording by itself, as it was read. */
function Takes({ tones, calibrated }: { tones: RecordedTone[]; calibrated: boolean }) {
  const harmonic = (h: { rms: number; error_rms: number; relative_db: number } | undefined): string => (!h ? "–" : h.rms < 2 * h.error_rms ? `<${fixed(h.relative_db, 0)}` : fixed(h.relative_db, 0));
  return (
    <details class="twin" open={!compared.value}>
      <summary>The recording by itself</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label="The recording by itself">
        <table>
          <thead>
            <tr>
              <th scope="col">Tone</th>
              <th scope="col">At s</th>
              <th scope="col">Drive V</th>
              <th scope="col">{calibrated ? "dB re 20 µPa" : "dB re full scale"}</th>
              <th scope="col">H2 dB</th>
              <th scope="col">H3 dB</th>
              <th scope="col">THD %</th>
              <th scope="col">± %</th>
              <th scope="col">THD+N %</th>
              <th scope="col">Signs</th>
            </tr>
          </thead>
          <tbody>
            {tones.flatMap((t, n) =>
              (t.steps ?? []).map((s, k) => (
                <tr key={`${n} ${k}`}>
                  <th scope="row">{toneHertz(t.frequency_hz)}</th>
                  <td>{fixed(s.start_s, 1)}</td>
                  <td>{s.drive_db === null ? "–" : digits(Math.pow(10, s.drive_db / 20), 3)}</td>
                  <td>{s.harmonics?.[0] ? fixed(s.harmonics[0].level_db, 2) : "–"}</td>
                  <td>{harmonic(s.harmonics?.[1])}</td>
                  <td>{harmonic(s.harmonics?.[2])}</td>
                  <td>{digits(100 * s.thd_f, 3)}</td>
                  <td>{digits(100 * s.thd_error, 1)}</td>
                  <td>{digits(100 * s.thd_n, 3)}</td>
                  <td class="past">
                    {[t.deformed?.step === k ? `first deformed: ${(t.deformed.causes ?? []).join(", ")}` : "", s.rattle ? "rattles or buzzes" : "", s.clipped_samples > 0 ? "the recorder clips" : ""].filter(Boolean).join("; ")}
                  </td>
                </tr>
              )),
            )}
          </tbody>
        </table>
      </div>
      {tones[0] && <p class="unit">{capital(tones[0].deformed_means)}.</p>}
    </details>
  );
}

const capital = (s: string): string => s.charAt(0).toUpperCase() + s.slice(1);
