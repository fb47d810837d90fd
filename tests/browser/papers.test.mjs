// Papers as the browser engine prints them to A4 and letter, read back by poppler: what must never be
// left out is there, sheets stay within their limits, nothing has a colour; and each file opens without
// a network.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import { after, before, test } from "node:test";
import { enter, launch, serve } from "./service.mjs";

/** Every paper of the demo, and the most sheets that it may take. */
const PAPERS = [
  ["/excursions/E-36.3/questions", 2],
  ["/excursions/E-36.2/report", 2],
  ["/excursions/E-36.2/message", 2],
  ["/findings/N-007/report", 3],
  // One sheet per owner.
  ["/actions", 12],
  ["/flights/G-37/requests", 3],
  ["/flights/G-37/content", 6],
  // The third sheet is the late card.
  ["/excursions/E-37.1/brief", 3],
  ["/flights/G-36/handover", 3],
  ["/statistics", 2],
  ["/registers", 3],
];

let service, browser, context, page, folder;

before(async () => {
  folder = fs.mkdtempSync(path.join(os.tmpdir(), "holdover-papers-"));
  service = await serve();
  browser = await launch();
  context = await enter(browser, service, "lead", { theme: "night" });
  page = await context.newPage();
});

after(async () => {
  await browser?.close();
  await service?.stop();
  fs.rmSync(folder, { recursive: true, force: true });
});

/** The text of each sheet. */
const sheets = (file) => execFileSync("pdftotext", ["-layout", file, "-"], { encoding: "utf8" }).split("\f").slice(0, -1);
/** The text as it stands in the document, whatever columns it is set in, without blanks. */
const inOrder = (file) => execFileSync("pdftotext", ["-raw", file, "-"], { encoding: "utf8" }).replace(/\s+/g, "");
const flat = (text) => text.replace(/\s+/g, " ");

