// Tables come in, and the backlog is browsed.

import assert from "node:assert/strict";
import { test } from "node:test";
import { fill, path, press, rows, says } from "../walker.mjs";

export function backlog(walk) {
  test("a table is looked at first, its bad row named, and then taken", async () => {
    const page = await walk().open("lead", "/import");
    await fill(page, { "What the rows are": "tasks" });
    const wash = Array.from({ length: 24 }, (_, n) => `Wash mirror ${n + 1},W-WELL,5`);
    const table = ["title,worksite,class", ...wash, "Wash the last mirror,W-WELL,9"].join("\n");
    await page.setInputFiles("#file", { name: "mirrors.csv", mimeType: "text/csv", buffer: Buffer.from(table) });
    await press(page, "Preview");
    await says(page, "nothing imported yet");
    const bad = page.getByRole("region", { name: "Rows refused" }).locator("tbody tr");
    assert.match(await bad.innerText(), /26\s+class\s+.*9/s);
    const take = page.locator("main").getByRole("button", { name: "Import", exact: true });
    assert.equal(await press(page, take), 422);
    await fill(page, { "Refused rows": "are left out" });
    await press(page, "Preview again");
    await press(page, take);
    await page.goto("/open?q=mirror");
    assert.equal((await rows(page)).length, 24);
  });

  test("a lead searches, filters, sorts and pages, and comes back to the same place", async () => {
    const page = await walk().open("lead", "/open");
    await press(page, page.getByRole("link", { name: /^next/ }));
    assert.match(path(page), /page=2/);
    await page.goto("/open");
    const filters = page.getByRole("form", { name: "Filters" });
    const asked = async (address) => (walk().scripts ? page.waitForURL(address) : press(page, "Apply filters"));
    await fill(filters, { Worksite: "W-KEEL4" });
    await asked(/site=W-KEEL4/);
    assert.deepEqual((await rows(page)).sort(), ["T-0142", "T-0143", "T-0144", "T-0150"]);
    await press(page, "Carried");
    assert.equal((await rows(page))[0], "T-0142");
    await fill(filters, { "Words in": "cassette" });
    await asked(/q=cassette/);
    const here = path(page);
    for (const part of [/site=W-KEEL4/, /sort=carry/, /q=cassette/]) assert.match(here, part);
    const shown = await rows(page);
    assert.deepEqual(shown.includes("T-0150"), false);
    await press(page, "Pull filter cassette C-14");
    assert.equal(path(page), "/tasks/T-0142");
    await page.goBack();
    assert.equal(path(page), here);
    assert.deepEqual(await rows(page), shown);

    await fill(page, { Name: "Cassettes at keel 4" });
    await press(page, "Save view");
    await page.goto("/open");
    await press(page, "Cassettes at keel 4");
    assert.deepEqual(await rows(page), shown);
    await press(page, page.getByRole("button", { name: /^Remove/ }));
    assert.equal(await page.getByRole("link", { name: "Cassettes at keel 4" }).count(), 0);
  });

  test("a lead parks two rows at once", async () => {
    const page = await walk().open("lead", "/open?q=mirror");
    const picked = (await rows(page)).slice(0, 2);
    for (const code of picked) await page.getByLabel(`Pick ${code}`).check();
    await press(page, "Park tasks");
    await says(page, "2 picked", ...picked);
    await fill(page, { Why: "The well is closed until the spring." });
    await press(page, page.locator("main form .btn.main"));
    assert.match(path(page), /^\/open\?q=mirror/);
    await page.goto("/open?q=mirror&state=parked");
    assert.deepEqual((await rows(page)).sort(), picked.sort());
  });
}
