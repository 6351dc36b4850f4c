// A part's name with its colour, and what it joins.
import { useState } from "preact/hooks";
import type { Edit, Part } from "../api/types";
import { colourOf } from "../colour";
import { change, endGesture } from "../state/history";
import { outline } from "../state/store";

const ENDS: Record<string, [string, string] | undefined> = {
  port: ["from", "to"],
  line: ["from", "to"],
  leak: ["from", "to"],
  mount: ["rear", "front"],
  passive: ["rear", "front"],
};

/** The places a part can be joined to. */
export function places(kind: string): string[] {
  const parts = outline.value?.parts ?? [];
  return ["outside", ...(kind === "line" ? ["closed"] : []), ...parts.filter((p) => p.kind === "chamber" || p.kind === "junction").map((p) => `${p.kind}.${p.name}`)];
}

export const placeWords = (place: string): string => place.replace(/^(chamber|junction)\./, "");

export function PartHead({ part }: { part: Part }) {
  const ends = ENDS[part.kind];
  return (
    <div class="part-head">
      <i class={`dot ${part.kind}`} style={{ color: colourOf(part.name) }} aria-hidden="true" />
      <b style={{ color: colourOf(part.name) }}>{part.name}</b>
      <span class="unit">
        {part.kind === "mount" ? `driver ${part.driver}` : part.kind}
        {part.kind === "chamber" && part.shown ? ` ${part.shown}` : ""}
        {(part.count ?? 1) > 1 ? ` ×${part.count}` : ""}
      </span>
      {ends && (
        <span class="joins">
          {ends.map((key, i) => (
            <label key={key}>
              <span>{key}</span>
              <select aria-label={`${key} of ${part.name}`} value={(i === 0 ? part.from : part.to) ?? ""} onChange={(e) => join(part, key, e.currentTarget.value)}>
                {places(part.kind).map((p) => (
                  <option key={p} value={p}>
                    {placeWords(p)}
                  </option>
                ))}
              </select>
            </label>
          ))}
        </span>
      )}
      <Remove part={part} />
    </div>
  );
}

function join(part: Part, key: string, place: string): void {
  endGesture();
  change(`join ${part.name}`, { op: "join", part: part.name, key, value: place });
  endGesture();
}

function Remove({ part }: { part: Part }) {
  return (
    <button
      type="button"
      class="remove"
      aria-label={`Remove ${part.name}`}
      onClick={() => {
        endGesture();
        change(`remove ${part.name}`, { op: "remove", part: part.name });
        endGesture();
      }}
    >
      remove
    </button>
  );
}

/** A form for a part that is not there yet. */
export function AddPart() {
  const [kind, setKind] = useState("port");
  const [name, setName] = useState("");
  const [asked, setFrom] = useState("");
  const [askedTo, setTo] = useState("outside");
  const ends = ENDS[kind];
  const list = places(kind);
  const space = kind === "chamber" || kind === "junction"; // of use only if something leads there
  const first = list.find((p) => p.startsWith("chamber.")) ?? "outside";
  // A place chosen before may be gone by now.
  const from = list.includes(asked) ? asked : first;
  const to = list.includes(askedTo) ? askedTo : "outside";
  const submit = (e: Event): void => {
    e.preventDefault();
    endGesture();
    const called = name.trim() || free(kind);
    const edits: Edit[] = [{ op: "add", key: kind, part: called, ...(ends ? { value: from, other: to } : {}) }];
    if (space) edits.push({ op: "add", key: "port", part: `${called}-port`, value: from, other: `${kind}.${called}` });
    change("add", ...edits);
    endGesture();
    setName("");
  };
  return (
    <form class="add" onSubmit={submit}>
      <b>Add</b>
      <select aria-label="Kind of part to add" value={kind} onChange={(e) => setKind(e.currentTarget.value)}>
        {["chamber", "port", "line", "mount", "passive", "junction", "leak", "driver"].map((k) => (
          <option key={k}>{k}</option>
        ))}
      </select>
      <input aria-label="Name of the new part" placeholder={free(kind)} value={name} maxLength={60} pattern="[A-Za-z][A-Za-z0-9_\-]*" onInput={(e) => setName(e.currentTarget.value)} />
      {ends && (
        <>
          <Place label={ends[0]} list={list} value={from} set={setFrom} />
          <Place label={ends[1]} list={list} value={to} set={setTo} />
        </>
      )}
      {space && <Place label="by a port from" list={list} value={from} set={setFrom} />}
      <button type="submit">add</button>
    </form>
  );
}

function Place({ label, list, value, set }: { label: string; list: string[]; value: string; set: (v: string) => void }) {
  return (
    <label>
      <span>{label}</span>
      <select aria-label={`${label} of the new part`} value={value} onChange={(e) => set(e.currentTarget.value)}>
        {list.map((p) => (
          <option key={p} value={p}>
            {placeWords(p)}
          </option>
        ))}
      </select>
    </label>
  );
}

/** A name nobody has yet. */
function free(kind: string): string {
  const o = outline.value;
  const taken = new Set([...(o?.parts.map((p) => p.name) ?? []), ...(o?.drivers ?? [])]);
  for (let n = 1; ; n++) if (!taken.has(`${kind}${n}`)) return `${kind}${n}`;
}
