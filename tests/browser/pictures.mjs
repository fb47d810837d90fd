// Makes docs/pictures/ from the demo at its fixed day: node tests/browser/pictures.mjs
// With words, only these: pages, roles, papers (their first sheets, as they are printed), day.

import { execFileSync } from "node:child_process";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import { fileURLToPath } from "node:url";
import { running } from "./board.mjs";
import { crc32, deflateSync } from "node:zlib";
import { enter, launch, serve } from "./service.mjs";

const FOLDER = fileURLToPath(new URL("../../docs/pictures/", import.meta.url));
const PICTURES = [
  ["today", "/", "paper", 1440, 1100],
  ["plan", "/plan", "paper", 1440, 1100],
  ["open", "/open", "paper", 1440, 900],
  ["task", "/tasks/T-0142", "paper", 1440, 1100],
  ["excursion-night", "/excursions/E-37.1", "night", 1440, 1100],
  ["slots", "/slots?cell=T-0142:E-37.2&by=K-LEVER,nadir", "paper", 1440, 900],
  ["debrief-night", "/excursions/E-36.3/debrief", "night", 1440, 900],
  ["open-narrow", "/open", "paper", 400, 900],
];

/** The day: its board on a phone and on a wall, which is 3840 wide and drawn at two fifths. */
const OF_THE_DAY = [
  ["board-phone", "/excursions/E-37.1/day", "paper", { width: 400, height: 1400 }, 1],
  ["board-wall", "/excursions/E-37.1/day", "night", { width: 3840, height: 2160 }, 0.4],
  ["late-card-phone", "/excursions/E-38.1/late-card", "paper", { width: 400, height: 900 }, 1],
  ["late-card-wall", "/excursions/E-38.1/late-card", "night", { width: 3840, height: 2160 }, 0.4],
];

/** What each role sees, in both themes: name, address, role, width; the attempt as it is filled in. */
const BY_ROLE = [
  ["today-lead", "/", "lead", 1440],
  ["today-engineer", "/", "engineer", 1440],
  ["today-viewer", "/", "viewer", 1440],
  ["plan-cell", "/plan?cell=T-0142:E-37.2", "lead", 1440],
  ["matrix", "/slots", "lead", 1440],
  ["attempt-phone", "/attempts/new?task=T-0143", "engineer", 400],
  ["words", "/words", "viewer", 1440],
];

/** Each paper of docs/papers.md. */
const PAPERS = [
  ["question-list", "/excursions/E-36.3/questions"],
  ["excursion-report", "/excursions/E-36.2/report"],
  ["closing-message", "/excursions/E-36.2/message"],
  ["failure-report", "/findings/N-007/report"],
  ["action-list", "/actions?paper=yes"],
  ["request-lists", "/flights/G-37/requests"],
  ["content-sheet", "/flights/G-37/content"],
  ["brief", "/excursions/E-37.1/brief"],
  ["late-card", "/excursions/E-37.1/late-card"],
  ["handover", "/flights/G-36/handover"],
  ["statistics", "/statistics"],
  ["registers", "/registers?unit=U-PMP1"],
];

let service = await serve();
const browser = await launch();
const told = (file) => console.log(file, `${Math.round(fs.statSync(file).size / 1024)} KB`);

async function pages() {
  fs.mkdirSync(FOLDER, { recursive: true });
  for (const [name, address, theme, width, height] of PICTURES) {
    const context = await enter(browser, service, "lead", { theme, viewport: { width, height } });
    const page = await context.newPage();
    await page.goto(address);
    await page.evaluate(() => document.fonts.ready.then(() => document.activeElement.blur()));
    const file = `${FOLDER}${name}.png`;
    await page.screenshot({ path: file });
    told(file);
    await context.close();
  }
}

async function byRole() {
  const folder = path.join(FOLDER, "roles");
  fs.mkdirSync(folder, { recursive: true });
  for (const theme of ["paper", "night"]) {
    for (const [name, address, role, width] of BY_ROLE) {
      const context = await enter(browser, service, role, { theme, viewport: { width, height: width < 500 ? 1400 : 1100 } });
      const page = await context.newPage();
      await page.goto(address);
      if (name === "attempt-phone") await page.getByLabel("not completed", { exact: true }).check();
      if (name === "plan-cell") await page.locator("#matrix").scrollIntoViewIfNeeded();
      await page.evaluate(() => document.fonts.ready.then(() => document.activeElement.blur()));
      const file = path.join(folder, `${name}-${theme}.png`);
      await page.screenshot({ path: file });
      told(file);
      await context.close();
    }
  }
}