/** Rows of one of the service's own CSV files. */
async function rows(name) {
  const text = (await (await context.request.get(`/${name}.csv`)).text()).replace(/^\ufeff/, "");
  const cells = [...text.matchAll(/(?:^|,|\r\n)("(?:[^"]|"")*"|[^,\r\n]*)/g)].map(([whole, cell]) => [whole.startsWith(","), cell.startsWith('"') ? cell.slice(1, -1).replaceAll('""', '"') : cell]);
  const lines = [];
  for (const [goesOn, cell] of cells) {
    if (!goesOn) lines.push([]);
    lines.at(-1).push(cell);
  }
  const heads = lines.shift();
  return lines.filter((line) => line.length === heads.length).map((line) => Object.fromEntries(heads.map((head, at) => [head, line[at]])));
}

async function printed(address, format) {
  await page.goto(address);
  // Photographs are printed as they are; everything else is black on white.
  await page.addStyleTag({ content: "@media print { .shots img { visibility: hidden; } }" }).catch(() => page.evaluate(() => {
    for (const image of document.querySelectorAll(".shots img")) image.style.visibility = "hidden";
  }));
  const file = path.join(folder, `${address.slice(1).replaceAll("/", "-")}-${format}.pdf`);
  fs.writeFileSync(file, await page.pdf({ format, preferCSSPageSize: false }));
  return file;
}

for (const [address, most] of PAPERS) {
  for (const format of ["A4", "Letter"]) {
    test(`${address} prints on ${format}`, async () => {
      const file = await printed(address, format);
      const all = sheets(file);
      assert.ok(all.length <= most, `${all.length} sheets of at most ${most}`);
      for (const [at, sheet] of all.entries()) {
        const words = flat(sheet);
        assert.ok(words.includes("Caution. A planning aid"), `no caution on sheet ${at + 1}: ${words}`);
        assert.ok(words.includes("as of 2030-325"), `no time on sheet ${at + 1}`);
        assert.ok(words.includes(`page ${at + 1} of ${all.length}`), `no number on sheet ${at + 1}: ${words.slice(-300)}`);
      }
      assert.ok(!flat(all.join(" ")).includes("Download HTML file"), "what is pressed stays away");
      execFileSync("pdftoppm", ["-r", "40", file, file]);
      const images = fs.readdirSync(folder).filter((name) => name.startsWith(path.basename(file)) && name.endsWith(".ppm"));
      assert.equal(images.length, all.length, "one image of each sheet");
      for (const image of images) {
        const bytes = fs.readFileSync(path.join(folder, image));
        const start = bytes.length - pixels(bytes);
        let colours = 0;
        for (let at = start; at < bytes.length; at += 3) {
          if (Math.max(bytes[at], bytes[at + 1], bytes[at + 2]) - Math.min(bytes[at], bytes[at + 1], bytes[at + 2]) > 12) colours += 1;
        }
        assert.equal(colours, 0, `${image} has colours`);
      }
    });
  }
}

/** Bytes of the pixels of a binary PPM. */
function pixels(bytes) {
  const [, width, height] = bytes.subarray(0, 40).toString("latin1").match(/^P6\s+(\d+)\s+(\d+)\s+255\s/);
  return width * height * 3;
}

test("the first sheet of the handover says what was left, what is forbidden and what is owed", async () => {
  // Those in force stand in rows of a table, the ended ones in a list below.
  const page = await (await context.request.get("/constraints")).text();
  const inForce = [...page.matchAll(/<tr data-code="(CN-\d+)"/g)].map(([, code]) => code);
  assert.equal(inForce.length, 7);
  for (const format of ["A4", "Letter"]) {
    const [first] = sheets(await printed("/flights/G-36/handover", format));
    const words = flat(first);
    // The third part ends there: what follows it has begun or the sheet is full of it.
    const [, owed] = words.split("3 · Owed, by whom and when");
    const all = [...(await rows("remedies"))].filter((one) => ["open", "done"].includes(one.state) && one.owner);
    for (const one of all) assert.ok(owed.includes(one.code), `${format}: ${one.code} is owed on the first sheet: ${owed}`);
    for (const part of ["1 · What the vehicle may not do", "2 · What we left, as left", "3 · Owed, by whom and when", "Close the debrief of E-36.3", "thermal engineer"]) {
      assert.ok(words.includes(part), `${format}: ${part} in ${words}`);
    }
    for (const code of inForce) assert.ok(words.includes(code), `${format}: ${code}`);
  }
});

test("the brief says every must do, hazard, waiver and constraint of its tasks", async () => {
  const [excursions, slots, tasks, constraints] = [await rows("excursions"), await rows("slots"), await rows("tasks"), await rows("constraints")];
  const taken = (one) => slots.some((slot) => slot.excursion === one.code && ["set", "pencilled"].includes(slot.state));
  const planned = excursions.filter((one) => one.state === "planned" && taken(one)).map((one) => one.code);
  assert.ok(planned.length >= 5, planned.join());
  for (const excursion of planned) {
    const here = slots.filter((slot) => slot.excursion === excursion && ["set", "pencilled"].includes(slot.state));
    const file = await printed(`/excursions/${excursion}/brief`, "A4");
    const all = sheets(file);
    const [plan, rest] = inOrder(file).split("Tasksinorder");
    const [words] = rest.split("Latecard");
    const bare = (text) => text.replace(/\s+/g, "");
    // The late card is a sheet of its own.
    assert.ok(all.length <= (here.length <= 6 ? 3 : 4), `${excursion}: ${all.length} sheets for ${here.length} tasks`);
    const mustDo = here.filter((slot) => slot.must_do === "yes").length;
    assert.equal([...words.matchAll(/mustdo/g)].length, mustDo, excursion);
    assert.equal([...plan.matchAll(/mustdo/g)].length, mustDo, excursion);
    for (const slot of here) {
      const task = tasks.find((one) => one.code === slot.task);
      for (const text of [task.title, slot.stopping_point, task.hazards, slot.waiver, slot.if_it_fails]) {
        if (text) assert.ok(words.includes(bare(text)), `${excursion} ${slot.task}: ${text} in ${words}`);
      }
      for (const one of constraints.filter((one) => one.task === slot.task && one.lifted_by === "")) {
        // With its task, and on the first sheet where it is in force.
        assert.ok(words.includes(one.code) || !plan.includes(one.code), `${excursion}: ${one.code}`);
      }
    }
  }
});

for (const [address] of [...PAPERS, ["/excursions/E-37.1/late-card"]]) {
  test(`${address} opens from its file without a network`, async () => {
    const reply = await context.request.get(`${address}.html`);
    assert.equal(reply.status(), 200);
    const file = path.join(folder, `${address.slice(1).replaceAll("/", "-")}.html`);
    fs.writeFileSync(file, await reply.body());
    const apart = await browser.newContext({ offline: true });
    const asked = [];
    apart.on("request", (request) => asked.push(request.url()));
    const alone = await apart.newPage();
    await alone.goto(`file://${file}`);
    await alone.evaluate(() => document.fonts.ready);
    assert.deepEqual(asked.filter((url) => !url.startsWith("data:")), [`file://${file}`]);
    const shown = await alone.evaluate(() => ({
      words: document.querySelector("main").innerText.length,
      font: [...document.fonts].some((face) => face.family.includes("Atkinson Hyperlegible Next") && face.status === "loaded"),
      broken: [...document.images].filter((image) => image.naturalWidth === 0).length,
    }));
    assert.ok(shown.words > 300 && shown.font, JSON.stringify(shown));
    assert.equal(shown.broken, 0);
    await apart.close();
  });
}
