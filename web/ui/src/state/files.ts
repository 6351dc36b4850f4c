// Opening and saving. A file changed by someone else is never overwritten, and
// another tab's unsaved text is never lost in silence.
import { signal } from "@preact/signals";
import { call, Refusal, wordsOf } from "../api/client";
import { forget } from "./history";
import { idle, refresh } from "./loop";
import { band, chosenTone, cursor, folder, inches, moment, outline, pins, result, sheet, tell, tones, unsaved } from "./store";

/** A save that was refused, with what is in the file now. */
export const conflict = signal<{ name: string; theirs: string; version: string } | null>(null);

export async function loadFolder(): Promise<string> {
  const f = await call("get", "/api/designs");
  folder.value = { path: f.folder, designs: f.designs };
  return f.first;
}

export async function openDesign(name: string): Promise<void> {
  if (unsaved.value && !window.confirm("The design shown is not saved. Leave it?")) {
    sheet.value = sheet.value && { ...sheet.value }; // the list shows the old name again
    return;
  }
  const opened = await call("get", "/api/designs/{name}", { name });
  begin(opened.name, opened.text, opened.version);
  await idle();
  place();
}

function begin(name: string, text: string, version: string): void {
  sheet.value = { name, text, version, saved: version === "" ? "" : text };
  result.value = null;
  moment.value = null;
  band.value = null;
  pins.value = [];
  chosenTone.value = 0;
  conflict.value = null;
  forget();
  history.replaceState(null, "", `#${encodeURIComponent(name)}`);
  refresh();
}

/** Puts the cursor on the first dip, where a box says most. */
function place(): void {
  const o = outline.value;
  if (!o) return;
  const dip = result.value?.explain?.features?.find((f) => f.kind === "dip" && !f.coil);
  cursor.value = dip?.frequency_hz ?? tones.value[0]?.frequency_hz ?? cursor.value;
  refresh();
}

const FRESH = `title = "New box"

driver "woofer" {
  re    = "5.6 ohm"
  le    = "0.6 mH"
  sd    = "210 cm2"
  fs    = "38 Hz"
  qms   = 5
  qes   = 0.45
  vas   = "40 L"
  xmax  = "6 mm"
  power = "80 W"
}

chamber "box" { volume = "30 L" }

mount "cone" {
  driver = driver.woofer
  front  = outside
  rear   = chamber.box
}
port "mouth" {
  from     = chamber.box
  to       = outside
  diameter = "70 mm"
  length   = "140 mm"
}

drive { voltage = "2.83 V" }
tones = ["40 Hz", "60 Hz", "90 Hz"]
`;

export function newDesign(): void {
  if (unsaved.value && !window.confirm("The design shown is not saved. Leave it?")) return;
  const taken = new Set(folder.value.designs.map((d) => d.name));
  let name = "new-box.hcl";
  for (let n = 2; taken.has(name); n++) name = `new-box-${n}.hcl`;
  begin(name, FRESH, "");
  void idle().then(place);
}

export async function save(): Promise<void> {
  const s = sheet.value;
  if (!s) return;
  await idle();
  await put(s.name, s.version);
}

export async function saveAs(): Promise<void> {
  const s = sheet.value;
  if (!s) return;
  const name = window.prompt("File name, ending in .hcl", s.name.replace(/\.hcl(\.json)?$/, "-2.hcl$1"));
  if (!name) return;
  await put(name, "");
}

async function put(name: string, version: string): Promise<void> {
  const text = sheet.value!.text;
  try {
    const done = await call("put", "/api/designs/{name}", { name, body: { text, version } });
    conflict.value = null;
    sheet.value = { ...sheet.value!, name, version: done.version, saved: text };
    history.replaceState(null, "", `#${encodeURIComponent(name)}`);
    channel.postMessage({ saved: name, version: done.version });
    tell(`Saved ${name}.`);
    await loadFolder();
  } catch (fault) {
    if (fault instanceof Refusal && fault.status === 409 && version !== "") {
      const theirs = await call("get", "/api/designs/{name}", { name }).catch(() => null);
      conflict.value = { name, theirs: theirs?.text ?? "", version: theirs?.version ?? "" };
      return;
    }
    tell(fault instanceof Error ? fault.message : String(fault), true);
  }
}

/** Of a refused save: take the file's text, or write over it knowing so. */
export function takeTheirs(): void {
  const c = conflict.value;
  if (c) begin(c.name, c.theirs, c.version);
}

export async function keepMine(): Promise<void> {
  const c = conflict.value;
  if (c) await put(c.name, c.version);
}

export function download(): void {
  const s = sheet.value;
  if (!s) return;
  offer(new Blob([s.text], { type: "text/plain" }), s.name);
}

/** Has the server make a file of the design as it stands. */
export async function made(kind: "report" | "plot", format: string): Promise<void> {
  const s = sheet.value;
  if (!s) return;
  const answer = await fetch(`./api/${kind}?format=${format}${kind === "report" ? `&inches=${inches.value}` : ""}`, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ name: s.name, text: s.text }),
  }).catch(() => null);
  if (!answer?.ok) {
    tell(answer ? await wordsOf(answer) : "The server does not answer. Is it still running?", true);
    return;
  }
  offer(await answer.blob(), `${s.name.replace(/\.hcl(\.json)?$/, "")}.${format}`);
}

export function offer(blob: Blob, name: string): void {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

// Tabs tell each other what they saved, so that the other one knows at once and
// not first when it is refused.
const channel = new BroadcastChannel("ocarina");
channel.addEventListener("message", (e: MessageEvent<{ saved: string; version: string }>) => {
  const s = sheet.value;
  if (s && e.data.saved === s.name && e.data.version !== s.version) tell("Another tab saved this design. Saving here will ask first.", true);
});

window.addEventListener("beforeunload", (e) => {
  if (unsaved.value) e.preventDefault();
});
