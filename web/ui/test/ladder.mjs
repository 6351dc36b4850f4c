// The drive turned up: the command's numbers, the box as it really moves, and a
// recording beside its prediction.
import { readFileSync } from "node:fs";
import { check, climbed, end, equal, noFaults, open, recording, settled, textOf, that } from "./harness.mjs";

// Written by the Go test from the command itself.
const ladder = JSON.parse(readFileSync(process.env.OCARINA_LADDER, "utf8"));
const beside = JSON.parse(readFileSync(process.env.OCARINA_BESIDE, "utf8")).beside;

async function at(design, options) {
  const page = await open(design, options);
  await page.locator(".harder").scrollIntoViewIfNeeded();
  await page.waitForSelector(".graph");
  await climbed(page);
  return page;
}

const plain = (text) => text.replace(/[\u202f\u00a0]/g, " ").replaceAll("−", "-").trim();
const rowsOf = (page, label) =>
  page.locator(`[aria-label="${label}"] tbody tr`).evaluateAll((rows) => rows.map((r) => [...r.children].map((c) => c.textContent)));
const near = (text, value, words) => {
  const shown = Number(plain(text));
  // As many digits as are shown, and so half a unit of the last.
  const decimals = (plain(text).split(".")[1] ?? "").length;
  that(Math.abs(shown - value) <= 0.51 * Math.pow(10, -decimals), `${words}: shown ${text}, told ${value}`);
};

await check("every drive of every tone is the command's", async () => {
  const page = await at("dunlin.hcl");
  for (const [n, t] of ladder.tones.entries()) {
    await page.locator(".harder .pick button").nth(n).click();
    await climbed(page);
    equal(plain(await page.locator("[data-reading]").textContent()), t.reading.replaceAll("\u202f", " "), "reading");
    const rows = await rowsOf(page, "Every drive of the tone");
    equal(rows.length, t.steps.length, "drives");
    for (const [i, s] of t.steps.entries()) {
      const cone = s.mounts.cone;
      const words = `${t.frequency_hz} Hz, step ${i}`;
      near(rows[i][1], s.level_db, words + " level");
      near(rows[i][3], s.harmonics_db[2] - s.level_db, words + " third");
      near(rows[i][5], cone.outward_mm, words + " outward");
      near(rows[i][8], Math.max(s.ports_m_s.inner, s.ports_m_s.mouth), words + " air");
      near(rows[i][10], cone.temperature_c, words + " coil");
      near(rows[i][11], s.compression_db, words + " lag");
    }
  }
  for (const c of ladder.cautions) that((await page.locator(".beware").textContent()).includes(c), `not cautioned: ${c}`);
  noFaults(page);
  await page.context().close();
});

await check("the drive goes by keyboard, by table and by graph", async () => {
  const page = await at("dunlin.hcl");
  const steps = ladder.tones[0].steps;
  await page.locator("#drive").focus();
  await page.keyboard.press("End");
  await climbed(page);
  const drive = async () => parseFloat(plain(await page.locator("[data-drive]").first().textContent()));
  that(Math.abs((await drive()) / steps.at(-1).voltage_v - 1) < 0.005, `End gives ${await drive()} V`);
  that((await textOf(page, ".drive-control .state")).startsWith("beyond"), "nothing is said of the limit passed");
  await page.keyboard.press("ArrowLeft");
  await climbed(page);
  that(Math.abs((await drive()) / steps.at(-2).voltage_v - 1) < 0.005, `a step back gives ${await drive()} V`);
  await page.locator('[aria-label="Every drive of the tone"] tbody button').nth(3).click();
  await climbed(page);
  that(Math.abs((await drive()) / steps[3].voltage_v - 1) < 0.005, `the table gives ${await drive()} V`);
  const graph = page.locator('[data-graph="travel"] .u-over');
  await graph.scrollIntoViewIfNeeded();
  await graph.click({ position: { x: (await graph.boundingBox()).width - 3, y: 60 } });
  await climbed(page);
  that(Math.abs((await drive()) / steps.at(-1).voltage_v - 1) < 0.005, `the graph gives ${await drive()} V`);
  // One period, as a table: the cone reaches what the ladder says.
  const period = await page.locator('[aria-label="One period of this drive"] tbody tr').evaluateAll((rows) => rows.map((r) => [...r.children].map((c) => Number(c.textContent.replace("−", "-")))));
  equal(period.length, 96, "moments");
  const out = Math.max(...period.map((r) => r[2]));
  that(Math.abs(out / steps.at(-1).mounts.cone.outward_mm - 1) < 0.01, `the waveform reaches ${out} mm`);
  noFaults(page);
  await page.context().close();
});

