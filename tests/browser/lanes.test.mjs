// Dragging, keys and the way back on the page of a planned excursion, against the service itself
// with the demo scenario.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { enter, launch, serve } from "./service.mjs";

const PAGE = "/excursions/E-37.1";

let service, browser, context, page;

before(async () => {
  service = await serve();
  browser = await launch();
  context = await enter(browser, service, "lead", { hasTouch: true });
  page = await context.newPage();
});

after(async () => {
  assert.deepEqual(context?.troubles, []);
  await browser?.close();
  await service?.stop();
});

const open = async () => {
  await page.goto(PAGE);
  await page.waitForSelector(".handle[tabindex]");
};
// Task and seats of every row of the slot table, down the lanes.
const rows = () =>
  page.locator(".slot-table tbody tr").evaluateAll((all) =>
    all.map((row) => `${row.querySelector("a.code").textContent} ${row.children[2].textContent}`));
const block = (task) => page.locator(`.block[data-task="${task}"]`);
const said = () => page.locator("body > [role=status]").textContent();
const spoken = (words) =>
  page.waitForFunction((words) => document.querySelector("body > [role=status]").textContent.includes(words), words);
const focused = () => page.evaluate(() => document.activeElement.closest(".block")?.dataset.task);

// A place on the drawing, in its own units, as a place in the window.
const drawn = (x, y) =>
  page.locator(".lane-drawing").evaluate(
    (drawing, [x, y]) => {
      const at = new DOMPoint(x, y).matrixTransform(drawing.getScreenCTM());
      return [at.x, at.y];
    },
    [x, y],
  );

// Drags from the middle of an element to a place on the drawing, in its own units; without a height, straight across.
async function drag(from, x, y) {
  const box = await from.boundingBox();
  const to = await drawn(x, y ?? 0);
  if (y === undefined) to[1] = box.y + box.height / 2;
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(to[0] + 3, to[1] + 3, { steps: 4 });
  await page.mouse.move(...to);
  await page.mouse.up();
}

test("arrows give a block to the other seat, the answer is spoken and the block keeps the focus", async () => {
  await open();
  assert.ok((await rows()).includes("T-0122 EV2"));
  await block("T-0122").locator(".handle").focus();
  await page.keyboard.press("ArrowLeft");
  await spoken("T-0122 is worked by EV1");
  assert.match(await said(), /Time left at P80: .* (No check changed|Check)/);
  assert.equal(await focused(), "T-0122");
  assert.ok((await rows()).includes("T-0122 EV1"));
  assert.equal(page.url(), service.base + PAGE);
});

test("arrows up and down change the order on a lane, and its end is said", async () => {
  await open();
  const before = (await rows()).filter((row) => row.endsWith("EV1")).map((row) => row.slice(0, 6));
  assert.equal(before.length, 3);
  await block(before[0]).locator(".handle").focus();
  await page.keyboard.press("ArrowUp");
  assert.equal(await said(), `${before[0]} is the first one on its lane.`);
  await page.keyboard.press("ArrowDown");
  await spoken(`${before[0]} is worked by EV1`);
  const now = (await rows()).filter((row) => row.endsWith("EV1")).map((row) => row.slice(0, 6));
  assert.deepEqual(now, [before[1], before[0], before[2]]);
  assert.equal(await focused(), before[0]);
});

test("Ctrl Z takes the last change back, one step away", async () => {
  const before = await rows();
  await page.keyboard.press("Control+z");
  await page.waitForSelector("text=Undone. It was:");
  assert.notDeepEqual(await rows(), before);
});

test("a block is dragged to another lane and a line shows where it goes", async () => {
  await open();
  const from = block("T-0122").locator(".work");
  await from.scrollIntoViewIfNeeded();
  const box = await from.boundingBox();
  await page.mouse.move(box.x + 20, box.y + box.height - 6);
  await page.mouse.down();
  await page.mouse.move(box.x + 60, box.y + 40, { steps: 3 });
  assert.equal(await page.locator(".drop-line").count(), 1);
  await page.keyboard.press("Escape");
  assert.equal(await page.locator(".drop-line").count(), 0, "Escape leaves it where it was");
  await page.mouse.up();
  assert.ok((await rows()).includes("T-0122 EV1"));

  await drag(from, 290, 60);
  await spoken("T-0122 is worked by EV2");
  assert.ok((await rows()).includes("T-0122 EV2"));
});

