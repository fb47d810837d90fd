// The briefs of a hundred made-up excursions, which tests/it/papers.rs leaves in target/tmp/papers:
// printed, read back by poppler, and nothing is missing; six tasks take two sheets at most, and the late
// card one of its own.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import { test } from "node:test";
import { fileURLToPath } from "node:url";
import { launch } from "./service.mjs";

const ROOT = fileURLToPath(new URL("../..", import.meta.url));
const FOLDER = path.join(process.env.CARGO_TARGET_DIR ?? path.join(ROOT, "target"), "tmp/papers");

test("a hundred printed briefs say every hazard, stopping point, waiver, constraint and must do", async () => {
  const all = JSON.parse(fs.readFileSync(path.join(FOLDER, "wanted.json"), "utf8"));
  assert.equal(all.length, 100);
  const browser = await launch();
  const page = await (await browser.newContext({ offline: true })).newPage();
  const passing = path.join(fs.mkdtempSync(path.join(os.tmpdir(), "holdover-hundred-")), "brief.pdf");
  const sheets = {};
  for (const [at, { excursion, tasks, must_do, words }] of all.entries()) {
    await page.goto(`file://${path.join(FOLDER, `${excursion}.html`)}`);
    fs.writeFileSync(passing, await page.pdf({ format: at % 2 ? "A4" : "Letter" }));
    const read = execFileSync("pdftotext", ["-layout", passing, "-"], { encoding: "utf8" });
    const count = read.split("\f").length - 1;
    // Words may be broken at the end of a line; without blanks they are compared.
    const bare = read.replace(/\s+/g, "");
    const card = read.split("\f").at(-2);
    assert.ok(card.includes("Late card"), `${excursion}: the late card is the last sheet`);
    const [, second] = execFileSync("pdftotext", ["-raw", passing, "-"], { encoding: "utf8" }).replace(/\s+/g, "").split("Tasksinorder");
    // Each once where it belongs: with its task.
    for (const word of words) assert.equal(second.split(word).length - 1, 1, `${excursion}: ${word}`);
    assert.equal([...bare.matchAll(/mustdo/g)].length, 2 * must_do, excursion);
    assert.ok(count <= 3, `${excursion}: ${count} sheets for ${tasks} tasks`);
    sheets[tasks] = Math.max(sheets[tasks] ?? 0, count);
  }
  assert.ok(6 in sheets, JSON.stringify(sheets));
  await browser.close();
  fs.rmSync(path.dirname(passing), { recursive: true });
});
