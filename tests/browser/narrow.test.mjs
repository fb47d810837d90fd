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

test("slots, supplies and turn-back times are not cut at 400 px", async () => {
  const context = await enter(browser, service, "lead", { viewport: { width: 400, height: 900 } });
  const page = await context.newPage();
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
