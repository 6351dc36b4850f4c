import { canRedo, canUndo, redo, undo } from "../state/history";
import { download, newDesign, openDesign, save, saveAs } from "../state/files";
import { folder, inches, outline, sheet, tell, unsaved } from "../state/store";
import { refresh } from "../state/loop";

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
        <button type="button" onClick={download}>download</button>
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

