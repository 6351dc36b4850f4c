// Moves the cutaway: a handful of attributes each frame, outside of the
// component tree.
import { effect } from "@preact/signals";
import { pressed } from "../colour";
import { fixed } from "../format";
import { still } from "../state/store";
import { along, PERIOD, play, scalesOf, type Play } from "./motion";

export interface Stage {
  stop(): void;
}

const calm = window.matchMedia("(prefers-reduced-motion: reduce)");
const print = window.matchMedia("print");

interface Movers {
  chambers: [string, SVGElement][];
  cones: [string, SVGElement, number][];
  plates: [string, SVGElement, number][];
  ports: [string, SVGElement][];
  lines: [string, SVGElement[], boolean][];
  gradients: [string, SVGElement[]][];
  words: [string, SVGElement][];
}

export function animate(svg: SVGSVGElement | null): Stage {
  if (!svg) return { stop: () => {} };
  const movers = find(svg);
  let frame = 0;
  let running = false;
  let begun = 0;

  const draw = (turn: number): void => {
    const p = play.peek();
    if (p) pose(movers, p, turn);
  };
  const standing = (): boolean => still.peek() || calm.matches || print.matches;
  const tick = (now: number): void => {
    if (!running) return;
    if (begun === 0) begun = now;
    draw(((now - begun) / 1000 / PERIOD) % 1);
    frame = requestAnimationFrame(tick);
  };
  const decide = (): void => {
    const move = !standing() && !document.hidden;
    if (move && !running) {
      running = true;
      frame = requestAnimationFrame(tick);
    } else if (!move) {
      running = false;
      cancelAnimationFrame(frame);
      const p = play.peek();
      if (p) draw(p.telling);
    }
  };
  const unfollow = effect(() => {
    void still.value;
    void play.value;
    decide();
  });
  const again = (): void => decide();
  calm.addEventListener("change", again);
  print.addEventListener("change", again);
  document.addEventListener("visibilitychange", again);
  return {
    stop() {
      running = false;
      cancelAnimationFrame(frame);
      unfollow();
      calm.removeEventListener("change", again);
      print.removeEventListener("change", again);
      document.removeEventListener("visibilitychange", again);
    },
  };
}

function find(svg: SVGSVGElement): Movers {
  const all = (name: string): SVGElement[] => [...svg.querySelectorAll<SVGElement>(`[data-${name}]`)];
  const named = (name: string): [string, SVGElement][] => all(name).map((e) => [e.dataset[name]!, e]);
  return {
    chambers: named("chamber"),
    cones: named("cone").map(([n, e]) => [n, e, Number(e.dataset["radius"])]),
    plates: named("plate").map(([n, e]) => [n, e, Number(e.dataset["radius"])]),
    ports: named("port"),
    lines: named("line").map(([n, e]) => [n, [...e.children] as SVGElement[], e.dataset["turned"] === "1"]),
    gradients: named("gradient").map(([n, e]) => [n, [...e.children] as SVGElement[]]),
    words: named("pressure"),
  };
}

function pose(v: Movers, p: Play, turn: number): void {
  const full = p.pressure || 1;
  const px = scalesOf(p).pxPerMm;
  for (const [name, e] of v.chambers) e.setAttribute("fill", pressed((p.chambers[name]?.(turn) ?? 0) / full));
  for (const [name, e] of v.words) {
    const now = p.chambers[name]?.(turn) ?? 0;
    const text = (now >= 0 ? "+" : "") + fixed(now, full < 10 ? 1 : 0) + " Pa";
    if (e.textContent !== text) e.textContent = text;
  }
  for (const [name, e, r] of v.cones) {
    const x = (p.cones[name]?.(turn) ?? 0) * px;
    e.setAttribute("d", `M0,${-r} Q${x / 2 + 4},${-r + 1} ${x - 1},${-r + 6} L${x - 16},${-r * 0.3} Q${x - 11},0 ${x - 16},${r * 0.3} L${x - 1},${r - 6} Q${x / 2 + 4},${r - 1} 0,${r}`);
  }
  for (const [name, e, r] of v.plates) {
    const x = (p.cones[name]?.(turn) ?? 0) * px;
    e.setAttribute("d", `M0,${-r} Q${x / 2 + 4},${-r + 1} ${x},${-r + 6} V${r - 6} Q${x / 2 + 4},${r - 1} 0,${r} M${x - 4},${-r + 8} V${r - 8}`);
  }
  for (const [name, e] of v.ports) {
    const places = p.ducts[name];
    if (!places?.length) continue;
    e.setAttribute("transform", `translate(${(along(places, 0.5, "travel", turn) * px).toFixed(2)} 0)`);
  }
  for (const [name, grains, turned] of v.lines) {
    const places = p.ducts[name];
    if (!places?.length) continue;
    for (const g of grains) {
      const x = along(places, Number(g.dataset["at"]), "travel", turn) * px * (turned ? -1 : 1);
      g.setAttribute("transform", `translate(${x.toFixed(2)} 0)`);
    }
  }
  for (const [name, stops] of v.gradients) {
    const places = p.ducts[name];
    if (!places?.length) continue;
    stops.forEach((e, i) => e.setAttribute("stop-color", pressed(along(places, i / (stops.length - 1), "pressure", turn) / full)));
  }
}
