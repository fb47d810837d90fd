// The board of the day while something is away: the connection, the server, the session, the page
// itself, or the right time. No press is lost, none counts twice, and the clock is right again.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { log, pressed, rehearse, running } from "./board.mjs";
import { look } from "./look.mjs";
import { DAY, enter, launch, serve, signIn } from "./service.mjs";

let service, browser, context;
// While something is away the browser says so itself.
const away = /ERR_INTERNET_DISCONNECTED|ERR_FAILED|ERR_CONNECTION|status of (401|403|409|422)/;

before(async () => {
  service = await serve();
  browser = await launch();
  context = await enter(browser, service, "engineer");
});

after(async () => {
  assert.deepEqual(context?.troubles.filter((trouble) => !away.test(trouble)), []);
  await browser?.close();
  await service?.stop();
});

const waits = (page, count) => page.waitForFunction((count) => document.querySelectorAll("[data-day-queue] li").length === count, count);
const sentAll = (page) => page.waitForFunction(() => document.querySelector("[data-day-waiting]").hidden);
const shownPet = async (page) => {
  const [hours, minutes] = (await page.textContent("[data-day-pet]")).split(":").map(Number);
  return hours * 60 + minutes;
};
const column = (page, at) => page.locator(".log tbody tr").evaluateAll((rows, at) => rows.map((row) => row.children[at].textContent.trim()), at);

test("presses wait in the page while the connection is lost, and arrive in their order", async (t) => {
  const page = await context.newPage();
  await rehearse(page, "at real pace");
  t.after(() => context.setOffline(false));
  await context.setOffline(true);
  await page.locator(".seat.ev1 [name=press]").first().click();
  await page.locator(".seat.ev2 [name=press]").first().click();
  await page.waitForFunction(() => /2 presses wait/.test(document.querySelector("[data-day-waiting]").innerText));
  await waits(page, 2);
  assert.equal(await log(page), 0);
  await context.setOffline(false);
  await pressed(page, 2);
  await sentAll(page);
  assert.deepEqual(await column(page, 2), ["EV2", "EV1"]);
  await page.close();
});

test("a page that is closed while the connection is lost sends its presses when it is opened again, once", async (t) => {
  const page = await context.newPage();
  const there = await rehearse(page, "at real pace");
  t.after(() => context.setOffline(false));
  await context.setOffline(true);
  await page.locator(".seat.ev1 [name=press]").first().click();
  await page.locator(".seat.ev2 [name=press]").first().click();
  await waits(page, 2);
  await page.close();
  await context.setOffline(false);
  const again = await context.newPage();
  await again.goto(there);
  await pressed(again, 2);
  await sentAll(again);
  assert.deepEqual(await column(again, 2), ["EV2", "EV1"]);
  const third = await context.newPage();
  await third.goto(there);
  await third.waitForTimeout(1500);
  assert.equal(await log(third), 2);
  await Promise.all([third.close(), again.close()]);
});

test("presses of a session that has ended arrive after a sign-in in another tab", async () => {
  const own = await enter(browser, service, "engineer");
  const page = await own.newPage();
  await rehearse(page, "at real pace");
  await own.clearCookies();
  await page.locator(".seat.ev1 [name=press]").first().click();
  await page.waitForFunction(() => /session has ended/.test(document.querySelector("[data-day-said]").textContent));
  await waits(page, 1);
  const other = await own.newPage();
  await signIn(other, service, "engineer");
  await pressed(page, 1);
  await sentAll(page);
  // The rest of the page has the token of the new session too.
  await page.locator(".seat.ev1 .press [value^='done']").click();
  await pressed(page, 2);
  await Promise.all([page.waitForURL(/E-37\.1$/), page.click("text=Discard practice")]);
  await own.close();
});