await check("the box moves as it is driven, until the cursor leaves the tone", async () => {
  const page = await at("dunlin.hcl", { calm: true });
  await page.locator("#drive").focus();
  await page.keyboard.press("End");
  await climbed(page);
  await page.getByRole("button", { name: "show it in the box" }).click();
  await climbed(page);
  const volts = ladder.tones[0].steps.at(-1).voltage_v;
  that((await textOf(page, "#box-title")).includes(volts.toFixed(2)), await textOf(page, "#box-title"));
  that(await page.locator("#box-title").evaluate((e) => e.getBoundingClientRect().top > document.querySelector(".sentence").getBoundingClientRect().bottom), "the box is hidden");
  // What is drawn is the waveform at the moment of greatest pressure.
  const want = await page.evaluate(async ([drives, f]) => {
    const text = document.querySelector("textarea").value;
    const ask = { name: "dunlin.hcl", text, tone_hz: f, drives_v: drives, points: 96 };
    const answer = await fetch("./api/driven", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(ask) });
    const s = (await answer.json()).step;
    const most = (y) => Math.max(...y.map(Math.abs));
    const loudest = Object.values(s.chamber_waveforms_pa).reduce((a, y) => (most(y) > most(a) ? y : a));
    const i = loudest.indexOf(Math.max(...loudest));
    const air = Math.max(...Object.values(s.along).flatMap((list) => list.map((p) => most(p.travel_mm))));
    const px = Math.min(11 / most(s.mounts.cone.waveform_mm), 26 / air);
    const mouth = s.along.mouth;
    return { mouth: (px * (mouth[0].travel_mm[i] + mouth[1].travel_mm[i])) / 2, near: s.chamber_waveforms_pa.near[i] };
  }, [ladder.tones[0].steps.map((s) => s.voltage_v), ladder.tones[0].frequency_hz]);
  const shift = await page.locator('[data-port="mouth"]').getAttribute("transform");
  that(Math.abs(parseFloat(shift.slice(10)) - want.mouth) < 0.02, `mouth at ${shift}, want ${want.mouth}`);
  const pressure = await textOf(page, '[data-pressure="near"]');
  that(Math.abs(parseFloat(pressure) - want.near) < 0.6, `near at ${pressure}, want ${want.near}`);
  // The drive can be turned beside the box too.
  const before = await textOf(page, "#box-title");
  await page.locator("#box-drive").focus();
  await page.keyboard.press("Home");
  await climbed(page);
  that((await textOf(page, "#box-title")) !== before, "the drive beside the box does nothing");
  await page.locator(".cursor-handle").focus();
  await page.keyboard.press("ArrowRight");
  await settled(page);
  that(!(await textOf(page, "#box-title")).includes("V"), "the box is not the cursor's again");
  noFaults(page);
  await page.context().close();
});

await check("the box driven moves through its waveform", async () => {
  const page = await at("dunlin.hcl");
  await page.getByRole("button", { name: "show it in the box" }).click();
  await climbed(page);
  const poses = new Set();
  for (let i = 0; i < 5; i++) {
    poses.add(await page.locator("[data-cone]").first().getAttribute("d"));
    await page.waitForTimeout(120);
  }
  that(poses.size >= 4, `${poses.size} poses of 5 looks`);
  await page.context().close();
});