test("a finger moves a block by its handle, and scrolls by the rest of it", async () => {
  await open();
  const touch = await context.newCDPSession(page);
  const point = (x, y) => [{ x, y }];
  const seat = async () => (await rows()).find((row) => row.startsWith("T-0122"));
  const before = await seat();
  const swipe = async (from) => {
    await from.scrollIntoViewIfNeeded();
    const aim = await drawn(before.endsWith("EV2") ? 150 : 290, 60);
    const box = await from.boundingBox();
    const [left, top] = [box.x + box.width / 2, box.y + box.height / 2];
    await touch.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: point(left, top) });
    for (const part of [0.3, 0.7, 1]) {
      await touch.send("Input.dispatchTouchEvent", { type: "touchMove", touchPoints: point(left + (aim[0] - left) * part, top + (aim[1] - top) * part) });
    }
    await touch.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
  };
  await swipe(block("T-0122").locator(".work"));
  assert.equal(await seat(), before, "by its middle it is not moved");
  await open();
  await swipe(block("T-0122").locator(".handle"));
  const to = before.endsWith("EV2") ? "EV1" : "EV2";
  await spoken(`T-0122 is worked by ${to}`);
  assert.equal(await seat(), `T-0122 ${to}`);
  await page.keyboard.press("Control+z");
  await page.waitForSelector("text=Undone. It was:");
});

test("an open task is dragged in from the list, and out again", async () => {
  await open();
  const offer = page.locator("[data-offer][data-count='1']").first();
  const task = await offer.getAttribute("data-offer");
  await offer.scrollIntoViewIfNeeded();
  await drag(offer.locator("p"), 150, 300);
  await spoken(`${task} is pencilled on E-37.1.`);
  assert.ok((await rows()).some((row) => row.startsWith(task)));
  assert.equal(await block(task).getAttribute("data-state"), "pencilled");

  // A block that has scrolled away cannot be taken.
  await block(task).locator(".work").scrollIntoViewIfNeeded();
  await drag(block(task).locator(".work"), -20);
  await spoken(`${task} is removed from E-37.1.`);
  assert.ok(!(await rows()).some((row) => row.startsWith(task)));
});

test("Delete on a set block opens its form and asks for the reason", async () => {
  await open();
  await block("T-0114").locator(".handle").focus();
  await page.keyboard.press("Delete");
  assert.match(await said(), /T-0114 is set: say why/);
  assert.match(await page.evaluate(() => document.activeElement.id), /^f-reason-S-.*-withdraw$/);
  assert.ok((await rows()).some((row) => row.startsWith("T-0114")), "nothing is taken off yet");
  await page.keyboard.press("p");
  await page.locator("[data-act=withdraw][open] button").click();
  await page.waitForSelector("text=T-0114 is removed from E-37.1.");
});

test("without scripts the same is done by forms", async () => {
  const plain = await browser.newContext({ baseURL: service.base, javaScriptEnabled: false, storageState: await context.storageState() });
  const still = await plain.newPage();
  await still.goto(PAGE);
  assert.equal(await still.locator(".lane-drawing .handle").count() > 0, true);
  assert.equal(await still.locator("#lanes-keys").isVisible(), false, "keys that do nothing are not named");
  const fold = still.locator(".slot-fold", { has: still.locator("summary .code", { hasText: "T-0122" }) });
  await fold.locator("summary").first().click();
  await fold.locator("[data-act=place] summary").first().click();
  await fold.locator("[data-act=place] select[name=seats]").selectOption("EV1");
  await fold.locator("[data-act=place] button").click();
  assert.match(await still.locator(".notice").first().textContent(), /T-0122 is worked by EV1 now\. Time left at P80/);
  await still.locator(".notice button").click();
  assert.match(await still.locator(".notice").first().textContent(), /Undone/);
  await plain.close();
});
