// Makes docs/pictures/ from the demo at its fixed day: node tests/browser/pictures.mjs

import fs from "node:fs";
import { fileURLToPath } from "node:url";
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

fs.mkdirSync(FOLDER, { recursive: true });
const service = await serve();
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
await browser.close();
await service.stop();
