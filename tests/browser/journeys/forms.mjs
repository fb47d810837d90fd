// What a person typed is never lost and never counts twice.

import assert from "node:assert/strict";
import { test } from "node:test";
import { fill, path, press, says } from "../walker.mjs";

export function forms(walk) {
  test("two people on one record are shown both versions, and nothing is overwritten", async () => {
    const mine = await walk().open("lead", "/tools/L-018/edit");
    const theirs = await walk().open("engineer", "/tools/L-018/edit");
    await fill(theirs, { Name: "Sample carrier, short", Mass: "1.7" });
    await press(theirs, "Save");
    await fill(mine, { Name: "Sample carrier with lid" });
    assert.equal(await press(mine, "Save"), 409);
    await says(mine, "Two versions of L-018", "engineer", "Sample carrier, short", "Sample carrier with lid", "1.7");
    await mine.getByLabel("Mass, kg, now").check();
    await press(mine, "Save chosen fields");
    await says(mine, "Sample carrier with lid", "1.7");
  });

  test("a refused form names the field and keeps what was typed", async () => {
    const page = await walk().open("lead", "/tasks/new");
    await fill(page, { Title: "Stow the second camera", "Needed by date": "the day after", Worksite: "W-NOWHERE" });
    assert.equal(await press(page, "Add task"), 422);
    const field = page.getByLabel("Needed by date");
    assert.equal(await field.inputValue(), "the day after");
    assert.equal(await page.getByLabel("Title").inputValue(), "Stow the second camera");
    assert.equal(await field.getAttribute("aria-invalid"), "true");
    await page.getByRole("alert").getByRole("link").first().click();
    assert.equal(await page.evaluate(() => document.activeElement.tagName === "INPUT" || location.hash.startsWith("#f-")), true);
  });

  test("a form that was sent after the session ended is held and comes back after sign-in", async () => {
    const page = await walk().open("lead", "/tools/new");
    await fill(page, { Name: "Folding mirror", Mass: "0.2" });
    const elsewhere = await walk().elsewhere("lead");
    await elsewhere.goto("/account");
    await press(elsewhere, "End all others");
    await elsewhere.context().close();
    await press(page, "Add tool");
    assert.match(path(page), /^\/sign-in/);
    await walk().signIn(page, "lead");
    await says(page, "Your session had ended", "nothing was saved");
    assert.equal(await page.getByLabel("Name").first().inputValue(), "Folding mirror");
    await press(page, "Send again");
    await page.goto("/tools?q=folding");
    await says(page, "Folding mirror");
  });

  test("a form that is sent twice counts once", async () => {
    const page = await walk().open("lead", "/tools/new");
    await fill(page, { Name: "Twice sent hook" });
    const form = Object.fromEntries(await page.locator("main form").evaluate((element) => [...new FormData(element)]));
    await press(page, "Add tool");
    const made = path(page);
    assert.match(made, /^\/tools\/L-/);
    const again = await page.request.post("/tools/new", { form, headers: { "Sec-Fetch-Site": "same-origin" }, maxRedirects: 0 });
    assert.deepEqual([again.status(), again.headers().location], [303, made]);
    await page.goto("/tools?q=twice+sent");
    assert.equal(await page.locator("tbody tr").count(), 1);
  });
}
