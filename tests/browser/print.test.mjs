// On paper: the navigation stays away, nothing is cut, heads stand on every page.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import path from "node:path";
import { after, before, test } from "node:test";
import { enter, launch, serve } from "./service.mjs";

/** A4 between the margins of static/css/60-paper.css, in CSS pixels: upright, and lying for wide tables. */
const UPRIGHT = { width: 687, height: 1020 };
const LYING = { width: 1024, height: 702 };

let service, browser, context, page;

before(async () => {
  service = await serve();
  browser = await launch();
  context = await enter(browser, service, "lead", { theme: "night" });
  page = await context.newPage();
});

after(async () => {
  await browser?.close();
  await service?.stop();
});

/** The words of each sheet of a PDF. */
function sheetsOf(pdf) {
  const words = execFileSync("pdftotext", ["-layout", "-", "-"], { input: pdf, encoding: "utf8" });
  return words.split("\f").slice(0, -1);
}

for (const [address, paper, parts] of [
  ["/", UPRIGHT, ["E-37.1", "Tank row at 3 bar or less", "open points of the team"]],
  ["/plan", LYING, ["E-37.1", "T-0167", "needed by"]],
  ["/open", LYING, ["T-0167", "T-0170"]],
  ["/tasks/T-0142", LYING, ["Carry line", "from starboard", "A-0067", "Candidate slots"]],
  ["/excursions/E-36.2", UPRIGHT, ["T-0147", "D-0025", "A-0120"]],
  ["/excursions/E-37.1", UPRIGHT, ["T-0114", "T-0153"]],
  ["/slots", LYING, ["E-39.2", "T-0167"]],
  ["/constraints", LYING, ["Tank row at 3 bar or less", "CN-001", "as of "]],
  ["/findings/N-007", UPRIGHT, ["R-009", "A-0067"]],
]) {
  test(`${address} prints whole`, async () => {
    await page.emulateMedia({ media: "print" });
    await page.setViewportSize(paper);
    await page.goto(address);
    const found = await page.evaluate(() => {
      const shown = (element) => element.getClientRects().length > 0;
      const wide = [...document.querySelectorAll(".scroll, main, table, svg, .sec")].filter(
        (element) => shown(element) && (element.getBoundingClientRect().right > innerWidth + 1 || element.scrollWidth > element.clientWidth + 2 && getComputedStyle(element).overflowX !== "visible"),
      );
      wide.push(...[...document.querySelectorAll("main table")].filter(
        (table) => shown(table) && table.getBoundingClientRect().right > table.parentElement.getBoundingClientRect().right + 2,
      ));
      return {
        wide: wide.map((element) => `${element.tagName}.${element.getAttribute("class")} to ${Math.round(element.getBoundingClientRect().right)}`),
        head: [...document.querySelectorAll(".running, .skip, .acts, .views, form.strip")].filter(shown).length,
        heads: [...document.querySelectorAll("main thead")].filter(shown).map((head) => getComputedStyle(head).display),
        caution: shown([...document.querySelectorAll(".foot p, .run-foot p")].find((p) => shown(p) && p.textContent.includes("planning aid"))),
        dark: getComputedStyle(document.body).backgroundColor,
        words: document.querySelector("main").innerText,
      };
    });
    assert.deepEqual(found.wide, []);
    assert.equal(found.head, 0, "the running head and what can be pressed stay away");
    assert.ok(found.heads.every((display) => display === "table-header-group"), found.heads.join());
    assert.equal(found.caution, true);
    assert.equal(found.dark, "rgb(255, 255, 255)");
    for (const part of parts) assert.ok(found.words.includes(part), `${part} is not on the paper`);
    const pdf = await page.pdf({ preferCSSPageSize: true, format: "A4" });
    assert.ok(pdf.length > 20_000, `${pdf.length} bytes`);
    const lines = sheetsOf(pdf).map((sheet) => sheet.split("\n").filter((line) => line.trim()).length);
    assert.ok(lines.slice(0, -1).every((count) => count > 15), `lines of each sheet: ${lines.join(", ")}`);
  });
}

test("a late card of twelve tasks prints on one sheet of A4 and of letter, with its legend and caution", async () => {
  const folder = mkdtempSync(path.join(tmpdir(), "holdover-card-"));
  const card = await context.newPage();
  await card.goto("/excursions/E-38.1/late-card");
  // A dozen tasks, with the cells and titles of the fullest excursion of the demo, over again.
  await card.evaluate(() => {
    const body = document.querySelector(".late-grid tbody");
    const rows = [...body.rows].slice(1);
    for (let at = 0; body.rows.length < 13; at += 1) body.append(rows[at % rows.length].cloneNode(true));
    document.querySelector(".card-sheet").classList.remove("rows-close");
    document.querySelector(".card-sheet").classList.add("rows-closest");
  });
  try {
    for (const format of ["A4", "Letter"]) {
      const file = path.join(folder, `${format}.pdf`);
      await card.pdf({ path: file, format, landscape: true });
      const sheets = sheetsOf(readFileSync(file));
      assert.equal(sheets.length, 1, `${format}: ${sheets.length} sheets`);
      for (const words of [/shorten to its stopping point/, /Never dropped by this card/, /Caution\./]) assert.match(sheets[0], words);
    }
  } finally {
    rmSync(folder, { recursive: true });
  }
  await card.close();
});
