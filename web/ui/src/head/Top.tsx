import { canRedo, canUndo, redo, undo } from "../state/history";
import { download, made, newDesign, openDesign, save, saveAs } from "../state/files";
import { folder, inches, outline, sheet, tell, unsaved } from "../state/store";
import { refresh } from "../state/loop";

function takeAway(menu: HTMLSelectElement): void {
  const [kind, format] = menu.value.split(" ");
  menu.value = "";
  if (kind === "text") download();
  else if (kind === "print") window.print();
  else if (kind === "report" || kind === "plot") void made(kind, format!);
}

export function Top() {
  const s = sheet.value;
  const o = outline.value;
  const listed = folder.value.designs.some((d) => d.name === s?.name);
  return (
    <header class="top">
      <h1>{o?.title || s?.name || "Ocarina"}</h1>
      <p class="setting">{o?.setting}</p>
      <nav aria-label="Design">
        <label>
          <span class="hidden">Open a design</span>
          <select value={s?.name ?? ""} onChange={(e) => void openDesign(e.currentTarget.value).catch((f: Error) => tell(f.message, true))}>
            {s && !listed && <option value={s.name}>{s.name}</option>}
            {folder.value.designs.map((d) => (
              <option key={d.name} value={d.name}>
                {d.title ? `${d.title} (${d.name})` : d.name}
              </option>
            ))}
          </select>
        </label>
        <button type="button" onClick={newDesign}>new</button>
        <button type="button" onClick={() => void save()} disabled={!unsaved.value} aria-keyshortcuts="Control+S">save</button>
        <button type="button" onClick={() => void saveAs()}>save as</button>
        <select aria-label="Take away as a file" class="menu" value="" onChange={(e) => takeAway(e.currentTarget)}>
          <option value="" disabled hidden>
            take away
          </option>
          <option value="text">design file</option>
          <option value="report pdf">report, PDF</option>
          <option value="report html">report, HTML</option>
          <option value="plot svg">curves, SVG</option>
          <option value="plot png">curves, PNG</option>
          <option value="print">print this page</option>
        </select>
        <span class="divider" />
        <button type="button" onClick={undo} disabled={canUndo.value.length === 0} aria-keyshortcuts="Control+Z">undo</button>
        <button type="button" onClick={redo} disabled={canRedo.value.length === 0} aria-keyshortcuts="Control+Shift+Z">redo</button>
        <span class="divider" />
        <button
          type="button"
          onClick={() => {
            inches.value = !inches.value;
            refresh();
          }}
        >
          {inches.value ? "inches" : "metric"}
        </button>
        <span class="state" data-unsaved={unsaved.value}>{unsaved.value ? "not saved" : "saved"}</span>
      </nav>
    </header>
  );
}

