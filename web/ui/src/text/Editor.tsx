// The design's text, in step with everything else. Errors stand in their line.
import { useEffect, useRef } from "preact/hooks";
import type { Problem } from "../api/types";
import { retype } from "../state/history";
import { latestProblems, sheet } from "../state/store";

export function Editor() {
  const s = sheet.value;
  const area = useRef<HTMLTextAreaElement>(null);
  const back = useRef<HTMLPreElement>(null);
  const gutter = useRef<HTMLDivElement>(null);
  const follow = (): void => {
    const a = area.current!;
    back.current!.style.transform = `translate(${-a.scrollLeft}px, ${-a.scrollTop}px)`;
    gutter.current!.style.transform = `translateY(${-a.scrollTop}px)`;
  };
  useEffect(() => {
    // A text that changed by other means keeps the place and the caret.
    const a = area.current;
    if (!a || !s || a.value === s.text) return;
    const { selectionStart, selectionEnd, scrollTop } = a;
    a.value = s.text;
    if (document.activeElement === a) a.setSelectionRange(selectionStart, selectionEnd);
    a.scrollTop = scrollTop;
    follow();
  });
  if (!s) return null;
  const lines = s.text.split("\n");
  const problems = latestProblems.value;
  const at = new Map<number, Problem[]>();
  for (const p of problems) at.set(p.line, [...(at.get(p.line) ?? []), p]);
  const go = (p: Problem): void => {
    const a = area.current!;
    const from = offset(lines, p.line, p.column);
    const to = Math.max(from + 1, offset(lines, p.end_line, p.end_column));
    a.focus();
    a.setSelectionRange(from, to);
    a.scrollTop = Math.max(0, (p.line - 6) * 20);
  };
  return (
    <section class="editor" aria-labelledby="text-title">
      <header>
        <h2 id="text-title">Design text</h2>
        <p class="aside">{s.name}</p>
      </header>
      <div class="sheet">
        <div class="gutter" aria-hidden="true">
          <div ref={gutter}>
            {lines.map((_, i) => (
              <span key={i} class={at.has(i + 1) ? "bad" : ""}>
                {i + 1}
              </span>
            ))}
          </div>
        </div>
        <div class="page">
          <pre ref={back} aria-hidden="true">
            {lines.map((line, i) => {
              const here = at.get(i + 1);
              return <Line key={i} text={line} problems={here} />;
            })}
          </pre>
          <textarea
            ref={area}
            aria-label="Design text"
            aria-invalid={problems.some((p) => !p.warning)}
            aria-describedby="text-problems"
            spellcheck={false}
            autocomplete="off"
            autocapitalize="off"
            wrap="off"
            defaultValue={s.text}
            onInput={(e) => retype(e.currentTarget.value)}
            onScroll={follow}
          />
        </div>
      </div>
      <ul id="text-problems" class="problems" aria-live="polite">
        {problems.map((p, i) => (
          <li key={i}>
            <button type="button" onClick={() => go(p)}>
              line {p.line}
            </button>{" "}
            <b>{p.summary}.</b> {p.detail}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Line({ text, problems }: { text: string; problems: Problem[] | undefined }) {
  if (!problems) return <>{text + "\n"}</>;
  const p = problems[0]!;
  const letters = [...text];
  const from = Math.max(0, p.column - 1);
  const to = p.end_line > p.line ? letters.length : Math.max(from + 1, p.end_column - 1);
  return (
    <>
      {letters.slice(0, from).join("")}
      <mark>{letters.slice(from, to).join("") || " "}</mark>
      {letters.slice(to).join("")}
      <em>{"   ← " + p.summary.toLowerCase()}</em>
      {"\n"}
    </>
  );
}

/** The place of a line and column, counted in characters, in the text. */
function offset(lines: string[], line: number, column: number): number {
  let at = 0;
  for (let i = 0; i < line - 1 && i < lines.length; i++) at += lines[i]!.length + 1;
  return at + [...(lines[line - 1] ?? "")].slice(0, column - 1).join("").length;
}
