// Makes docs/pictures/ from the demo at its fixed day: node tests/browser/pictures.mjs

import { execFileSync } from "node:child_process";
import fs from "node:fs";
import { fileURLToPath } from "node:url";
import { running } from "./board.mjs";
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

fs.mkdirSync(FOLDER, { recursive: true });
let service = await serve();
const browser = await launch();
for (const [name, address, theme, width, height] of PICTURES) {
  const context = await enter(browser, service, "lead", { theme, viewport: { width, height } });
  const page = await context.newPage();
  await page.goto(address);
  await page.evaluate(() => document.fonts.ready.then(() => document.activeElement.blur()));
  const file = `${FOLDER}${name}.png`;
  await page.screenshot({ path: file });
  console.log(file, `${Math.round(fs.statSync(file).size / 1024)} KB`);
  await context.close();
}
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
await browser.close();
await service.stop();