await check("the cursor's frequency can be driven too, and a design without tones", async () => {
  const page = await at("dunlin.hcl");
  await page.getByRole("button", { name: "where the cursor is" }).click();
  await climbed(page);
  that((await page.locator("[data-reading]").textContent()).startsWith("106.7 Hz"), await page.locator("[data-reading]").textContent());
  equal(await page.locator(".harder .pick [aria-pressed=true]").count(), 1, "tones chosen");
  await page.locator(".harder .pick button").nth(1).click();
  await climbed(page);
  that((await page.locator("[data-reading]").textContent()).startsWith("144 Hz"), await page.locator("[data-reading]").textContent());
  const text = await page.locator("textarea").inputValue();
  await page.locator("textarea").fill(text.replace(/^tones .*$/m, ""));
  await page.waitForTimeout(400);
  await climbed(page);
  that((await page.locator(".graph").count()) === 6, "no graphs without tones");
  noFaults(page);
  await page.context().close();
});

await check("a changed design has its ladder soon", async () => {
  const page = await at("dunlin.hcl");
  const before = await page.locator("[data-reading]").textContent();
  const text = await page.locator("textarea").inputValue();
  await page.locator("textarea").fill(text.replace('xmax  = "2.6 mm"', 'xmax  = "0.6 mm"'));
  await page.waitForTimeout(400);
  await climbed(page);
  const after = await page.locator("[data-reading]").textContent();
  that(after !== before && after.includes("xmax"), after);
  noFaults(page);
  await page.context().close();
});

await check("a text with errors is never driven", async () => {
  const page = await at("dunlin.hcl");
  await page.setInputFiles('[aria-label="Recording and its plan"]', recording);
  await page.waitForSelector(".beside");
  await climbed(page);
  const asked = [];
  page.on("request", (r) => {
    if (/api\/(ladder|driven|beside)$/.test(r.url())) asked.push(r.postDataJSON().text);
  });
  // The answer that finds the error comes late; what follows from the text waits for it.
  await page.route("**/api/bench", async (route) => {
    await new Promise((done) => setTimeout(done, 700));
    await route.continue();
  });
  const good = await page.locator("textarea").inputValue();
  await page.locator("textarea").fill(good.replace('"36 mm"', '"36 kg"'));
  await page.waitForTimeout(350);
  await page.locator("#drive").focus();
  await page.keyboard.press("Home");
  await page.waitForTimeout(1500);
  await climbed(page);
  that(!asked.some((text) => text.includes("36 kg")), `asked ${asked.length} times, with the error too`);
  await page.locator("textarea").fill(good.replace('"36 mm"', '"37 mm"'));
  await page.waitForTimeout(1500);
  await climbed(page);
  that(asked.filter((text) => text.includes("37 mm")).length >= 3, "the mended text is not driven");
  noFaults(page);
  await page.context().close();
});

await check("a recording beside its prediction is the command's", async () => {
  const page = await at("dunlin.hcl");
  await page.setInputFiles('[aria-label="Recording and its plan"]', recording);
  await page.waitForSelector(".beside");
  await climbed(page);
  const readings = await page.locator(".recorded .told li").allTextContents();
  equal(readings.map(plain), beside.tones.map((t) => t.reading), "readings");
  for (const [n, t] of beside.tones.entries()) {
    await page.locator(".recorded .told li button").nth(n).click();
    await climbed(page);
    const rows = await rowsOf(page, "Predicted and recorded");
    equal(rows.length, t.steps.length, "steps");
    for (const [i, s] of t.steps.entries()) {
      const words = `${t.frequency_hz} Hz, step ${i}`;
      near(rows[i][1], s.level_db.predicted, words);
      near(rows[i][2], s.level_db.recorded, words);
      near(rows[i][4], s.compression_db.recorded, words);
      near(rows[i][5], 100 * s.thd_f.predicted, words);
      near(rows[i][6], 100 * s.thd_f.recorded, words);
      near(rows[i][8], s.harmonics_db[0].recorded, words);
    }
    // Its drives are among the steps, and the graphs show what was recorded there.
    await page.locator('[aria-label="Predicted and recorded"] tbody button').last().click();
    await climbed(page);
    that(Math.abs(parseFloat(plain(await page.locator("[data-drive]").first().textContent())) / t.steps.at(-1).voltage_v - 1) < 0.005, "the recorded drive is not chosen");
    for (const graph of ["spectrum", "harmonics"]) that((await page.locator(`[data-graph="${graph}"] figcaption`).textContent()).includes("recorded"), `${graph} does not show the recording`);
  }
  // Another design, another prediction, the same recording.
  const rows = await rowsOf(page, "Predicted and recorded");
  const text = await page.locator("textarea").inputValue();
  await page.locator("textarea").fill(text.replace('length = "70 mm"', 'length = "55 mm"'));
  await page.waitForTimeout(400);
  await climbed(page);
  const changed = await rowsOf(page, "Predicted and recorded");
  that(changed[0][1] !== rows[0][1] && changed[0][2] === rows[0][2], `predicted ${rows[0][1]} then ${changed[0][1]}, recorded ${rows[0][2]} then ${changed[0][2]}`);
  noFaults(page);
  await page.getByRole("button", { name: "take it away" }).click();
  equal(await page.locator(".beside").count(), 0, "tables of a recording taken away");
  await page.context().close();
});

