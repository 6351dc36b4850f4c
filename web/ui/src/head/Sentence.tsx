// The state of the box at the cursor, in words.
import { colourOf } from "../colour";
import { hertz } from "../format";
import { cursor, latestProblems, moment, partNames } from "../state/store";

/** Text with the names of parts in their colours. */
export function Named({ text: said }: { text: string }) {
  const text = said.replace(/(^|[\s(])-(?=\d)/g, "$1−");
  const names = [...partNames.value].sort((a, b) => b.length - a.length);
  if (names.length === 0) return <>{text}</>;
  const cut = new RegExp(`(?<![\\w-])(${names.map((n) => n.replace(/[^\w-]/g, "\\$&")).join("|")})(?![\\w-])`, "g");
  return (
    <>
      {text.split(cut).map((piece, i) =>
        i % 2 === 1 ? (
          <b key={i} style={{ color: colourOf(piece) }}>
            {piece}
          </b>
        ) : (
          piece
        ),
      )}
    </>
  );
}

export function Sentence() {
  const m = moment.value;
  if (!m) {
    const bad = latestProblems.value.filter((p) => !p.warning).length;
    return (
      <div class="sentence">
        <p class="reading">{bad ? `The design has ${bad === 1 ? "an error" : `${bad} errors`}; see its text below.` : "…"}</p>
      </div>
    );
  }
  const at = /^(.*?[\d.]+ Hz): /.exec(m.reading);
  const head = at ? at[1]! : hertz(cursor.value);
  const body = at ? m.reading.slice(at[0].length) : m.reading;
  return (
    <div class="sentence" aria-live="polite" aria-atomic="true">
      <p class="reading">
        <b class="figure">{head}</b> <Named text={body.charAt(0).toUpperCase() + body.slice(1)} />
      </p>
      <p class="drive">
        <Named text={m.drive} />
      </p>
    </div>
  );
}
