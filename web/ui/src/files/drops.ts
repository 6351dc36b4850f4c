// Files dropped on the page go to the part that can read them.
import { take as takeRecording, wanted } from "../ladder/recording";
import { take as takeSweep } from "../sweep/matching";

/** Takes files dropped anywhere on the page. */
export function acceptDrops(): void {
  window.addEventListener("dragover", (e) => {
    if (e.dataTransfer?.types.includes("Files")) e.preventDefault();
  });
  window.addEventListener("drop", (e) => {
    const files = [...(e.dataTransfer?.files ?? [])];
    if (files.length === 0) return;
    e.preventDefault();
    if (wanted(files)) void takeRecording(files);
    else void takeSweep(files[0]!);
  });
}