/** The first sheet of a PDF in sixteen greys at 80 dots an inch, as a PNG. */
// Source: W3C, Portable Network Graphics (PNG), second edition, 5.3, 7.2 and 9, 2003, from memory.
function firstSheet(pdf) {
  const pgm = execFileSync("pdftoppm", ["-r", "80", "-gray", "-f", "1", "-singlefile", pdf], { maxBuffer: 1e8 });
  const [head, width, height] = pgm.subarray(0, 40).toString("latin1").match(/^P5\s+(\d+)\s+(\d+)\s+255\s/);
  const [wide, high] = [Number(width), Number(height)];
  const row = 1 + Math.ceil(wide / 2);
  const samples = Buffer.alloc(row * high);
  for (let y = 0; y < high; y += 1) {
    for (let x = 0; x < wide; x += 1) {
      const grey = Math.round(pgm[head.length + y * wide + x] / 17);
      samples[y * row + 1 + (x >> 1)] |= x % 2 ? grey : grey << 4;
    }
  }
  const chunk = (name, data) => {
    const body = Buffer.concat([Buffer.from(name, "latin1"), data]);
    const [length, sum] = [Buffer.alloc(4), Buffer.alloc(4)];
    length.writeUInt32BE(data.length);
    sum.writeUInt32BE(crc32(body));
    return Buffer.concat([length, body, sum]);
  };
  const size = Buffer.alloc(13);
  size.writeUInt32BE(wide, 0);
  size.writeUInt32BE(high, 4);
  size[8] = 4;
  const signature = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);
  return Buffer.concat([signature, chunk("IHDR", size), chunk("IDAT", deflateSync(samples, { level: 9 })), chunk("IEND", Buffer.alloc(0))]);
}

async function papers() {
  const folder = path.join(FOLDER, "papers");
  fs.mkdirSync(folder, { recursive: true });
  const context = await enter(browser, service, "lead");
  const page = await context.newPage();
  const passing = path.join(fs.mkdtempSync(path.join(os.tmpdir(), "holdover-pictures-")), "paper.pdf");
  for (const [name, address] of PAPERS) {
    await page.goto(address);
    await page.evaluate(() => document.fonts.ready);
    for (const format of ["A4", "Letter"]) {
      const landscape = name === "late-card";
      fs.writeFileSync(passing, await page.pdf({ format, landscape, preferCSSPageSize: false }));
      const file = path.join(folder, `${name}-${format.toLowerCase()}.png`);
      fs.writeFileSync(file, firstSheet(passing));
      told(file);
    }
  }
  fs.rmSync(path.dirname(passing), { recursive: true });
  await context.close();
}

async function theDay() {
  service = await running(browser, service, { serve, enter });
  for (const [name, address, theme, viewport, deviceScaleFactor] of OF_THE_DAY) {
    const context = await enter(browser, service, "lead", { theme, viewport, deviceScaleFactor });
    const page = await context.newPage();
    await page.goto(address);
    await page.evaluate(() => document.fonts.ready.then(() => document.activeElement.blur()));
    const file = `${FOLDER}${name}.png`;
    await page.screenshot({ path: file });
    console.log(file, `${Math.round(fs.statSync(file).size / 1024)} KB`);
    if (name === "late-card-phone") {
      const pdf = `${FOLDER}late-card-paper.pdf`;
      await page.pdf({ path: pdf, preferCSSPageSize: true });
      execFileSync("pdftoppm", ["-r", "110", "-png", "-singlefile", pdf, `${FOLDER}late-card-paper`]);
      fs.rmSync(pdf);
    }
    await context.close();
  }
}

const asked = process.argv.slice(2);
const wants = (part) => asked.length === 0 || asked.includes(part);
if (wants("pages")) await pages();
if (wants("roles")) await byRole();
if (wants("papers")) await papers();
if (wants("day")) await theDay();
await browser.close();
await service.stop();
