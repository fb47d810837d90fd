// The drawings at their extremes: a task with 21 attempts and one with 156 by four approaches, twelve tasks on
// one excursion, a family of 250, and some 883 open tasks against the coming excursions. No label lies under
// another one, no page is wider than its window, and what is left out is counted.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { after, before, test } from "node:test";
import { overlaps, underLines } from "./overlaps.mjs";
import { BINARY, enter, launch, serve } from "./service.mjs";

let service, browser;

const SIDES = ["forward", "nadir", "zenith", "starboard"];
const numbered = (count, row) => Array.from({ length: count }, (_, at) => row(at, String(at).padStart(3, "0")));

/** Imports a table as the lead of the demo. */
function taken(kind, lines) {
  const report = execFileSync(BINARY, ["import", kind, "-", "--as", "lead", "--confirm-unlikely", "--json", "--data", service.data], { input: lines.join("\n") });
  const told = JSON.parse(report);
  assert.equal(told.committed, true, JSON.stringify(told).slice(0, 600));
}

before(async () => {
  service = await serve();
  browser = await launch();
  const task = (code, title, rest = "F-CASSETTE,") => `${code},${title},${rest}"${SIDES.join(", ")}",4,2026-01-01,10,12,15`;
  taken("tasks", ["code,title,family,worksite,sides,class,opened,optimistic,likely,pessimistic",
    task("T-X21", "Tried twenty-one times", "F-CASSETTE,W-KEEL4,"),
    task("T-X156", "Tried a hundred and fifty-six times", "F-CASSETTE,W-KEEL4,"),
    ...numbered(12, (_, number) => task(`T-Y${number}`, `One of twelve ${number}`, ",W-KEEL4,")),
    ...numbered(250, (_, number) => task(`T-Z${number}`, `Sister ${number}`, "F-CASSETTE,W-KEEL4,")),
    ...numbered(580, (_, number) => task(`T-W${number}`, `Open work ${number}`, ",W-KEEL4,"))]);
  const flown = ["E-31.1", "E-32.1", "E-33.1", "E-34.1", "E-35.1", "E-36.1"];
  const tries = (code, count) =>
    numbered(count, (at, number) => `A-${code}-${number},${code},${flown[Math.floor((at * flown.length) / count)]},K-LEVER,${SIDES[at % 4]},not completed,90,3,10`);
  taken("attempts", ["code,task,excursion,technique,side,outcome,left_after,cause,minutes", ...tries("T-X21", 21), ...tries("T-X156", 156)]);
  // A chain of twelve, each with a second link across it; and a task with long codes around it.
  const links = numbered(11, (at, number) => `T-Y${String(at + 1).padStart(3, "0")},needs,T-Y${number}`);
  const across = numbered(9, (at, number) => `T-Y${String(at + 3).padStart(3, "0")},same visit as,T-Y${number}`);
  taken("links", ["task,kind,other", ...links, ...across]);
  taken("tasks", ["code,title,worksite", "T-X20,Asks for much,W-KEEL4", ...numbered(5, (_, number) => `T-WWWWWWWWWWWW-${number},${"W".repeat(120)},W-KEEL4`)]);
  taken("links", ["task,kind,other", ...numbered(5, (_, number) => `T-X20,needs,T-WWWWWWWWWWWW-${number}`)]);
  taken("slots", ["code,task,excursion,seats,place,state", ...numbered(12, (at, number) => `S-Y${number},T-Y${number},E-39.2,EV${(at % 2) + 1},${at + 1},pencilled`)]);
});

after(async () => {
  await browser?.close();
  await service?.stop();
});

const DRAWN = ["/tasks/T-X21", "/tasks/T-X156", "/attempts/new?task=T-X156", "/excursions/E-39.2", "/families/F-CASSETTE", "/plan", "/worksites", "/findings/causes",
  "/open?q=tried", "/slots", "/", "/tasks/T-Y006", "/tasks/T-X20", "/history"];

for (const width of [1440, 400]) {
  test(`no label lies under another one and no page is too wide, ${width} wide`, async () => {
    const context = await enter(browser, service, "lead", { viewport: { width, height: 900 } });
    context.setDefaultTimeout(60000);
    const page = await context.newPage();
    const found = [];
    for (const address of DRAWN) {
      await page.goto(address);
      await page.evaluate(() => document.fonts.ready);
      found.push(...[...(await overlaps(page)), ...(await underLines(page))].map((pair) => `${address}: ${pair}`));
      const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      if (over > 0) found.push(`${address}: ${over} px too wide`);
    }
    assert.deepEqual(found, []);
    await context.close();
  });
}

test("what a drawing or list leaves out is counted and leads to the whole", async () => {
  const context = await enter(browser, service, "lead");
  const page = await context.newPage();
  await page.goto("/open?q=tried");
  const line = page.locator("#T-X156 svg").first();
  assert.match(await line.innerHTML(), /earlier|156/);
  await page.goto("/excursions/E-39.2");
  assert.equal(await page.locator("main [href='/tasks/T-Y011']").count() > 0, true, "all twelve stand there");
  await context.close();
});
