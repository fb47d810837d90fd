// A narrow window: tables that a person reads on the day are rows under each other, none is cut; and
// where a cell of the matrix is opened, nothing lies over it.
// Source: WCAG 2.2, success criteria 1.4.10 Reflow and 2.4.11 Focus Not Obscured, 2023.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { enter, launch, serve } from "./service.mjs";

let service, browser;

before(async () => {
  service = await serve();
  browser = await launch();
});

after(async () => {
  await browser?.close();
  await service?.stop();
});

/** Tables in these parts of the page that are wider than what shows them. */
const cut = (page, parts) =>
  page.evaluate((parts) => {
    const found = [];
    for (const part of parts) {
      const tables = document.querySelectorAll(`${part} table`);
      if (tables.length === 0) found.push(`${part} has no table`);
      for (const table of tables) {
        const shown = table.closest(".scroll") ?? table.parentElement;
        if (shown.scrollWidth > shown.clientWidth) found.push(`${part}: ${shown.scrollWidth} in ${shown.clientWidth} px`);
      }
    }
    return found;
  }, parts);

test("constraints, sister units, slots, supplies and turn-back times are not cut at 400 px", async () => {
  const context = await enter(browser, service, "lead", { viewport: { width: 400, height: 900 } });
  const page = await context.newPage();
  await page.goto("/");
  assert.deepEqual(await cut(page, ["#constraints", "#team"]), []);
  await page.goto("/findings/N-007");
  assert.deepEqual(await cut(page, ["#sisters"]), []);
  await page.goto("/excursions/E-37.1");
  assert.deepEqual(await cut(page, [".slots-side", "#suits"]), []);
  await page.goto("/excursions/E-37.1/day");
  assert.deepEqual(await cut(page, ["#turn-back", "#rest", "#drops"]), []);
  await context.close();
});

for (const width of [1440, 400]) {
  test(`nothing lies over the opened cell of the matrix, ${width} wide`, async () => {
    const context = await enter(browser, service, "lead", { viewport: { width, height: 900 } });
    const page = await context.newPage();
    for (const cell of ["T-0142:E-37.2", "T-0153:E-37.1"]) {
      await page.goto(`/slots?cell=${cell}#cell`);
      await page.evaluate(() => document.fonts.ready);
      const over = await page.evaluate(() => {
        const opened = document.querySelector("#cell");
        const head = opened.querySelector("h2").getBoundingClientRect();
        const found = [];
        for (const [x, y] of [[head.left + 4, head.top + 4], [head.left + 40, head.bottom - 4]]) {
          const top = document.elementFromPoint(x, y);
          if (!top || !opened.contains(top)) found.push(`${Math.round(x)}, ${Math.round(y)}: ${top?.tagName} ${top?.textContent.trim().slice(0, 40)}`);
        }
        return found;
      });
      assert.deepEqual(over, [], cell);
    }
    await context.close();
  });
}

/** Adds a record by its form and gives where it leads. */
async function added(page, form, fields, button) {
  await page.goto(form);
  for (const [name, text] of Object.entries(fields)) await page.fill(`[name=${name}]`, text);
  await Promise.all([page.waitForNavigation(), page.getByRole("button", { name: button }).click()]);
  assert.equal(await page.locator(".errors").count(), 0, await page.locator("main").innerText());
}

test("a title of 120 letters without a blank and a code of 60 letters break no page", async () => {
  const context = await enter(browser, service, "lead");
  const page = await context.newPage();
  const [title, code] = ["W".repeat(120), `T-${"9".repeat(58)}`];
  await added(page, "/tasks/new", { title, code, needed_by_flight: "G-37", opened: "2030-01-01" }, "Add task");
  const wide = [];
  for (const width of [1440, 400]) {
    await page.setViewportSize({ width, height: 900 });
    for (const address of [`/tasks/${code}`, `/attempts/new?task=${code}`, "/slots", "/today/all", "/", "/plan", "/flights/G-37", "/open?q=WWWW", "/tasks"]) {
      await page.goto(address);
      const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      if (over > 0) wide.push(`${address}, ${width}: ${over} px too wide`);
    }
  }
  assert.deepEqual(wide, []);
  await context.close();
});

test("on a phone the first row stands above 600 px, and what filters it is opened by a press", async () => {
  const context = await enter(browser, service, "lead", { viewport: { width: 400, height: 860 } });
  const page = await context.newPage();
  for (const [address, row] of [["/open", ".backlog tbody tr"], ["/slots", ".matrix tbody tr"]]) {
    await page.goto(address);
    const { y } = await page.locator(row).first().boundingBox();
    assert.ok(y < 600, `${address}: its first row begins at ${y}`);
    await page.locator(".narrow-fold > summary").click();
    assert.ok(await page.locator(".narrow-fold form").isVisible(), address);
  }
  await page.setViewportSize({ width: 1440, height: 900 });
  await page.goto("/open");
  assert.ok(await page.locator(".narrow-fold form").isVisible(), "in a wide window they stand there");
  await context.close();
});

test("the form of an attempt shows at most eight fields on a phone, the photographs among them", async () => {
  const context = await enter(browser, service, "engineer", { viewport: { width: 400, height: 860 } });
  const page = await context.newPage();
  await page.goto("/attempts/new?task=T-0143");
  const form = page.locator("form.attempt");
  const inView = async () => {
    const cells = await form.locator(".strip > *:visible").all();
    const named = await Promise.all(cells.map((cell) => cell.locator(".label, label").first().innerText()));
    return named.map((name) => name.replace(/\s*\*$/, ""));
  };
  assert.deepEqual(await inView(), [], "nothing is asked before the outcome");
  for (const outcome of ["done", "part done", "not completed", "not reached"]) {
    await form.getByLabel(outcome, { exact: true }).check();
    const names = await inView();
    assert.ok(names.length >= 2 && names.length <= 7, `${outcome}: ${names.join(" | ")}`);
    assert.equal(names.includes("Photographs"), outcome !== "not reached", `${outcome}: ${names.join(" | ")}`);
  }
  await form.getByLabel("not completed", { exact: true }).check();
  assert.equal(await form.getByLabel("Access side").isVisible(), false);
  await form.getByLabel("Another approach").check();
  assert.equal(await form.getByLabel("Access side").isVisible(), true);
  await context.close();
});
