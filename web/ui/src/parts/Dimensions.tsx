// Every dimension with its value to type, its fine control, and what it would do
// to the chosen tone.
import { useState } from "preact/hooks";
import type { Dimension } from "../api/types";
import { colourOf } from "../colour";
import { digits, hertz, pretty, signed, withUnit } from "../format";
import { change } from "../state/history";
import { chosenTone, outline, tones } from "../state/store";
import { adviceFor, type Advice } from "./changes";
import { Fine } from "./Fine";
import { homeOf } from "./home";
import { PartHead } from "./PartHead";

export function Dimensions() {
  const o = outline.value;
  if (!o) return null;
  const tone = tones.value[chosenTone.value] ?? tones.value[0];
  const groups = groupsOf(o.dimensions);
  const order = [...o.parts.map((p) => p.name), ...groups.map((g) => g.part).filter((p) => !o.parts.some((q) => q.name === p))];
  const advice = new Map<Dimension, Advice>();
  for (const d of o.dimensions) {
    const a = tone ? adviceFor(d, tone.changes ?? []) : null;
    if (a) advice.set(d, a);
  }
  const most = Math.max(0.01, ...[...advice.values()].map((a) => a.db));
  return (
    <section class="dimensions" aria-labelledby="dimensions-title">
      <header>
        <h2 id="dimensions-title">Dimensions</h2>
        {tone && (
          <p class="aside">
            what makes{" "}
            <select aria-label="Tone to make louder" value={chosenTone.value} onChange={(e) => (chosenTone.value = Number(e.currentTarget.value))}>
              {tones.value.map((t, i) => (
                <option key={i} value={i}>
                  {hertz(t.frequency_hz)}
                </option>
              ))}
            </select>{" "}
            louder
          </p>
        )}
      </header>
      {order.map((name) => {
        const list = groups.find((g) => g.part === name)?.list ?? [];
        const part = o.parts.find((p) => p.name === name);
        if (!part && list.length === 0) return null;
        const rows = list.map((d) => <Row key={`${d.part} ${d.key} ${d.index}`} d={d} advice={advice.get(d)} most={most} />);
        if (part) {
          return (
            <div class="part" key={name}>
              <PartHead part={part} />
              {rows}
            </div>
          );
        }
        return (
          <details class="part" key={name} open={list.some((d) => d.kind === "drive")}>
            <summary>
              <b>{name}</b> <span class="unit">{list[0]!.kind === name ? "" : list[0]!.kind}</span>
            </summary>
            {rows}
          </details>
        );
      })}
    </section>
  );
}

function groupsOf(list: Dimension[]): { part: string; list: Dimension[] }[] {
  const groups: { part: string; list: Dimension[] }[] = [];
  for (const d of list) {
    const g = groups.find((v) => v.part === d.part);
    if (g) g.list.push(d);
    else groups.push({ part: d.part, list: [d] });
  }
  return groups;
}

/** A key in words: "section.2.area" is the area of section 2. */
export function keyWords(d: { key: string; index: number; of: number }): string {
  const words = d.key.replace(/\.(\d+)\./, " $1, ").replace(".", ", ").replaceAll("_", " ");
  return d.of > 1 ? `${words} ${d.index + 1}` : words;
}

function Row({ d, advice, most }: { d: Dimension; advice: Advice | undefined; most: number }) {
  const [typing, setTyping] = useState<string | null>(null);
  const label = `${keyWords(d)} of ${d.part}`;
  const colour = colourOf(d.part);
  const put = (value: string): void => change(`${d.part} ${d.key} ${d.index}`, { op: "set", part: d.part, key: d.key, index: d.index, value });
  const putNumber = (v: number): void => put(d.unit ? `${Number(v.toPrecision(12))} ${d.unit}` : String(Number(v.toPrecision(12))));
  const shown = d.unit ? `${d.shown.split(" ")[0]} ${pretty(d.shown.split(" ")[1] ?? "")}`.trim() : d.shown;
  const commit = (): void => {
    if (typing !== null && typing.trim() !== "" && typing !== shown) put(plain(typing));
    setTyping(null);
  };
  return (
    <div class="row" data-dimension={`${d.part}.${d.key}.${d.index}`}>
      <span class="key" title={d.doc}>
        {keyWords(d)}
      </span>
      <input
        type="text"
        class="figure"
        spellcheck={false}
        autocomplete="off"
        aria-label={label}
        value={typing ?? shown}
        onFocus={(e) => {
          setTyping(shown);
          e.currentTarget.select();
        }}
        onInput={(e) => setTyping(e.currentTarget.value)}
        onBlur={commit}
        onKeyDown={(e) => {
          if (e.key === "Enter") {
            commit();
            e.currentTarget.blur();
          } else if (e.key === "Escape") {
            setTyping(null);
            e.currentTarget.blur();
          } else if (e.key === "ArrowUp" || e.key === "ArrowDown") {
            e.preventDefault();
            setTyping(null);
            putNumber(Number((d.value + (e.key === "ArrowUp" ? d.step : -d.step)).toPrecision(10)));
          }
        }}
      />
      <Fine label={`${label}, fine control`} value={d.value} home={homeOf(d)} min={d.min} max={d.max} step={d.step} whole={d.whole ?? false} text={shown} colour={colour} onChange={putNumber} />
      {advice ? (
        <button type="button" class="advice" onClick={() => putNumber(Number((d.value + advice.step).toPrecision(10)))} title="Do it">
          <i class={advice.step > 0 ? "arrow up" : "arrow down"} style={{ opacity: 0.35 + 0.65 * Math.min(1, advice.db / most) }} aria-hidden="true" />
          <span>
            {withUnit(digits(Math.abs(advice.step), 1), pretty(d.unit))} {advice.word}
          </span>{" "}
          <b class="figure">{withUnit(signed(advice.db, advice.db < 0.1 ? 2 : 1), "dB")}</b>
        </button>
      ) : (
        <span class="advice none" />
      )}
    </div>
  );
}

/** What people type for units, as the design file spells them. */
function plain(text: string): string {
  return text.trim().replace(",", ".").replace("²", "2").replace("³", "3").replace("Ω", "ohm").replace("µ", "u").replace("·", "*").replace(/°\s*/, "").replace(/\u202f|\u00a0/g, " ").replace(/″|”|"/, "in");
}

