// The fine control: a hairline to drag along, arrow keys for single steps. Its
// middle is the value in the file; the ends are half and twice that.
import { useRef } from "preact/hooks";
import { endGesture } from "../state/history";

interface Props {
  label: string;
  value: number;
  home: number; // the value in the file
  min: number;
  max: number;
  step: number;
  whole: boolean;
  text: string;
  colour: string;
  onChange: (value: number) => void;
}

/** A value brought to whole steps, without the dust of binary fractions. */
export function toSteps(value: number, step: number): number {
  return Number((Math.round(value / step) * step).toPrecision(10));
}

export function Fine(p: Props) {
  const track = useRef<HTMLDivElement>(null);
  const share = position(p);
  // The track's ends; a value set elsewhere may lie beyond them.
  const [a, b] = p.home > 0 ? [p.home / 2, p.home * 2] : [p.home - 20 * p.step, p.home + 20 * p.step];
  const low = Number(Math.min(a, p.value).toPrecision(6));
  const high = Number(Math.max(b, p.value).toPrecision(6));
  const put = (v: number, step: number): void => {
    const next = Math.min(p.max, Math.max(p.min, toSteps(v, step)));
    if (next !== p.value && Number.isFinite(next)) p.onChange(next);
  };
  const key = (e: KeyboardEvent): void => {
    const way = e.key === "ArrowRight" || e.key === "ArrowUp" ? 1 : e.key === "ArrowLeft" || e.key === "ArrowDown" ? -1 : 0;
    const fine = e.shiftKey && !p.whole ? p.step / 10 : p.step;
    if (way !== 0 && !e.ctrlKey && !e.altKey) put(p.value + way * fine, fine);
    else if (e.key === "PageUp") put(p.value + 10 * p.step, p.step);
    else if (e.key === "PageDown") put(p.value - 10 * p.step, p.step);
    else if (e.key === "Home") put(p.home, p.step / 1000);
    else return;
    e.preventDefault();
  };
  const press = (e: PointerEvent): void => {
    if (e.button !== 0) return;
    const line = track.current!;
    line.setPointerCapture(e.pointerId);
    line.focus();
    const width = line.clientWidth;
    const from = p.value;
    const start = e.clientX;
    const now = { ...p };
    const move = (m: PointerEvent): void => {
      const part = (m.clientX - start) / width;
      const fine = m.shiftKey && !p.whole ? 0.1 : 1;
      const step = p.step * (fine < 1 ? 0.1 : p.whole ? 1 : 0.2);
      const v = from > 0 && p.home > 0 ? from * Math.pow(2, 2 * part * fine) : from + part * fine * p.step * 40;
      const next = Math.min(p.max, Math.max(p.min, toSteps(v, step)));
      if (next !== now.value) {
        now.value = next;
        p.onChange(next);
      }
    };
    const end = (): void => {
      line.removeEventListener("pointermove", move);
      line.removeEventListener("pointerup", end);
      line.removeEventListener("pointercancel", end);
      endGesture();
    };
    line.addEventListener("pointermove", move);
    line.addEventListener("pointerup", end);
    line.addEventListener("pointercancel", end);
  };
  return (
    <div
      ref={track}
      class="fine"
      role="slider"
      tabIndex={0}
      aria-label={p.label}
      aria-valuemin={low}
      aria-valuemax={high}
      aria-valuenow={p.value}
      aria-valuetext={p.text}
      data-moved={Math.abs(share - 0.5) > 0.002}
      onKeyDown={key}
      onPointerDown={press}
    >
      <i class="rule" />
      <i class="home" />
      <i class="knob" style={{ left: `${share * 100}%`, borderColor: p.colour }} />
    </div>
  );
}

function position(p: Props): number {
  if (p.home > 0 && p.value > 0) return Math.min(1, Math.max(0, 0.5 + Math.log2(p.value / p.home) / 2));
  return Math.min(1, Math.max(0, 0.5 + (p.value - p.home) / (p.step * 40)));
}
