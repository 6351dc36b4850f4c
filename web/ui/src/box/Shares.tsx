import { colourOf } from "../colour";

/** Whose the energy is, as a bar of names. */
export function Shares({ name, shares }: { name: string; shares: Record<string, number> }) {
  const list = Object.entries(shares)
    .filter(([, share]) => share >= 0.01)
    .sort((a, b) => b[1] - a[1]);
  if (list.length === 0) return null;
  return (
    <div class="shares">
      <span>{name}</span>
      <ul>
        {list.map(([part, share]) => (
          <li key={part} style={{ flexGrow: share, color: colourOf(part) }} title={`${part} ${Math.round(share * 100)} %`}>
            {share > 0.02 * (part.length + 5) && (
              <>
                <b>{part}</b> <span class="figure">{Math.round(share * 100)}&#8239;%</span>
              </>
            )}
          </li>
        ))}
      </ul>
    </div>
  );
}
