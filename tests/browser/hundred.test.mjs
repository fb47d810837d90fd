// The papers of a hundred made-up excursions, which tests/it/hundred.rs leaves in target/tmp/papers:
// printed to A4 and letter and read back by poppler. Each word stands once where it belongs, and sheets
// stay within their limits: six full tasks take two, and the late card one of its own.

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

test("printed papers say each word once where it belongs, on few enough sheets", async () => {
  const all = JSON.parse(fs.readFileSync(path.join(FOLDER, "wanted.json"), "utf8"));
  assert.ok(all.length > 100 + 2 * 50 + 10, `${all.length} papers`);
  const browser = await launch();
  const page = await (await browser.newContext({ offline: true })).newPage();
  const passing = path.join(fs.mkdtempSync(path.join(os.tmpdir(), "holdover-hundred-")), "paper.pdf");
  const pdfText = (how) => execFileSync("pdftotext", [how, passing, "-"], { encoding: "utf8" });
  // Words may be broken at the end of a line; without blanks they are compared.
  const bare = (text) => text.replace(/\s+/g, "");
  const most = {};
  const wrong = [];
  for (const [at, paper] of all.entries()) {
    await page.goto(`file://${path.join(FOLDER, paper.file)}`);
    const kind = paper.file.match(/(\w+)\.html$/)[1];
    const isFull = paper.says.flatMap(({ words }) => words).filter((word) => word.startsWith("photo")).length === 4;
    // Every brief of six full tasks on both sizes, of the others one by turns.
    const formats = isFull ? ["A4", "Letter"] : [at % 2 ? "A4" : "Letter"];
    for (const format of formats) {
      fs.writeFileSync(passing, await page.pdf({ format }));
      const sheets = pdfText("-layout").split("\f").slice(0, -1);
      const key = isFull ? `${kind} of six, ${format}` : kind;
      most[key] = Math.max(most[key] ?? 0, sheets.length);
      if (paper.most && sheets.length > paper.most) wrong.push(`${paper.file} ${format}: ${sheets.length} sheets`);
      if (kind === "brief") assert.ok(sheets.at(-1).includes("Late card"), `${paper.file}: the late card is the last sheet`);
      const text = bare(pdfText("-raw"));
      for (const { from, to, words } of paper.says) {
        const [, ...rest] = text.split(bare(from));
        assert.ok(rest.length > 0, `${paper.file}: no ${from}`);
        const part = rest.join(bare(from)).split(to ? bare(to) : "\0")[0];
        for (const word of words) {
          const count = part.split(word).length - 1;
          if (count !== 1) wrong.push(`${paper.file} ${format}: ${word} ${count} times between ${from} and ${to}`);
        }
      }
    }
  }
  await browser.close();
  fs.rmSync(path.dirname(passing), { recursive: true });
  console.log(most);
  assert.deepEqual(wrong, []);
  assert.ok(most["brief of six, A4"] && most["brief of six, Letter"], JSON.stringify(most));
});