test("presses of one account are not sent by another at the same tablet", async (t) => {
  const own = await enter(browser, service, "engineer");
  const page = await own.newPage();
  const there = await rehearse(page, "at real pace");
  t.after(() => own.close());
  await own.setOffline(true);
  await page.locator(".seat.ev1 [name=press]").first().click();
  await waits(page, 1);
  await page.close();
  await own.setOffline(false);
  await own.clearCookies();
  const other = await own.newPage();
  await signIn(other, service, "lead");
  await other.goto(there);
  await other.waitForTimeout(1500);
  assert.equal(await log(other), 0);
  assert.match(await other.textContent("[data-day-queue]"), /1 press of engineer: sent when engineer signs in here/);
  await own.clearCookies();
  await signIn(other, service, "engineer");
  await other.goto(there);
  await pressed(other, 1);
  assert.deepEqual(await column(other, 4), ["engineer"]);
});

test("a press that is refused stays in the page until it is dismissed", async () => {
  const page = await context.newPage();
  await rehearse(page, "at real pace");
  await page.locator(".seat.ev1 > .press [name=pet]").fill("9:00");
  await page.locator(".seat.ev1 [name=press]").first().click();
  await page.waitForSelector("[data-day-refused]:visible");
  assert.match(await page.textContent("[data-day-refusals]"), /9:00 Started T-\d+: PET 9:00 has not come yet/);
  await page.reload();
  await page.waitForSelector("[data-day-refused]:visible");
  await page.click("[data-day-dismiss]");
  assert.equal(await page.isVisible("[data-day-refused]"), false);
  await page.reload();
  assert.equal(await page.isVisible("[data-day-refused]"), false);
  assert.equal(await log(page), 0);
  // One that is saved afterwards with another time is not said any more.
  await page.locator(".seat.ev1 > .press [name=pet]").fill("9:00");
  await page.locator(".seat.ev1 [name=press]").first().click();
  await page.waitForSelector("[data-day-refused]:visible");
  await page.locator(".seat.ev1 > .press [name=pet]").fill("");
  await page.locator(".seat.ev1 [name=press]").first().click();
  await pressed(page, 1);
  assert.equal(await page.isVisible("[data-day-refused]"), false);
  await page.close();
});

test("the clock of a page that slept is right again with the next answer", async () => {
  const page = await context.newPage();
  await rehearse(page, "60 times faster");
  // In sleep a page's clocks stand still.
  await page.evaluate(() => {
    const [run, wall] = [performance.now(), Date.now()];
    performance.now = () => run;
    Date.now = () => wall;
  });
  const before = await shownPet(page);
  await page.waitForTimeout(7000);
  assert.ok((await shownPet(page)) >= before + 4, `${await shownPet(page)} after ${before}`);
  await page.close();
});

test("PET is not shown before the minute of a press", async () => {
  const page = await context.newPage();
  await rehearse(page, "at real pace");
  await page.locator(".seat.ev1 > .press [name=pet]").fill("0:02");
  await page.locator(".seat.ev1 [name=press]").first().click();
  await pressed(page, 1);
  // The clock itself is a minute or two behind; its script ticks every second.
  for (let at = 0; at < 5; at += 1) {
    await page.waitForTimeout(500);
    assert.ok((await shownPet(page)) >= 2);
  }
  await page.close();
});

test("the server is away for ten minutes: three presses arrive in order, each at its own time", async () => {
  const page = await context.newPage();
  await rehearse(page, "at real pace");
  await service.stop({ keep: true });
  await page.locator(".seat.ev1 [name=press]").first().click();
  await page.locator(".seat.ev2 [name=press]").first().click();
  await page.locator(".seat.ev2 > .press [name=pet]").fill("");
  await page.locator(".seat.ev2 [name=press]").last().click();
  await waits(page, 3);
  const words = await page.locator("[data-day-queue] li").allTextContents();
  service = await serve({ again: service, day: `${DAY} 14:35` });
  await pressed(page, 3);
  await sentAll(page);
  await page.waitForFunction(() => Number(document.querySelector("[data-day-pet]").textContent.split(":")[1]) >= 10);
  assert.equal(await log(page), 3);
  const order = (await column(page, 3)).reverse();
  assert.equal(order.length, words.length);
  const pets = (await column(page, 0)).map((pet) => Number(pet.split(":")[1]));
  assert.ok(pets.every((pet) => pet <= 5), `they have the time at which they were pressed: ${pets}`);
  await page.close();
});

