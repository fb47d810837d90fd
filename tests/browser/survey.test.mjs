// Every page in both themes and at three widths: readable by anyone, nothing that sticks out,
// nothing asked of another host, nothing that the policy of the service refuses.
// Source: WCAG 2.2, levels A and AA, 2023, as far as axe-core checks it by itself.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { PAGES, REFUSED } from "./pages.mjs";
import { audit, enter, launch, overflow, serve } from "./service.mjs";

const WIDTHS = [360, 400, 1440];
const TABS = 3;
let service, browser;

before(async () => {
  service = await serve();
  browser = await launch();
});

after(async () => {
  await browser?.close();
  await service?.stop();
});

/** What is wrong with the page that stands there, a line each. */
async function look(page, name) {
  const found = [];
  for (const theme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme: theme });
    found.push(...(await audit(page)).map((line) => `${name} (${theme}): ${line}`));
  }
  for (const width of WIDTHS) {
    await page.setViewportSize({ width, height: 900 });
    const wide = await overflow(page);
    if (wide) found.push(`${name}: ${wide}`);
  }
  return found;
}

/** Looks at all of these with a few tabs at once. */
async function survey(context, addresses, status = () => 200) {
  const left = [...addresses], found = [];
  const walk = async () => {
    const page = await context.newPage();
    for (let address = left.shift(); address; address = left.shift()) {
      await page.setViewportSize({ width: 1440, height: 900 });
      const answer = await page.goto(address);
      if (answer.status() !== status(address)) found.push(`${address}: answered ${answer.status()}`);
      found.push(...(await look(page, address)));
    }
    await page.close();
  };
  await Promise.all(Array.from({ length: TABS }, walk));
  return [...found, ...context.troubles];
}

const nothing = (found) => assert.equal(found.join("\n"), "");

test("every page of a lead", async () => {
  const context = await enter(browser, service, "lead");
  nothing(await survey(context, PAGES));
  await context.close();
});
