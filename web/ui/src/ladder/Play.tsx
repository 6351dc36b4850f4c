// The signals to play: planned inside what is safe, with a sheet of what to set.
import { useSignal } from "@preact/signals";
import { call, wordsOf } from "../api/client";
import { withUnit } from "../format";
import { offer } from "../state/files";
import { idle } from "../state/loop";
import { sheet, tell } from "../state/store";
import type { Planned } from "../api/types";

const asked = { steps: "8", span_db: "21", top_v: "", ramp_s: "" };

export function Play() {
  const form = useSignal(asked);
  const made = useSignal<Planned | null>(null);
  const fault = useSignal("");
  const busy = useSignal(false);

  const plan = async (): Promise<void> => {
    await idle();
    const s = sheet.value;
    if (!s) return;
    busy.value = true;
    made.value = null;
    fault.value = "";
    const numbers = Object.fromEntries(Object.entries(form.value).map(([key, text]) => [key, Number(text.replace(",", "."))]).filter(([, v]) => Number(v) > 0));
    try {
      made.value = await call("post", "/api/session", { body: { name: s.name, text: s.text, reference_s: 15, ...numbers } });
    } catch (f) {
      fault.value = f instanceof Error ? f.message : String(f);
    }
    busy.value = false;
  };
  const field = (key: keyof typeof asked, words: string) => (
    <label>
      {words} <input inputMode="decimal" value={form.value[key]} onInput={(e) => (form.value = { ...form.value, [key]: e.currentTarget.value })} />
    </label>
  );
  const m = made.value;
  return (
    <details class="twin play">
      <summary>The signals to play</summary>
      <form
        class="options"
        onSubmit={(e) => {
          e.preventDefault();
          void plan();
        }}
      >
        {field("steps", "steps of each tone")}
        {field("span_db", "dB from the softest to the loudest")}
        {field("top_v", "at most V")}
        {field("ramp_s", "or as a ramp of s")}
        <button type="submit" disabled={busy.value}>plan them</button>
      </form>
      {fault.value && <p class="fault" role="alert">{fault.value}</p>}
      {m && (
        <>
          <p>
            <button type="button" onClick={() => void sound(m)}>the sound, WAV, {withUnit(String(Math.round(m.seconds)), "s")}</button>{" "}
            <button type="button" onClick={() => offer(new Blob([m.plan], { type: "application/json" }), `${m.name}.json`)}>the plan, to read the recording by</button>{" "}
            <button type="button" onClick={() => offer(new Blob([m.sheet], { type: "text/plain" }), `${m.name}.txt`)}>the sheet</button>
          </p>
          <pre class="scroll" tabIndex={0} aria-label="What to set and to beware of">{m.sheet}</pre>
        </>
      )}
    </details>
  );
}

async function sound(m: Planned): Promise<void> {
  const answer = await fetch("./api/sound", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ plan: m.plan }) }).catch(() => null);
  if (answer?.ok) offer(await answer.blob(), `${m.name}.wav`);
  else tell(answer ? await wordsOf(answer) : "The server does not answer. Is it still running?", true);
}
