// The main uses by keyboard alone: no test here touches the mouse.
// Source: WCAG 2.2, success criteria 2.1.1 Keyboard, 2.4.3 Focus Order and 2.4.7 Focus Visible, 2023.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { enter, launch, serve } from "./service.mjs";
import { drawn, path, rows } from "./walker.mjs";

let service, browser, context, page;

before(async () => {
  service = await serve();
  browser = await launch();
  context = await enter(browser, service);
  page = await context.newPage();
});

after(async () => {
  await browser?.close();
  await service?.stop();
});

const focus = async () => {
  await drawn(page);
  return page.evaluate(() => {
    const at = document.activeElement;
    return at.getAttribute("name") || at.textContent.trim().replace(/\s+/g, " ") || at.tagName;
  });
};
const type = (words) => page.keyboard.type(words);
/** A person presses a key on what they see, so the page is drawn first. */
const key = async (name) => {
  await drawn(page);
  await page.keyboard.press(name);
};
const go = async (name, to) => {
  await Promise.all([page.waitForEvent("load"), key(name)]);
  assert.match(path(page), to);
};

/** Tab until this has the focus. */
async function tabTo(wanted, most = 60) {
  const passed = [];
  for (let n = 0; n < most; n += 1) {
    await key("Tab");
    passed.push(await focus());
    if (wanted.test(passed.at(-1))) return passed;
  }
  assert.fail(`no ${wanted} among ${passed.join(" | ")}`);
}

test("the first field has the focus, and Enter signs in", async () => {
  const { name, password } = service.people.lead;
  await page.goto("/open");
  assert.equal(await focus(), "name");
  await type(name);
  await key("Tab");
  await type(password);
  await go("Enter", /\/open/);
});

