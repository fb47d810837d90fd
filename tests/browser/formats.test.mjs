// Files of the service as general libraries read them: workbooks (openpyxl), the calendar (icalendar)
// and the feed of changes (feedparser, and libxml2 by the schema in tests/formats/atom.rng). tests/run
// installs them.

import assert from "node:assert/strict";
import { execFileSync, spawnSync } from "node:child_process";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import { after, before, test } from "node:test";
import { fileURLToPath } from "node:url";
import { enter, launch, serve } from "./service.mjs";

const ROOT = fileURLToPath(new URL("../..", import.meta.url));
const PYTHON = path.join(ROOT, "target/tools/formats/bin/python");
const LISTS = ["attempts", "changes", "constraints", "deferrals", "excursions", "families", "findings", "flights", "history", "inhibits", "open", "outside", "remedies", "slots", "tasks", "techniques", "tools", "worksites"];

let service, browser, context, page, folder;

before(async () => {
  folder = fs.mkdtempSync(path.join(os.tmpdir(), "holdover-formats-"));
  service = await serve();
  browser = await launch();
  context = await enter(browser, service, "lead");
  page = await context.newPage();
});

after(async () => {
  await browser?.close();
  await service?.stop();
  fs.rmSync(folder, { recursive: true, force: true });
});

const read = (...given) => JSON.parse(execFileSync(PYTHON, [path.join(ROOT, "tests/formats/read.py"), ...given], { encoding: "utf8", maxBuffer: 1e8 }));

async function saved(address, request = context.request) {
  const reply = await request.get(address);
  assert.equal(reply.status(), 200, address);
  const file = path.join(folder, address.replace(/^.*\//, ""));
  fs.writeFileSync(file, await reply.body());
  return file;
}

// Source: ECMA-376 part 1, section 18.17.4 (dates and times in cells), 2016, as openpyxl has it.
test("each list as a workbook holds the cells of its CSV: dates as dates, durations as durations, no formula", async () => {
  const kinds = {};
  for (const list of LISTS) {
    const [book, table] = [await saved(`/${list}.xlsx`), await saved(`/${list}.csv`)];
    const found = read("xlsx", book, table);
    assert.deepEqual(found.wrong, [], list);
    assert.equal(found.rows, found.told, list);
    for (const [what, count] of Object.entries(found.kinds)) kinds[what] = (kinds[what] ?? 0) + count;
  }
  assert.ok(kinds.date > 500 && kinds.duration > 200 && kinds.number > 200 && kinds.text > 2000, JSON.stringify(kinds));
  assert.equal(kinds.formula, undefined);
});

test("a list is offered as a workbook wherever it is offered as CSV", async () => {
  for (const address of ["/open", "/constraints", "/history", "/changes", "/flights", "/excursions", "/findings", "/outside", "/links", "/tasks", "/tools", "/techniques", "/worksites", "/families", "/inhibits"]) {
    await page.goto(address);
    const [tables, books] = await page.evaluate(() => ["csv", "xlsx"].map((end) => [...document.querySelectorAll(`a[href*=".${end}"]`)].map((link) => link.getAttribute("href").replace(`.${end}`, ""))));
    assert.ok(tables.length > 0, `${address} offers no CSV`);
    assert.deepEqual(books, tables, address);
  }
});

/** The two personal addresses, of the calendar and of the feed. */
async function addresses() {
  await page.goto("/account/feeds");
  await page.locator('form[action="/account/feeds"] button').click();
  const words = await page.locator("main").innerText();
  const [, calendar] = words.match(/(\/feeds\/[0-9a-f]{64}\/calendar\.ics)/);
  const [, changes] = words.match(/(\/feeds\/[0-9a-f]{64}\/changes\.atom)/);
  return [calendar, changes];
}

// Source: RFC 5545, sections 3.1, 3.3.5, 3.8.4.7 and 3.8.7.4, 2009; RFC 4287, sections 4.1.1 and
// 4.1.2, 2005.
test("the calendar and the feed of changes are read by general libraries, without a session", async () => {
  const [calendar, changes] = await addresses();
  const stranger = await browser.newContext({ baseURL: service.base });
  const before = read("ics", await saved(calendar, stranger.request));
  assert.deepEqual([before.version, before.errors, before.bare_line_ends], ["2.0", [], 0]);
  assert.ok(before.longest <= 75, `${before.longest} octets`);
  assert.ok(before.events.length > 20, `${before.events.length} events`);
  for (const event of before.events) {
    assert.deepEqual(event.errors, [], event.uid);
    assert.ok(["UTC", "day"].includes(event.zone) && event.stamp_zone === "UTC", JSON.stringify(event));
    assert.ok(event.start < event.end && event.summary !== "", JSON.stringify(event));
  }
  assert.equal(new Set(before.events.map((event) => event.uid)).size, before.events.length, "no UID twice");
  assert.ok(before.events.some((event) => event.zone === "UTC"), "an excursion with its hour");

  await page.goto("/excursions/E-38.2/edit");
  await page.locator('[name="day"]').fill("2031-07-30");
  await page.locator('main form button[type="submit"]').first().click();
  await page.waitForLoadState();
  const after = read("ics", await saved(calendar, stranger.request));
  const of = (all) => all.events.find((event) => event.summary.startsWith("Excursion E-38.2,"));
  assert.equal(of(after).start.slice(0, 10), "2031-07-30");
  assert.notEqual(of(before).start.slice(0, 10), "2031-07-30");
  assert.ok(of(after).sequence > of(before).sequence, `${of(before).sequence} to ${of(after).sequence}`);
  assert.deepEqual(after.events.map((event) => event.uid).sort(), before.events.map((event) => event.uid).sort());

  const file = await saved(changes, stranger.request);
  const schema = path.join(ROOT, "tests/formats/atom.rng");
  const judged = (given) => spawnSync("xmllint", ["--noout", "--nonet", "--relaxng", schema, given], { encoding: "utf8" });
  assert.equal(judged(file).status, 0, judged(file).stderr);
  // The schema refuses what is not a feed: an entry without its id, a date without its zone.
  for (const [what, instead] of [[/<entry>(.*?)<id>.*?<\/id>/s, "<entry>$1"], [/(<updated>[^<]*)Z</, "$1<"]]) {
    const broken = path.join(folder, "broken.atom");
    fs.writeFileSync(broken, fs.readFileSync(file, "utf8").replace(what, instead));
    assert.notEqual(judged(broken).status, 0, String(what));
  }
  const feed = read("atom", file);
  assert.deepEqual([feed.bozo, feed.why, feed.version], [false, "", "atom10"]);
  assert.ok(feed.id && feed.title && feed.author && feed.updated.length === 6, JSON.stringify(feed));
  assert.ok(feed.entries.length > 10, `${feed.entries.length} entries`);
  for (const entry of feed.entries) assert.ok(entry.id && entry.title && entry.author && entry.updated.length === 6, JSON.stringify(entry));
  assert.equal(new Set(feed.entries.map((entry) => entry.id)).size, feed.entries.length);
  assert.ok(feed.entries[0].title.includes("E-38.2"), feed.entries[0].title);

  assert.equal((await stranger.request.post(calendar)).status(), 405, "read only");
  await addresses();
  assert.equal((await stranger.request.get(calendar)).status(), 404, "revoked by new ones");
  await stranger.close();
});
