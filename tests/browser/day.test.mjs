// The board of the day in a browser: rehearsed from the first page in two presses, by two people, by
// keyboard, with a thumb, without scripts. What happens to presses while the connection, the session or
// the clock is away stands in day-away.test.mjs.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { log, pressed, rehearse } from "./board.mjs";
import { audit, enter, launch, overflow, serve } from "./service.mjs";

let service, browser, context;

before(async () => {
  service = await serve();
  browser = await launch();
  context = await enter(browser, service, "engineer");
});

after(async () => {
  assert.deepEqual(context?.troubles ?? [], []);
  await browser?.close();
  await service?.stop();
});


test("E-37.1 is rehearsed from the first page in two presses, and the crew calls", async () => {
  const page = await context.newPage();
  const there = await rehearse(page);
  assert.match(there, /^\/excursions\/E-37\.1\/practice\//);
  await page.waitForSelector(".call button", { timeout: 90000 });
  await page.click(".call button");
  await pressed(page, 1);
  assert.deepEqual(await audit(page), []);
  await page.goto(`${there}/debrief`);
  assert.match(await page.textContent("main"), /Nothing of a practice run enters the record/);
  await Promise.all([page.waitForURL(/E-37\.1$/), page.click("text=Discard practice")]);
  await page.close();
});

test("two browsers press at once, and each sees what the other pressed", async () => {
  const page = await context.newPage();
  const there = await rehearse(page, "at real pace");
  const others = await enter(browser, service, "lead");
  const other = await others.newPage();
  await other.goto(there);
  const [mine, theirs] = [page.locator(".seat.ev1 [name=press]").first(), other.locator(".seat.ev2 [name=press]").first()];
  await Promise.all([mine.click(), theirs.click()]);
  await Promise.all([pressed(page, 2), pressed(other, 2)]);
  assert.equal(await log(page), 2);
  assert.equal(await page.locator(".seat.ev2 .press [value^='done']").count(), 1);
  assert.deepEqual(others.troubles, []);
  await others.close();
  await page.close();
});

test("a get-ahead is added with one press, and undone with another", async () => {
  const page = await context.newPage();
  await rehearse(page, "at real pace");
  const add = page.locator("#aheads [name=press]").first();
  const task = (await add.getAttribute("value")).replace("added ", "");
  const seats = await page.locator("#aheads [name=seat]").first().getAttribute("value");
  const seat = seats.split(",")[0].toLowerCase();
  await add.click();
  await pressed(page, 1);
  await page.waitForFunction((task) => document.querySelector(".log tbody tr").innerText.includes(`${task} added`), task);
  assert.match(await page.locator(`.seat.${seat} .last-press`).innerText(), new RegExp(`${task} added`));
  assert.equal(await page.locator(`#rest tr[data-code='${task}']`).count(), 1);
  assert.equal(await page.locator(`#aheads [value='added ${task}']`).count(), 0);
  await page.locator(`.seat.${seat} .last-press button`).click();
  await pressed(page, 2);
  await page.waitForFunction((task) => document.querySelector(`#rest tr[data-code='${task}']`) === null, task);
  await page.close();
});

/** What can be pressed in the page itself and is smaller than a thumb. */
const small = (page) => page.locator("main :is(a, button, input:not([type=hidden]), select, summary, label:has(input)):visible").evaluateAll((all) =>
  all
    // A ticked label is the target of the box in it, and a field is in its label.
    .map((one) => [one, one.closest("label") ?? one])
    .filter(([, target]) => {
      const box = target.getBoundingClientRect();
      return box.height > 1 && (box.height < 43.9 || box.width < 43.9);
    })
    .map(([one]) => `${one.localName} ${(one.textContent || one.name).trim()}`));

test("with a thumb at 400 px every target is 44 px, and nothing sticks out", async () => {
  const narrow = await enter(browser, service, "engineer", { viewport: { width: 400, height: 900 }, hasTouch: true });
  const page = await narrow.newPage();
  const there = await rehearse(page, "at real pace");
  assert.equal(await overflow(page), "");
  assert.deepEqual(await small(page), []);
  await page.locator(".seat.ev1 [name=press]").first().click();
  await pressed(page, 1);
  assert.deepEqual(await small(page), []);
  for (const other of ["/excursions/E-37.1/day", "/excursions/E-37.1/late-card", `${there}/debrief`]) {
    const beside = await narrow.newPage();
    await beside.goto(other);
    assert.deepEqual(await small(beside), [], other);
    await beside.close();
  }
  await page.locator(".seat-pick label").nth(1).click();
  assert.equal(await page.locator(".seat.ev1").isVisible(), false);
  assert.equal(await page.locator(".seat.ev2").isVisible(), true);
  assert.deepEqual(narrow.troubles, []);
  await narrow.close();
});

/** Tab until the button with these words has the focus. */
async function tabTo(page, wanted, most = 120) {
  for (let n = 0; n < most; n += 1) {
    await page.keyboard.press("Tab");
    const at = await page.evaluate(() => document.activeElement.closest("main button")?.textContent.trim().replace(/\s+/g, " ") ?? "");
    if (wanted.test(at)) return at;
  }
  assert.fail(`no ${wanted} in ${most} tabs`);
}

test("by keyboard alone a task is started, ended and undone, and the live region says what changed", async () => {
  const page = await context.newPage();
  await rehearse(page, "at real pace");
  const task = (await tabTo(page, /^Started T-/)).replace("Started ", "");
  await page.keyboard.press("Enter");
  await pressed(page, 1);
  await tabTo(page, new RegExp(`^done ${task}$`));
  await page.keyboard.press("Enter");
  await pressed(page, 2);
  const said = await page.textContent("[data-day-said]");
  assert.ok(said.length > 0 && said.length < 400, said);
  await tabTo(page, new RegExp(`^Undo ${task} done`));
  await page.keyboard.press("Enter");
  await pressed(page, 3);
  await page.waitForSelector(`.seat.ev1 .press button:has-text("done ${task}"), .seat .press button:has-text("${task}")`);
  assert.match(await page.textContent(".log"), /undone/);
  await page.close();
});

test("the live region says what changed and nothing else", async () => {
  const page = await context.newPage();
  const there = await rehearse(page, "at real pace");
  const other = await context.newPage();
  await other.goto(there);
  assert.equal(await page.textContent("[data-day-said]"), "", "nothing has changed yet");
  const before = await page.locator("[data-day-say]").evaluateAll((all) => all.map((one) => one.dataset.daySay));
  await other.locator(".seat.ev1 [name=press]").first().click();
  await pressed(page, 1);
  await page.waitForFunction(() => document.querySelector("[data-day-said]").textContent !== "");
  const said = await page.textContent("[data-day-said]");
  assert.match(said, /T-\d+ started, PET \d:\d\d/);
  for (const sentence of before) assert.ok(!said.includes(sentence), `${sentence} was there before: ${said}`);
  // A minute in which nothing happens says nothing of presses again.
  await page.waitForTimeout(2500);
  assert.equal(await page.textContent("[data-day-said]"), said);
  await other.close();
  await page.close();
});

test("on a wall the presses are there and work", async () => {
  const wide = await enter(browser, service, "engineer", { viewport: { width: 3840, height: 2160 } });
  const page = await wide.newPage();
  await rehearse(page, "at real pace");
  assert.equal(await overflow(page), "");
  const button = page.locator(".seat.ev2 [name=press]").first();
  const box = await button.boundingBox();
  assert.ok(box && box.height >= 44 && box.y + box.height <= 2160, JSON.stringify(box));
  await button.click();
  await page.waitForSelector(".seat.ev2 .press [value^='done']:visible");
  await page.locator(".seat.ev2 .last-press button").click();
  await page.waitForSelector(".seat.ev2 [value^='started']:visible");
  assert.deepEqual(wide.troubles, []);
  await wide.close();
});

test("the clock of an excursion months ahead is not offered, its rehearsal is", async () => {
  const page = await context.newPage();
  await page.goto("/excursions/E-37.1/day");
  assert.match(await page.textContent("#begin"), /Its clock can be started from/);
  assert.equal(await page.locator("[name=press][value=egress]").count(), 0);
  assert.equal(await page.locator("[name=pace]").count(), 2);
  await page.close();
});

test("without scripts every button is a form", async () => {
  const plain = await enter(browser, service, "engineer", { javaScriptEnabled: false });
  const page = await plain.newPage();
  await rehearse(page, "at real pace");
  const button = page.locator(".seat.ev1 [name=press]").first();
  await Promise.all([page.waitForNavigation(), button.click()]);
  assert.match(await page.textContent("main"), /Saved: T-\d+ started at PET/);
  assert.equal(await log(page), 1);
  await plain.close();
});

test("the late card prints on one sheet of A4 across", async () => {
  const page = await context.newPage();
  await page.goto("/excursions/E-37.1/late-card");
  const pdf = await page.pdf({ preferCSSPageSize: true });
  const pages = pdf.toString("latin1").match(/\/Type\s*\/Page[^s]/g) ?? [];
  assert.equal(pages.length, 1);
  assert.match(await page.textContent("main"), /Flight\s+control decides/);
  await page.close();
});