test("the first Tab offers to skip to the page, and Tab walks in reading order", async () => {
  await page.goto("/flights");
  await key("Tab");
  assert.equal(await focus(), "Skip to the page");
  await key("Enter");
  await key("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.closest("main") !== null), true);
  await page.goto("/flights");
  const tops = [];
  for (let n = 0; n < 40; n += 1) {
    await key("Tab");
    tops.push(await page.evaluate(() => (document.activeElement.closest("main") ? document.activeElement.getBoundingClientRect().top + scrollY : 0)));
  }
  assert.ok(tops.at(-1) > 0);
  assert.ok(tops.every((top, n) => n === 0 || top > tops[n - 1] - 60), `the focus jumps upwards: ${tops.map(Math.round).join(" ")}`);
});

test("a task is found, opened and left by keyboard", async () => {
  await page.goto("/flights");
  await key("/");
  await type("hinge pin");
  await go("Enter", /\/search\?q=hinge/);
  assert.match(await page.locator(".finds").innerText(), /T-0114/);
  await tabTo(/^The same words in the backlog$/);
  await go("Enter", /\/open\?q=hinge/);
  const found = await rows(page);
  assert.ok(found.includes("T-0114"), found.join(" "));
  await tabTo(/^pick$/);
  await key("ArrowRight");
  await go("Enter", /\/tasks\/T-/);
  assert.equal(path(page), `/tasks/${found[0]}`);
  await page.goBack();
  await tabTo(/^pick$/);
  await key("ArrowDown");
  await key("Space");
  assert.equal(await page.getByLabel(`Pick ${found[1]}`).isChecked(), true);
  // Space picks from any link of the row.
  await key("ArrowRight");
  await key("Space");
  assert.equal(await page.getByLabel(`Pick ${found[1]}`).isChecked(), false);
});

test("Enter on the box of a row opens its task and sends no form", async () => {
  await page.goto("/open");
  const found = await rows(page);
  await page.locator(".backlog tbody [type=checkbox]").first().focus();
  await key("ArrowDown");
  await key("Space");
  assert.equal(await page.getByLabel(`Pick ${found[1]}`).isChecked(), true);
  await go("Enter", /\/tasks\/T-/);
  assert.equal(path(page), `/tasks/${found[1]}`);
});

test("marks and keys stand one key away, and Escape closes them", async () => {
  await page.goto("/tasks/T-0142");
  await key("?");
  const list = page.locator("dialog[open]");
  assert.match(await list.innerText(), /not completed/);
  assert.match(await list.innerText(), /go to the search/);
  assert.equal(await page.evaluate(() => document.activeElement.closest("dialog") !== null), true);
  await key("Escape");
  assert.equal(await list.count(), 0);
});

test("a task is set on an excursion by keyboard", async () => {
  await page.goto("/tasks/T-0142");
  await tabTo(/^Find a slot$/);
  await key("Enter");
  await tabTo(/^E-37\.1/, 80).catch(() => tabTo(/^E-37\.2/));
  await tabTo(/^approach$/);
  await page.keyboard.type("K-LEVER from starboard");
  await tabTo(/^do$/);
  await go("Enter", /T-0142/);
  await page.goto("/tasks/T-0142");
  assert.match(await page.locator(".facts").innerText(), /\bset\b/);
});

test("lists and grids are one stop each, so that Tab passes less than half of what is there", async () => {
  for (const address of ["/", "/slots", "/open", "/plan"]) {
    await page.goto(address);
    const [all, stops] = await page.evaluate(() => {
      const seen = (element) => element.checkVisibility();
      const focusable = [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']")].filter(seen);
      return [focusable.length, focusable.filter((element) => element.tabIndex >= 0).length];
    });
    console.log(`${address}: ${stops} stops of ${all}`);
    assert.ok(2 * stops < all, `${address}: ${stops} stops of ${all}`);
  }
});

test("who only reads passes less than half of Today as well", async () => {
  const context = await enter(browser, service, "viewer");
  const reads = await context.newPage();
  await reads.goto("/");
  const [all, stops] = await reads.evaluate(() => {
    const focusable = [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']")].filter((element) => element.checkVisibility());
    return [focusable.length, focusable.filter((element) => element.tabIndex >= 0).length];
  });
  console.log(`/ of a viewer: ${stops} stops of ${all}`);
  assert.ok(2 * stops < all, `${stops} stops of ${all}`);
  await context.close();
});

test("the matrix is walked by arrows, and Home and End go to the ends of a row", async () => {
  await page.goto("/slots");
  const cell = () => page.evaluate(() => document.activeElement.closest("td, th")?.cellIndex);
  const row = () => page.evaluate(() => document.activeElement.closest("tr")?.dataset.code);
  await page.locator(".matrix tbody a").first().focus();
  const first = await row();
  await key("End");
  const last = await cell();
  assert.ok(last > 3, `${last}`);
  await key("ArrowDown");
  assert.equal(await cell(), last);
  assert.notEqual(await row(), first);
  await key("Home");
  assert.equal(await cell(), 0);
  await key("Control+Home");
  assert.equal(await row(), first);
});

test("Enter sends a form, Escape leaves it, and the focus goes to what is wrong", async () => {
  await page.goto("/tools/new");
  assert.equal(await focus(), "name");
  await type("Short hook");
  await key("Tab");
  await type("heavy");
  await go("Enter", /tools\/new$/);
  assert.equal(await page.evaluate(() => document.activeElement.getAttribute("role")), "alert");
  await key("Tab");
  await key("Enter");
  assert.equal(await focus(), "mass");
  await key("Escape");
  await go("Escape", /\/tools$/);
});

test("a debrief row is filled in by keyboard and saves itself", async () => {
  await page.goto("/excursions/E-36.3/debrief");
  await page.locator('fieldset.result[data-code="T-0155"] [type=radio]').first().focus();
  await key("Space");
  await tabTo(/minutes$/);
  await type("35");
  await key("Tab");
  await page.locator('fieldset.result[data-code="T-0155"] [data-saves-status]', { hasText: /saved/ }).waitFor();
});

test("what has the focus shows it", async () => {
  for (const address of ["/open", "/tasks/T-0142", "/slots"]) {
    await page.goto(address);
    let stops = 0;
    for (let n = 0; n < 30; n += 1) {
      await key("Tab");
      const shown = await page.evaluate(() => {
        // Past the last stop the focus is with the browser itself.
        if (document.activeElement === document.body) return "left";
        const lit = (element) => element && getComputedStyle(element).outlineStyle !== "none" && parseFloat(getComputedStyle(element).outlineWidth) >= 2;
        return lit(document.activeElement) || lit(document.activeElement.parentElement);
      });
      if (shown === "left") break;
      stops += 1;
      assert.equal(shown, true, `${address}: ${await focus()}`);
    }
    assert.ok(stops >= 12, `${address}: ${stops} stops`);
  }
});
