// Why an attempt failed, what is changed, and who says that it was.

import assert from "node:assert/strict";
import { test } from "node:test";
import { fill, fillAttempt, path, press, says } from "../walker.mjs";

export function failures(walk) {
  test("an engineer records why an attempt failed, and another person verifies what was changed", async () => {
    const page = await walk().open("engineer", "/tasks/T-0154");
    await press(page, "Record attempt");
    await fillAttempt(
      page,
      "not completed",
      { Excursion: "E-36.2 not planned", Technique: "K-CRANK", "Access side": "aft", "What stopped it": "12" },
      { "PET from": "3:50", "PET to": "4:10", "In words": "The crank met the bracket of lamp 3 after a third of a turn." },
    );
    await press(page, "Record attempt");
    assert.equal(path(page), "/tasks/T-0154");
    const attempt = await page.locator(".events tr", { hasText: "the bracket of lamp 3" }).getAttribute("data-code");

    // The finding goes on from there without anything typed twice.
    await press(page, "Write finding");
    assert.equal(path(page), `/attempts/${attempt}/finding`);
    const form = page.locator("form.attempt");
    assert.match(await form.getByLabel("What failed").inputValue(), /met the bracket of lamp 3/);
    assert.equal(await form.getByLabel("Main cause").first().inputValue(), "12");
    await fill(form, { "What must change": "Lamp 3 folds away before the crank goes on", Owner: "engineer" });
    await press(page, "Write finding");
    await says(page, "Reach or glove access too tight", "Lamp 3 folds away before the crank goes on");
    const address = path(page);
    assert.equal(await page.getByRole("button", { name: "Mark as reviewed" }).count(), 0, "nobody reviews their own finding");

    // The remedy is done on its own page.
    const own = page.locator("article", { hasText: "Lamp 3 folds away" });
    const there = `/remedies/${await own.getAttribute("data-code")}`;
    await page.goto(there);
    await fill(page.locator("#steps"), { "What was done": "Folded and locked in the rig." });
    await press(page, "Mark as done", page.locator("#steps"));
    assert.equal(path(page), there);
    await page.goto(address);
    await says(page, "Evidence: Folded and locked in the rig.");
    assert.equal(await own.getByRole("button", { name: "Verify remedy" }).count(), 0, "nobody verifies their own remedy");

    // The page offers no button; a form that was sent all the same is refused too.
    const code = await own.getAttribute("data-code");
    const sent = Object.fromEntries(await own.locator("input[type=hidden]").evaluateAll((all) => all.map((field) => [field.name, field.value])));
    const refused = await page.request.post(`/remedies/${code}/move`, { form: { ...sent, to: "verified" }, headers: { "Sec-Fetch-Site": "same-origin" } });
    assert.equal(refused.status(), 409);

    const other = await walk().open("lead", address);
    await press(other, "Mark as reviewed");
    await press(other, "Verify remedy", other.locator("article", { hasText: "Lamp 3 folds away" }));
    await says(other, "verified by lead", "reviewed by lead");
  });

  test("what waits is narrowed to a step, and a bar of the causes leads to as many attempts", async () => {
    const page = await walk().open("engineer", "/findings");
    await says(page, "Failures after a verified remedy", "R-011");
    const waiting = page.getByRole("link", { name: /waiting: any engineer, write a finding/ });
    const count = Number.parseInt(await waiting.innerText(), 10);
    await press(page, waiting);
    await says(page, `${count} steps, what is overdue first`);
    await press(page, page.getByRole("link", { name: /^write a finding \(A-/ }).first());
    assert.match(path(page), /^\/attempts\/A-.*\/finding$/);

    await page.goto("/findings/causes?by=technique");
    const bar = page.locator("svg.bars a").first();
    const drawn = await bar.locator("text").last().textContent();
    await press(page, bar);
    assert.match(path(page), /^\/history\?.*technique=/);
    await says(page, `${drawn.split(" ")[0]} attempts`);
  });
}
