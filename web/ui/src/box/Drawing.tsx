// The standing lines of the cutaway. What moves carries a data- mark, by which
// the animation finds it.
import type { RefObject } from "preact";
import { colourOf } from "../colour";
import type { BlockShape, Layout, Route, Spot } from "./layout";

export function Drawing({ plan, svg }: { plan: Layout; svg: RefObject<SVGSVGElement | null> }) {
  return (
    <svg
      ref={svg}
      viewBox={`0 0 ${plan.width} ${plan.height}`}
      width={plan.width}
      height={plan.height}
      role="img"
      aria-label="Cutaway of the enclosure; the table below holds its numbers"
    >
      {plan.blocks.map((b) => (
        <Air key={b.block.name} shape={b} />
      ))}
      {plan.blocks.map((b) => (
        <Walls key={b.block.name} shape={b} />
      ))}
      {plan.routes.map((r) => (
        <Pipe key={r.name} route={r} />
      ))}
      {plan.spots.map((s) => (
        <PartAt key={s.link.part.name} spot={s} />
      ))}
      {plan.routes.map((r) => r.spot && <PartAt key={r.name} spot={r.spot} routed />)}
      {plan.blocks.map((b) => (
        <Words key={b.block.name} shape={b} />
      ))}
    </svg>
  );
}

function tubePath(s: BlockShape): string {
  const up = s.outline.map(([x, half]) => `${x},${s.axis - half}`);
  const down = [...s.outline].reverse().map(([x, half]) => `${x},${s.axis + half}`);
  return `M${up.join(" L")} L${down.join(" L")} Z`;
}

function Air({ shape: s }: { shape: BlockShape }) {
  if (s.block.kind === "line") {
    return (
      <g>
        <linearGradient id={`air-${s.block.name}`} data-gradient={s.block.name} x1={s.block.turned ? 1 : 0} x2={s.block.turned ? 0 : 1} y1="0" y2="0">
          {Array.from({ length: 13 }, (_, i) => (
            <stop key={i} offset={i / 12} />
          ))}
        </linearGradient>
        <path d={tubePath(s)} fill={`url(#air-${s.block.name})`} />
      </g>
    );
  }
  if (s.block.kind === "chamber") return <rect data-chamber={s.block.name} data-block={s.block.name} x={s.x} y={s.y} width={s.w} height={s.h} class="air" />;
  return <rect data-block={s.block.name} x={s.x} y={s.y} width={s.w} height={s.h} class="junction" />;
}

function Walls({ shape: s }: { shape: BlockShape }) {
  if (s.block.kind === "line") {
    const part = s.block.part;
    const top = s.outline.map(([x, half]) => `${x},${s.axis - half}`).join(" L");
    const bottom = s.outline.map(([x, half]) => `${x},${s.axis + half}`).join(" L");
    const closedLeft = (s.block.turned ? part.to : part.from) === "closed";
    const closedRight = (s.block.turned ? part.from : part.to) === "closed";
    const first = s.outline[0]!;
    const last = s.outline.at(-1)!;
    return (
      <g class="wall" data-block={s.block.name}>
        <path d={`M${top}`} />
        <path d={`M${bottom}`} />
        {closedLeft && <path d={`M${first[0]},${s.axis - first[1]} V${s.axis + first[1]}`} />}
        {closedRight && <path d={`M${last[0]},${s.axis - last[1]} V${s.axis + last[1]}`} />}
        <Grains name={s.block.name} line={s} />
        {!closedLeft && <path class="opening" d={`M${first[0]},${s.axis - first[1] + 3} V${s.axis + first[1] - 3}`} />}
        {!closedRight && <path class="opening" d={`M${last[0]},${s.axis - last[1] + 3} V${s.axis + last[1] - 3}`} />}
      </g>
    );
  }
  return <rect class={s.block.kind === "junction" ? "wall knot" : "wall"} x={s.x} y={s.y} width={s.w} height={s.h} />;
}

/** Specks of air along a line, each moved by the air where it is. */
function Grains({ name, line }: { name: string; line: BlockShape }) {
  const count = Math.max(6, Math.round(line.w / 24));
  const colour = colourOf(name);
  return (
    <g class="grains" data-line={name} data-turned={line.block.turned ? "1" : ""} fill={colour}>
      {Array.from({ length: count }, (_, i) => {
        const u = (i + 0.5) / count;
        return <circle key={i} data-at={line.block.turned ? 1 - u : u} cx={line.x + u * line.w} cy={line.axis + ((i % 3) - 1) * 4} r="2.3" />;
      })}
    </g>
  );
}