await check("a recording and its plan may come one after the other, dropped anywhere", async () => {
  const page = await at("dunlin.hcl");
  const drop = async (where, path) => {
    const data = await page.evaluateHandle(([n, bytes]) => {
      const t = new DataTransfer();
      t.items.add(new File([Uint8Array.from(atob(bytes), (c) => c.charCodeAt(0))], n));
      return t;
    }, [path.split("/").pop(), readFileSync(path).toString("base64")]);
    await page.dispatchEvent(where, "drop", { dataTransfer: data });
  };
  await drop(".recorded", recording[0]);
  await page.waitForSelector('[aria-label="The recording by itself"] tbody tr');
  equal(await page.locator(".beside").count(), 0, "compared without a plan");
  await drop("main", recording[1]);
  await page.waitForSelector(".beside");
  noFaults(page);
  await page.context().close();
});

await check("a faulty recording is refused in words", async () => {
  const page = await at("dunlin.hcl");
  await page.setInputFiles('[aria-label="Recording and its plan"]', [{ name: "bad.wav", mimeType: "audio/wav", buffer: Buffer.from("RIFF no") }]);
  await page.getByRole("alert").waitFor();
  that((await textOf(page, ".recorded [role=alert]")).startsWith("bad.wav"), await textOf(page, ".recorded [role=alert]"));
  that(page.faults.every((f) => f.includes("422")), page.faults.join("\n"));
  await page.context().close();
});

await check("signals to play are planned, told and handed over", async () => {
  const page = await at("dunlin.hcl");
  await page.locator(".play summary").click();
  await page.getByLabel("steps of each tone").fill("3");
  await page.getByRole("button", { name: "plan them" }).click();
  await page.waitForSelector(".play pre");
  const told = await textOf(page, ".play pre");
  that(told.includes("Beware") && told.includes("NIOSH 98-126") && told.includes("Play the first 15 s"), told);
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "the sound" }).click()]);
  const raw = readFileSync(await download.path());
  equal([download.suggestedFilename(), raw.toString("latin1", 0, 4)], ["dunlin-tones.wav", "RIFF"], "the sound");
  const [plan] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "the plan" }).click()]);
  equal(JSON.parse(readFileSync(await plan.path(), "utf8")).tones.map((t) => t.voltage_v.length), [3, 3, 3, 3], "drives planned");
  await page.getByLabel("or as a ramp of s").fill("2");
  await page.getByRole("button", { name: "plan them" }).click();
  await page.locator(".play [role=alert]").waitFor();
  that((await textOf(page, ".play [role=alert]")).includes("dB a second"), await textOf(page, ".play [role=alert]"));
  await page.context().close();
});

for (const design of ["curlew.hcl", "godwit.hcl", "avocet.hcl"]) {
  await check(`${design} at 360 px`, async () => {
    const page = await at(design, { width: 360, height: 780, touch: true });
    const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    that(over <= 0, `the page is ${over} px too wide`);
    that((await page.locator(".graph").count()) >= 5, "graphs are missing");
    noFaults(page);
    await page.context().close();
  });
}

await end();
