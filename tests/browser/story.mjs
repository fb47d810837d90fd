// Plays one story of the demo and takes a picture of each step, for docs/pictures: an attempt fails,
// its sisters are warned, a remedy is verified, a slot is set: node tests/browser/story.mjs

import fs from "node:fs";
import { fileURLToPath } from "node:url";
import { walker, fill, fillAttempt, press } from "./walker.mjs";

const FOLDER = fileURLToPath(new URL("../../docs/pictures/", import.meta.url));
const walk = await walker(true, ["engineer", "lead"]);

async function picture(page, name, at) {
  await page.evaluate(() => document.fonts.ready.then(() => document.activeElement.blur()));
  if (at) await page.locator(at).first().evaluate((section) => section.scrollIntoView({ block: "center" }));
  const file = `${FOLDER}story-${name}.png`;
  await page.screenshot({ path: file });
  console.log(file, `${Math.round(fs.statSync(file).size / 1024)} KB`);
}

const page = await walk.open("engineer", "/tasks/T-0154");
await press(page, "Record attempt");
await fillAttempt(
  page,
  "not completed",
  { Excursion: "E-36.2 not planned", Technique: "K-CRANK", "Access side": "aft", "What stopped it": "12" },
  { "PET from": "3:50", "PET to": "4:10", "In words": "The crank met the bracket of lamp 3 after a third of a turn." },
);
await press(page, "Record attempt");
const attempt = await page.locator(".events tr", { hasText: "the bracket of lamp 3" }).getAttribute("data-code");
const family = await page.locator("a[href^='/families/']").first().getAttribute("href");
await page.goto(family);
await page.locator("details.fold summary").first().click();
await picture(page, "1-sisters-warned");

await page.goto(`/attempts/${attempt}/finding`);
await fill(page.locator("form.attempt"), { "What must change": "Lamp 3 folds away before the crank goes on", Owner: "engineer" });
await press(page, "Write finding");
const finding = new URL(page.url()).pathname;
await page.goto(finding);
const own = page.locator("article", { hasText: "Lamp 3 folds away" });
await fill(own, { "What was done": "Folded and locked in the rig." });
await press(page, "Mark as done", own);

const lead = await walk.open("lead", finding);
await press(lead, "Mark as reviewed");
await press(lead, "Verify remedy", lead.locator("article", { hasText: "Lamp 3 folds away" }));
await picture(lead, "2-remedy-verified");
await lead.goto("/slots?cell=T-0154:E-37.2");
await picture(lead, "3-checks-before-it-is-set", ".opened");
await lead.getByRole("button", { name: "Set on E-37.2", exact: true }).first().click();
await lead.waitForLoadState();
await lead.goto("/tasks/T-0154");
await picture(lead, "4-slot-set");
await walk.stop();