function Pipe({ route }: { route: Route }) {
  const d = "M" + route.points.map((p) => p.join(",")).join(" L");
  return (
    <g class="pipe" data-pipe={route.name}>
      <path class="pipe-wall" d={d} />
      <path class="pipe-bore" d={d} />
    </g>
  );
}

function PartAt({ spot: s, routed }: { spot: Spot; routed?: boolean }) {
  const part = s.link.part;
  const colour = colourOf(part.name);
  const count = (part.count ?? 1) > 1 ? ` ×${part.count}` : "";
  return (
    <g data-part={part.name}>
      <g transform={`translate(${s.x} ${s.y}) rotate(${s.angle})`}>
        {part.kind === "mount" && <Cone name={part.name} radius={s.thick / 2} colour={colour} />}
        {part.kind === "passive" && <Plate name={part.name} radius={s.thick / 2} colour={colour} />}
        {part.kind === "port" && <Duct name={part.name} reach={s.reach} half={s.thick / 2} colour={colour} open={!routed} />}
        {part.kind === "leak" && <path class="leak" d="M-9,0 q3,-5 6,0 t6,0 t6,0" stroke={colour} />}
      </g>
      <text class="name" x={s.label.x} y={s.label.y} text-anchor={s.label.anchor} fill={colour} data-label={part.name}>
        {cut(part.name + count, s.label.room)}
        <title>{part.name}</title>
      </text>
    </g>
  );
}

function Cone({ name, radius: r, colour }: { name: string; radius: number; colour: string }) {
  return (
    <g>
      <path class="opening" d={`M0,${-r} V${r}`} />
      <path class="frame" d={`M0,${-r} L-20,${-r * 0.5} M0,${r} L-20,${r * 0.5}`} />
      <rect class="magnet" x="-36" y={-r * 0.5} width="16" height={r} />
      <path data-cone={name} data-radius={r} class="cone" stroke={colour} />
      <circle cx="0" cy={-r} r="2.6" class="rim" />
      <circle cx="0" cy={r} r="2.6" class="rim" />
    </g>
  );
}

function Plate({ name, radius: r, colour }: { name: string; radius: number; colour: string }) {
  return (
    <g>
      <path class="opening" d={`M0,${-r} V${r}`} />
      <path data-plate={name} data-radius={r} class="cone" stroke={colour} />
      <circle cx="0" cy={-r} r="2.6" class="rim" />
      <circle cx="0" cy={r} r="2.6" class="rim" />
    </g>
  );
}

function Duct({ name, reach, half, colour, open }: { name: string; reach: number; half: number; colour: string; open: boolean }) {
  const grains = Math.max(4, Math.min(9, Math.round(reach / 4)));
  return (
    <g>
      {open && <rect class="bore" x={-reach} y={-half} width={2 * reach} height={2 * half} />}
      {open && <path class="duct" d={`M${-reach},${-half} H${reach} M${-reach},${half} H${reach}`} />}
      <g data-port={name} fill={colour} class="grains">
        {Array.from({ length: grains }, (_, i) => (
          <circle key={i} cx={-reach + ((i + 0.5) * 2 * reach) / grains} cy={((i % 2) - 0.5) * Math.min(half, 8)} r="2.3" />
        ))}
      </g>
    </g>
  );
}

function Words({ shape: s }: { shape: BlockShape }) {
  const colour = colourOf(s.block.name);
  const part = s.block.part;
  if (s.block.kind === "line") {
    return (
      <text class="name" x={s.x + s.w / 2} y={s.y - 7} text-anchor="middle" fill={colour} data-label={s.block.name}>
        {cut(s.block.name + (s.enlarged ? " *" : ""), s.w)}
        <title>{s.block.name}</title>
      </text>
    );
  }
  const y = s.y + s.top;
  return (
    <g class="words">
      <text class="name" x={s.x + 8} y={y + 17} fill={colour} data-label={s.block.name}>
        {cut(s.block.name + (s.enlarged ? " *" : ""), s.w - 14)}
        <title>{s.block.name}</title>
      </text>
      <text class="value" x={s.x + 8} y={y + 31}>
        {cut(s.block.kind === "junction" ? "junction" : (part.shown ?? ""), s.w - 14)}
      </text>
      {s.block.kind === "chamber" && <text class="value" x={s.x + 8} y={y + 45} data-pressure={s.block.name} />}
    </g>
  );
}

const ruler = document.createElement("canvas").getContext("2d")!;
ruler.font = "600 12px system-ui, sans-serif";

/** A name cut to the room it has. */
export function cut(text: string, room: number): string {
  if (ruler.measureText(text).width <= room) return text;
  let n = text.length;
  while (n > 1 && ruler.measureText(text.slice(0, n) + "…").width > room) n--;
  return text.slice(0, n) + "…";
}
