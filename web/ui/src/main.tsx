import "uplot/dist/uPlot.min.css";
import "./style/page.css";
import "./style/box.css";
import "./style/curves.css";
import "./style/parts.css";
import "./style/ladder.css";
import "./style/print.css";
import { render } from "preact";
import { Box } from "./box/Box";
import { Stack } from "./curves/Stack";
import { cursorKey } from "./curves/gestures";
import { Foot } from "./head/Foot";
import { Sentence } from "./head/Sentence";
import { Top } from "./head/Top";
import { Warnings } from "./head/Warnings";
import { Dimensions } from "./parts/Dimensions";
import { AddPart } from "./parts/PartHead";
import { loadFolder, newDesign, openDesign, save } from "./state/files";
import { redo, undo } from "./state/history";
import { outline, tell } from "./state/store";
import { Editor } from "./text/Editor";
import { acceptDrops } from "./files/drops";
import { Sweep } from "./sweep/Sweep";
import { Harder } from "./ladder/Harder";
import { Tones } from "./tones/Tones";

function Page() {
  return (
    <>
      <Top />
      <main>
        <Sentence />
        <div class="bench">
          <div class="left">
            <Box />
            <Dimensions />
            {outline.value && <AddPart />}
          </div>
          <div class="right">
            <Stack />
          </div>
        </div>
        <Harder />
        <div class="lower">
          <Tones />
          <Sweep />
          <Warnings />
          <Editor />
        </div>
      </main>
      <Foot />
    </>
  );
}

async function begin(): Promise<void> {
  try {
    const first = await loadFolder();
    const asked = decodeURIComponent(location.hash.slice(1));
    const name = asked || first;
    if (name) await openDesign(name);
    else newDesign();
  } catch (fault) {
    tell(fault instanceof Error ? fault.message : String(fault), true);
  }
}

// Keys that work wherever the focus is, except where they mean something else.
window.addEventListener("keydown", (e) => {
  const target = e.target as HTMLElement;
  const writing = target.matches("input, textarea, select");
  const held = e.ctrlKey || e.metaKey;
  if (held && e.key.toLowerCase() === "s") {
    e.preventDefault();
    void save();
  } else if (held && e.key.toLowerCase() === "z" && !target.matches("input")) {
    e.preventDefault();
    if (e.shiftKey) redo();
    else undo();
  } else if (held && e.key.toLowerCase() === "y" && !target.matches("input")) {
    e.preventDefault();
    redo();
  } else if (!writing && !e.defaultPrevented && !target.closest("[role=slider], details, [role=region]")) {
    cursorKey(e);
  }
});

render(<Page />, document.getElementById("page")!);
acceptDrops();
void begin();
