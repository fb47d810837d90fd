// A photograph goes with an attempt, is seen, and is printed once it is picked.

import assert from "node:assert/strict";
import { test } from "node:test";
import { path, press, says } from "../walker.mjs";

export function evidence(walk) {
  test("an engineer adds a photograph to an attempt, and picks it for paper", async () => {
    const page = await walk().open("engineer", "/attempts/A-0010");
    const picture = await page.screenshot();

    await press(page, "Add a photograph or file");
    await page.getByLabel("Caption").fill("The latch from starboard");
    // A page that calls itself a picture: said so, and what was typed is still there.
    const lie = { name: "latch.png", mimeType: "image/png", buffer: Buffer.from("<html><script>alert(1)</script></html>") };
    await page.locator("input[type=file]").setInputFiles(lie);
    await press(page, "Add file");
    await says(page, "What you typed is still here; choose the file again.");
    assert.equal(await page.getByLabel("Caption").inputValue(), "The latch from starboard");

    await page.locator("input[type=file]").setInputFiles({ name: "latch.png", mimeType: "image/png", buffer: picture });
    await press(page, "Add file");
    assert.equal(path(page), "/attempts/A-0010");
    const shown = page.locator("#files li", { hasText: "The latch from starboard" });
    const small = shown.locator("img");
    await small.scrollIntoViewIfNeeded();
    await small.evaluate((img) => img.decode());
    assert.deepEqual(await small.evaluate((img) => [img.naturalWidth, img.naturalHeight]), [480, 300]);

    await page.emulateMedia({ media: "print" });
    assert.equal(await shown.isVisible(), false, "what nobody picked is not printed");
    await page.emulateMedia({ media: "screen" });
    await shown.getByRole("link").first().click();
    await press(page, "Edit");
    await page.getByLabel("Picked for print").selectOption("yes");
    await press(page, "Save");
    await page.goto("/attempts/A-0010");
    await page.emulateMedia({ media: "print" });
    assert.equal(await shown.isVisible(), true);
    await page.emulateMedia({ media: "screen" });
  });
}
