// The main uses, as people walk them: once with the small scripts and once without, on a demo of
// its own each time. Every step goes by what a person reads on the page.

import assert from "node:assert/strict";
import { after, before, suite, test } from "node:test";
import { enter, launch, serve, signIn } from "./service.mjs";

let browser;
before(async () => (browser = await launch()));
after(async () => browser?.close());

for (const javaScriptEnabled of [true, false]) {
  suite(javaScriptEnabled ? "with scripts" : "without scripts", () => walk(javaScriptEnabled));
}

function walk(javaScriptEnabled) {
  let service;
  const people = {};
  before(async () => {
    service = await serve();
    for (const role of ["lead", "engineer"]) people[role] = await enter(browser, service, role, { javaScriptEnabled });
  });
  after(async () => {
    const troubles = Object.values(people).flatMap((context) => context.troubles);
    for (const context of Object.values(people)) await context.close();
    await service?.stop();
    assert.deepEqual(troubles, []);
  });

  /** A page of this person; the pages of a test are closed by the next. */
  const open = async (role, address) => {
    for (const old of people[role].pages()) await old.close();
    const page = await people[role].newPage();
    if (address) await page.goto(address);
    return page;
  };
  /** Presses what leads to another page, and waits for it. */
  const press = async (page, what) => {
    const target = typeof what === "string" ? page.getByRole("button", { name: what }).or(page.getByRole("link", { name: what })).first() : what;
    const answer = page.waitForEvent("response", (got) => got.request().isNavigationRequest() && ![302, 303].includes(got.status()));
    await target.click();
    const got = await answer;
    await page.waitForLoadState("load");
    return got.status();
  };
  const follow = (page, name) => press(page, page.getByRole("link", { name, exact: true }).first());
  const fill = async (scope, fields) => {
    for (const [label, value] of Object.entries(fields)) {
      const field = scope.getByLabel(label, { exact: false }).first();
      if ((await field.evaluate((element) => element.tagName)) === "SELECT") await field.selectOption({ label: value });
      else await field.fill(value);
    }
  };
  const says = async (page, words) => assert.ok((await page.locator("main").innerText()).includes(words), `“${words}” is not on ${page.url()}:\n${await page.locator("main").innerText()}`);
  const rows = (page) => page.locator(".backlog tbody tr").evaluateAll((all) => all.map((row) => row.dataset.code));
  const path = (page) => page.url().replace(service.base, "");

  test("a table is looked at first, its bad row named, and then taken", async () => {
    const page = await open("lead", "/import");
    await fill(page, { "What the rows are": "tasks" });
    const wash = Array.from({ length: 24 }, (_, n) => `Wash mirror ${n + 1},W-WELL,5`);
    const table = ["title,worksite,class", ...wash, "Wash the last mirror,W-WELL,9"].join("\n");
    await page.setInputFiles("#file", { name: "mirrors.csv", mimeType: "text/csv", buffer: Buffer.from(table) });
    await press(page, "Look at it");
    await says(page, "nothing taken yet");
    const bad = page.getByRole("region", { name: "Rows refused" }).locator("tbody tr");
    assert.match(await bad.innerText(), /26\s+class\s+.*9/s);
    assert.equal(await press(page, "Take it in"), 422);
    await fill(page, { "Bad rows": "are left out and counted" });
    await press(page, "Look again");
    await press(page, "Take it in");
    await page.goto("/open?q=mirror");
    assert.equal((await rows(page)).length, 24);
  });

  test("a lead browses the backlog, comes back to the same place, keeps a view and works on two rows", async () => {
    const page = await open("lead", "/open");
    await follow(page, "next 13");
    assert.match(path(page), /page=2/);
    await page.goto("/open");
    const filters = page.getByRole("form", { name: "Filters" });
    await fill(filters, { Worksite: "W-KEEL4" });
    if (javaScriptEnabled) await page.waitForURL(/site=W-KEEL4/);
    else await press(page, "Show");
    assert.deepEqual((await rows(page)).sort(), ["T-0142", "T-0143", "T-0144", "T-0150"]);
    await follow(page, "Carried");
    assert.equal((await rows(page))[0], "T-0142");
    await filters.getByLabel("Words in").fill("cassette");
    if (javaScriptEnabled) await page.waitForURL(/q=cassette/);
    else await press(page, "Show");
    const here = path(page);
    assert.match(here, /site=W-KEEL4/);
    assert.match(here, /sort=carry/);
    const shown = await rows(page);
    await press(page, page.getByRole("link", { name: "Pull filter cassette C-14" }));
    assert.equal(path(page), "/tasks/T-0142");
    await page.goBack();
    assert.equal(path(page), here);
    assert.deepEqual(await rows(page), shown);

    await fill(page, { Name: "Cassettes at keel 4" });
    await press(page, "Keep");
    await page.goto("/open");
    await follow(page, "Cassettes at keel 4");
    assert.deepEqual(await rows(page), shown);

    await page.goto("/open?q=mirror");
    await page.getByLabel(/^Pick T-/).nth(0).check();
    await page.getByLabel(/^Pick T-/).nth(1).check();
    const picked = (await rows(page)).slice(0, 2);
    await press(page, page.getByRole("button", { name: "Park", exact: true }));
    await says(page, "2 picked");
    await fill(page, { Why: "The well is closed until the spring." });
    await press(page, page.locator("main form .btn.main"));
    assert.match(path(page), /^\/open\?q=mirror/);
    await page.goto("/open?q=mirror&state=parked");
    assert.deepEqual((await rows(page)).sort(), picked.sort());
  });

  test("an engineer records why an attempt failed, and another person verifies what was changed", async () => {
    const page = await open("engineer", "/tasks/T-0154");
    await follow(page, "Record an attempt");
    await fill(page.locator("main"), {
      Excursion: "E-36.2",
      Technique: "K-CRANK",
      "Access side": "port",
      "PET from": "3:50",
      "PET to": "4:10",
      Outcome: "not completed",
      "What stopped it": "12",
      "In words": "The crank met the bracket of lamp 3 after a third of a turn.",
    });
    await press(page, "Make the attempt");
    assert.equal(path(page), "/tasks/T-0154");
    await says(page, "The crank met the bracket of lamp 3");
    const attempt = await page.locator(".events tr", { hasText: "bracket of lamp 3" }).getAttribute("data-code");

    await follow(page, "Write a finding");
    await fill(page.locator("main"), { Attempts: attempt, "Main cause": "12", "What happened": "Lamp 3 stands 40 mm in the way of the crank." });
    await press(page, "Make the finding");
    await says(page, "Reach or glove access too tight");
    const finding = path(page);
    await says(page, "someone other than");
    assert.equal(await page.getByRole("button", { name: "I have reviewed it" }).count(), 0);

    await follow(page, "Propose a remedy");
    await fill(page.locator("main"), { "What is changed": "Lamp 3 folds away before the crank goes on", "Answers the attempts": attempt, Owner: "engineer" });
    await press(page, "Make the remedy");
    await page.goto(finding);
    const remedy = page.locator("article", { hasText: "Lamp 3 folds away" });
    await remedy.getByLabel("What shows it").fill("Folded and locked in the rig.");
    await press(page, remedy.getByRole("button", { name: "It is done" }));
    await says(page, "Evidence: Folded and locked in the rig.");
    assert.equal(await remedy.getByRole("button", { name: "Verify it" }).count(), 0);
    await says(page, "verif");

    const other = await open("lead", finding);
    await press(other, "I have reviewed it");
    await press(other, other.locator("article", { hasText: "Lamp 3 folds away" }).getByRole("button", { name: "Verify it" }));
    await says(other, "verified by lead");
  });

  test("the repeat guard refuses the side that failed twice; the other is set, moved and taken off", async () => {
    const page = await open("lead", "/tasks/T-0142");
    const cell = (code) => page.locator(`.cand > li[data-code="${code}"]`);
    await cell("E-37.2").locator("summary").click();
    await cell("E-37.2").getByLabel("Approach").selectOption({ label: "K-LEVER from nadir · shut" });
    assert.equal(await press(page, cell("E-37.2").getByRole("button", { name: "Set it here" })), 409);
    for (const words of ["A-0047", "A-0067", "starboard"]) await says(page, words);

    await page.goto("/tasks/T-0142");
    await cell("E-37.2").locator("summary").click();
    await cell("E-37.2").getByLabel("Approach").selectOption({ label: "K-LEVER from starboard" });
    await press(page, cell("E-37.2").getByRole("button", { name: "Set it here" }));
    await page.goto("/tasks/T-0142");
    assert.match(await page.locator(".facts").innerText(), /slotted/);

    await page.goto("/slots?cell=T-0142:E-37.3");
    await fill(page.locator(".opened"), { Why: "The arm is needed there first." });
    await press(page, page.getByRole("button", { name: "Move it here from E-37.2" }));
    await page.goto("/excursions/E-37.3");
    await says(page, "T-0142");

    await page.goto("/slots?cell=T-0142:E-37.3");
    await fill(page.locator(".opened"), { Why: "The offset grip is not verified." });
    await press(page, page.getByRole("button", { name: "Take it off", exact: true }));
    await page.goto("/tasks/T-0142");
    assert.match(await page.locator(".facts").innerText(), /open/);
    await says(page, "The offset grip is not verified.");
  });
}
