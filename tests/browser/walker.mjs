// How a journey walks: a window for each role on one service, and the few things that a person
// does on a page. Everything is found by what can be read there.

import assert from "node:assert/strict";
import { enter, fillIn, launch, serve } from "./service.mjs";

export async function walker(javaScriptEnabled, roles) {
  const service = await serve();
  const browser = await launch();
  const windows = {};
  for (const role of roles) windows[role] = await enter(browser, service, role, { javaScriptEnabled });

  return {
    service,
    browser,
    scripts: javaScriptEnabled,
    window: (role) => windows[role],

    /** A fresh page of this person; the one before is closed. */
    async open(role, address) {
      for (const old of windows[role].pages()) await old.close();
      const page = await windows[role].newPage();
      await page.goto(address);
      return page;
    },

    /** The same person at another machine. */
    async elsewhere(role) {
      return (await enter(browser, service, role, { javaScriptEnabled })).newPage();
    },

    signIn: (page, role) => fillIn(page, service, role),

    async stop() {
      const troubles = Object.values(windows).flatMap((context) => context.troubles);
      await browser.close();
      await service.stop();
      assert.deepEqual(troubles, []);
    },
  };
}

/** Presses a button or link that leads to another page, and waits for it; gives its status. */
export async function press(page, what, scope = page) {
  const named = { name: what, exact: true };
  const target = typeof what === "string" ? scope.getByRole("button", named).or(scope.getByRole("link", named)).first() : what;
  const answer = page.waitForEvent("response", (got) => got.request().isNavigationRequest() && ![302, 303].includes(got.status()));
  await target.click();
  const got = await answer;
  await page.waitForLoadState("load");
  return got.status();
}

/** Fills fields by the beginning of their labels. */
export async function fill(scope, fields) {
  for (const [label, value] of Object.entries(fields)) {
    const field = scope.getByLabel(label).first();
    if ((await field.evaluate((element) => element.tagName)) === "SELECT") await field.selectOption({ label: value });
    else await field.fill(value);
  }
}

/** Fills the form of an attempt: its outcome first, which shows the fields; lists by their values. */
export async function fillAttempt(page, outcome, choices, fields) {
  await page.getByLabel(outcome, { exact: true }).check();
  await page.locator("details.more > summary").first().click();
  // Technique and side are lists of their own where the approach is none of those offered.
  if (choices.Technique) await page.getByLabel("Another approach").check();
  for (const [label, value] of Object.entries(choices)) await page.getByLabel(label).and(page.locator("select")).first().selectOption(value);
  await fill(page.locator("main"), fields);
}

export const text = (page) => page.locator("main").innerText();

/** What must be read on the page. */
export async function says(page, ...words) {
  const shown = await text(page);
  for (const expected of words) assert.ok(shown.includes(expected), `“${expected}” is not on ${page.url()}:\n${shown}`);
}

export const path = (page) => {
  const { pathname, search } = new URL(page.url());
  return pathname + search;
};

/** The codes of the rows of the backlog, in their order. */
export const rows = (page) => page.locator(".backlog tbody tr").evaluateAll((all) => all.map((row) => row.dataset.code));

/** Until the page that was just loaded is drawn: only then does its first field have the focus. */
export const drawn = (page) => page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
