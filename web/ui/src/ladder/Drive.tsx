// The drive as a control that goes from step to step of the ladder.
import { digits, fixed, withUnit } from "../format";
import { limitWords } from "../limits";
import { choose, rung, rungs, step } from "./ladder";

export function Drive({ id }: { id: string }) {
  const s = step.value;
  if (!s) return null;
  const beyond = (s.beyond ?? []).map(limitWords).join(", ");
  const state = beyond ? `beyond ${beyond}` : s.safe ? "inside xmax, half the power and the amplifier" : "inside every limit, past what is prescribed";
  const said = `${digits(s.voltage_v, 3)} V${s.level_db === null ? "" : `, ${fixed(s.level_db, 1)} dB`}, ${state}`;
  return (
    <>
      <label for={id}>Drive</label>
      <input id={id} type="range" min={0} max={rungs.value.length - 1} step={1} value={rung.value} aria-valuetext={said} onInput={(e) => choose(Number(e.currentTarget.value))} />
      <output for={id} class="figure">
        <b data-drive>{withUnit(digits(s.voltage_v, 3), "V")}</b>
        {s.level_db !== null && <> · {withUnit(fixed(s.level_db, 1), "dB")}</>} · {withUnit(digits(100 * s.thd_f, 2), "%")} distortion
      </output>
      <p class={beyond ? "state past" : "state"}>
        {state}
        {s.jumped && "; the cone has jumped to another motion"}
        {s.tipped && "; the cone has gone to one side"}
      </p>
    </>
  );
}
