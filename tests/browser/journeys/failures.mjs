// Why an attempt failed, what is changed, and who says that it was.

import assert from "node:assert/strict";
import { test } from "node:test";
import { fill, fillAttempt, path, press, says } from "../walker.mjs";

export function failures(walk) {
  test("an engineer records why an attempt failed, and another person verifies what was changed", async () => {
    const page = await walk().open("engineer", "/tasks/T-0154");
    await press(page, "Record an attempt");
    await fillAttempt(
      page,
      "not completed",
      { Excursion: "E-36.2 not planned", Technique: "K-CRANK", "Access side": "aft", "What stopped it": "12" },
      { "PET from": "3:50", "PET to": "4:10", "In words": "The crank met the bracket of lamp 3 after a third of a turn." },
    );
    await press(page, "Record attempt");
    assert.equal(path(page), "/tasks/T-0154");
    const attempt = await page.locator(".events tr", { hasText: "the bracket of lamp 3" }).getAttribute("data-code");

    await press(page, "Write a finding");
    const finding = { Attempts: attempt, "Main cause": "12", "What happened": "Lamp 3 stands 40 mm in the way of the crank." };
    await fill(page.locator("main"), finding);
    await press(page, "Make the finding");
    await says(page, "Reach or glove access too tight");
    const address = path(page);
    assert.equal(await page.getByRole("button", { name: "I have reviewed it" }).count(), 0, "nobody reviews their own finding");

    await press(page, "Propose a remedy");
    const remedy = { "What is changed": "Lamp 3 folds away before the crank goes on", "Answers the attempts": attempt, Owner: "engineer" };
    await fill(page.locator("main"), remedy);
    await press(page, "Make the remedy");
    await page.goto(address);
    const own = page.locator("article", { hasText: "Lamp 3 folds away" });
    await fill(own, { "What shows it": "Folded and locked in the rig." });
    await press(page, "It is done", own);
    await says(page, "Evidence: Folded and locked in the rig.");
    assert.equal(await own.getByRole("button", { name: "Verify it" }).count(), 0, "nobody verifies their own remedy");

    // The page offers no button; a form that was sent all the same is refused too.
    const code = await own.getAttribute("data-code");
    const sent = Object.fromEntries(await own.locator("input[type=hidden]").evaluateAll((all) => all.map((field) => [field.name, field.value])));
    const refused = await page.request.post(`/remedies/${code}/move`, { form: { ...sent, to: "verified" }, headers: { "Sec-Fetch-Site": "same-origin" } });
    assert.equal(refused.status(), 409);

    const other = await walk().open("lead", address);
    await press(other, "I have reviewed it");
    await press(other, "Verify it", other.locator("article", { hasText: "Lamp 3 folds away" }));
    await says(other, "verified by lead", "reviewed by lead");
  });

  test("what waits is narrowed to a step, and a bar of the causes leads to as many attempts", async () => {
    const page = await walk().open("engineer", "/findings");
    await says(page, "Questions reopened", "R-011");
    const waiting = page.getByRole("link", { name: /waiting: any engineer, write a finding/ });
    const count = Number.parseInt(await waiting.innerText(), 10);
    await press(page, waiting);
    await says(page, `${count} steps, what is overdue first`);
    await press(page, page.getByRole("link", { name: /^write a finding \(A-/ }).first());
    assert.match(path(page), /^\/findings\/new\?attempt=A-/);

    await page.goto("/findings/causes?by=technique");
    const bar = page.locator("svg.bars a").first();
    const drawn = await bar.locator("text").last().textContent();
    await press(page, bar);
    assert.match(path(page), /^\/history\?.*technique=/);
    await says(page, `${drawn.split(" ")[0]} attempts`);
  });
}
