import { conflict, keepMine, takeTheirs } from "../state/files";
import { notice } from "../state/store";

/** What was done, what could not be done, and what has to be decided. */
export function Foot() {
  const c = conflict.value;
  const n = notice.value;
  return (
    <div class="foot" aria-live="polite">
      {c && (
        <div class="conflict" role="alertdialog" aria-labelledby="conflict-words">
          <p id="conflict-words">{c.name} has changed on disk since it was read. Nothing was written.</p>
          <button type="button" onClick={takeTheirs}>take the file's text</button>
          <button type="button" onClick={() => void keepMine()}>write mine over it</button>
          <button type="button" onClick={() => (conflict.value = null)}>decide later</button>
        </div>
      )}
      {n && (
        <p class={n.fault ? "fault" : ""}>
          {n.text}{" "}
          <button type="button" onClick={() => (notice.value = null)} aria-label="Dismiss">
            close
          </button>
        </p>
      )}
    </div>
  );
}