test("with the server away a seat goes on from what waits: started, done and the next one started", async () => {
  const page = await context.newPage();
  await rehearse(page, "at real pace");
  await service.stop({ keep: true });
  const main = (words) => page.locator(`.seat.ev1 [data-day-main] [value^='${words}']`);
  const first = (await main("started").getAttribute("value")).replace("started ", "");
  for (const [count, [act, pet]] of [["started", "0:00"], ["done", "0:01"], ["started", "0:01"]].entries()) {
    await main(act).waitFor();
    await page.locator(".seat.ev1 [data-day-main] [name=pet]").fill(pet);
    await main(act).click();
    await waits(page, count + 1);
  }
  await main("done").waitFor();
  assert.notEqual((await main("done").getAttribute("value")).replace("done ", ""), first, "another task is under way");
  assert.match(await page.textContent(".seat.ev1 .now-task"), /under way.*0:01 Started T-\d+ · waiting to be sent/);
  service = await serve({ again: service, day: `${DAY} 14:55` });
  await pressed(page, 3);
  await sentAll(page);
  assert.deepEqual(await column(page, 0), ["0:01", "0:01", "0:00"]);
  assert.deepEqual((await column(page, 3)).map((words) => words.split(" ").at(-1)), ["started", "done", "started"]);
  await main("done").waitFor();
  await page.close();
});

test("a practice run that somebody discards is over for everybody who watches it", async () => {
  const page = await context.newPage();
  const there = await rehearse(page, "at real pace");
  const others = await enter(browser, service, "lead");
  const other = await others.newPage();
  await other.goto(there);
  await Promise.all([page.waitForURL(/E-37\.1$/), page.click("text=Discard practice")]);
  await other.waitForFunction(() => /it was discarded/.test(document.querySelector("main").innerText));
  assert.deepEqual(others.troubles.filter((trouble) => !away.test(trouble)), []);
  await others.close();
  await page.close();
});

test("what is typed and opened on a running board stays when it changes, and it holds up in both themes", async () => {
  service = await running(browser, service, { serve, enter });
  const own = await enter(browser, service, "engineer");
  const board = await own.newPage();
  await board.goto("/excursions/E-37.1/day");
  assert.match(await board.textContent(".seat.ev2 .fallback"), /Past its trigger/);
  await board.click("summary:has-text('Times of egress')");
  await board.fill("[data-day-part=begin] [name=pet]", "1:11");
  const other = await own.newPage();
  await other.goto("/excursions/E-37.1/day");
  const before = await log(board);
  await other.locator(".seat.ev1 > .press [name=press]").first().click();
  await pressed(board, before + 1);
  assert.equal(await board.inputValue("[data-day-part=begin] [name=pet]"), "1:11");
  assert.equal(await board.isVisible("[data-day-part=begin] [name=pet]"), true);
  // With a log and a fallback, with presses that wait and one that was refused.
  await board.locator(".seat.ev1 > .press [name=pet]").fill("9:00");
  await board.locator(".seat.ev1 > .press [name=press]").first().click();
  await board.waitForSelector("[data-day-refused]:visible");
  await own.setOffline(true);
  await board.locator(".seat.ev1 > .press [name=press]").first().click();
  await waits(board, 1);
  assert.deepEqual(await look(board, "a running board", [400]), []);
  await own.setOffline(false);
  await sentAll(board);
  assert.deepEqual(own.troubles.filter((trouble) => !away.test(trouble)), []);
  await own.close();
});
