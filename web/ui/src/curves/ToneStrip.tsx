import { hertz } from "../format";
import { moveCursor } from "../state/loop";
import { chosenTone, cursor, outline } from "../state/store";
import { GUTTER } from "./Chart";
import { span } from "./gestures";

/** The trial tones above the curves; one of them is chosen. */
export function ToneStrip({ width }: { width: number }) {
  const tones = outline.value?.tones_hz ?? [];
  if (tones.length === 0) return null;
  const [from, to] = span();
  let taken = -Infinity;
  return (
    <div class="tone-strip">
      {tones.map((f, i) => {
        const share = Math.log(f / from) / Math.log(to / from);
        if (!(share >= 0 && share <= 1)) return null;
        const x = GUTTER + share * (width - 2 * GUTTER);
        if (x - taken < 30) return null;
        taken = x;
        return (
          <button
            key={i}
            type="button"
            style={{ left: `${x}px` }}
            aria-pressed={chosenTone.value === i}
            data-here={Math.abs(cursor.value / f - 1) < 1e-6}
            aria-label={`tone ${hertz(f)}`}
            onClick={() => {
              chosenTone.value = i;
              moveCursor(f);
            }}
          >
            {Math.round(f * 10) / 10}
          </button>
        );
      })}
      <span>tones</span>
    </div>
  );
}
