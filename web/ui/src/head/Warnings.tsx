import { curves, explanation, outline } from "../state/store";
import { Named } from "./Sentence";

/** Where the model is near the end of what it can describe. */
export function Warnings() {
  const list = [...new Set([...(outline.value?.warnings ?? []), ...(explanation.value?.warnings ?? []), ...(curves.value?.warnings ?? [])])];
  if (list.length === 0) return null;
  return (
    <section class="warnings" aria-labelledby="warnings-title">
      <h2 id="warnings-title">Mind</h2>
      <ul>
        {list.map((w) => (
          <li key={w}>
            <Named text={w} />
          </li>
        ))}
      </ul>
    </section>
  );
}
