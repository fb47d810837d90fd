// A deferred task is set, moved and taken off; the repeat guard stands before all of it.

import assert from "node:assert/strict";
import { test } from "node:test";
import { fill, press, says } from "../walker.mjs";

export function slots(walk) {
  const cell = (page, excursion) => page.locator(`.cand > li[data-code="${excursion}"]`);
  const state = (page) => page.locator(".facts").innerText();

  test("the repeat guard refuses the side that failed twice, and names what failed and what is left", async () => {
    const page = await walk().open("lead", "/tasks/T-0142");
    const there = cell(page, "E-37.2");
    await there.locator("summary").first().click();
    await fill(there, { Approach: "K-LEVER from nadir · blocked" });
    assert.equal(await press(page, there.getByRole("button", { name: /^Set on/ })), 409);
    await says(page, "A-0047", "A-0067", "starboard");
    await page.goto("/tasks/T-0142");
    assert.match(await state(page), /open/, "nothing was set");
  });

  test("the other side is set, moved and taken off with a reason", async () => {
    const page = await walk().open("lead", "/tasks/T-0142");
    const there = cell(page, "E-37.2");
    await there.locator("summary").first().click();
    await fill(there, { Approach: "K-LEVER from starboard" });
    await press(page, there.getByRole("button", { name: /^Set on/ }));
    await page.goto("/tasks/T-0142");
    assert.match(await state(page), /\bset\b/);

    await page.goto("/slots?cell=T-0142:E-37.3");
    const opened = page.locator(".opened");
    await fill(opened, { Reason: "priority", "In words": "The arm is needed there first." });
    await press(page, "Move task here from E-37.2");
    await page.goto("/excursions/E-37.3");
    await says(page, "T-0142");

    await page.goto("/slots?cell=T-0142:E-37.3");
    await fill(opened, { Reason: "not trained", "In words": "Nobody has trained the starboard card." });
    await press(page, opened.getByRole("button", { name: /^Remove from/ }));
    await page.goto("/tasks/T-0142");
    assert.match(await state(page), /open/);
    await says(page, "Nobody has trained the starboard card.", "The arm is needed there first.");
  });

  test("a lead passes the guard over in writing, for one slot alone", async () => {
    const page = await walk().open("lead", "/tasks/T-0142");
    const there = cell(page, "E-38.1");
    await there.locator("summary").first().click();
    await fill(there, { Approach: "K-LEVER from nadir · blocked" });
    assert.equal(await press(page, there.getByRole("button", { name: /^Set on/ })), 409);
    const waiver = page.locator("details[open]").filter({ hasText: "Waiver, check by check" }).first();
    await waiver.getByLabel("approach", { exact: true }).check();
    await fill(waiver, { "Reason for the waiver": "The bracket is cut off on E-37.1." });
    await press(page, page.getByRole("button", { name: /^Set / }).first());
    await page.goto("/tasks/T-0142");
    assert.match(await state(page), /\bset\b/);
    await says(page, "The bracket is cut off on E-37.1.");
  });
}
