// A technique is revised by one person and cleared by another; what holds up what is read on the way.

import assert from "node:assert/strict";
import { test } from "node:test";
import { fill, path, press, says } from "../walker.mjs";

export function library(walk) {
  test("a revision is made from the last, laid beside it, and cleared by somebody else", async () => {
    const page = await walk().open("engineer", "/techniques/K-CRANK");
    await press(page, "Add next revision");
    const steps = await page.getByLabel("Steps").inputValue();
    await fill(page.locator("main"), {
      Steps: `${steps}\nOil the stem before the crank goes on.`,
      "What changed, and why": "The stem is oiled first, since it was dry on V-5.",
      "Changes the work": "yes",
      "Resolves the attempts": "A-0055, A-0076, A-0099",
    });
    await press(page, "Add revision 4");
    assert.equal(path(page), "/techniques/K-CRANK");
    await says(page, "another person clears it");
    assert.equal(await page.getByRole("button", { name: "Clear revision", exact: true }).count(), 0);
    await page.getByRole("link", { name: "Compare revision 4 with the one before" }).click();
    await says(page, "Revision 3 beside revision 4");
    assert.equal(await page.locator("ins").textContent(), "Oil the stem before the crank goes on.");

    const other = await walk().open("lead", "/techniques/K-CRANK");
    await fill(other.locator("#revisions"), { "Evidence that revision 4 works": "Dry stem freed in the workshop." });
    await press(other, "Clear revision");
    await says(other, "It resolves A-0055, A-0076, A-0099", "Dry stem freed in the workshop.");
  });

  test("what holds up what is read from the whole record down to one chain", async () => {
    const page = await walk().open("lead", "/open");
    await press(page, page.getByRole("link", { name: "Task dependencies" }));
    assert.equal(path(page), "/links");
    const row = page.locator("#holds-up tr[data-code=T-0142]");
    await press(page, row.getByRole("link", { name: "See the chain" }));
    assert.equal(path(page), "/tasks/T-0142");
    await says(page, "T-0144 waits for it");
    await page.goto("/tasks/T-0144");
    await says(page, "Waits for T-0142");
  });
}
