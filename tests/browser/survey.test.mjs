// Every page in both themes and at three widths: readable by anyone, nothing that sticks out,
// nothing asked of another host, nothing that the policy of the service refuses.
// Source: WCAG 2.2, levels A and AA, 2023, as far as axe-core checks it by itself.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { look } from "./look.mjs";
import { KINDS, OF_ADMINISTRATOR, PAGES, REFUSED } from "./pages.mjs";
import { enter, launch, serve } from "./service.mjs";
import { fill, press } from "./walker.mjs";

const TABS = 3;
let service, browser;

before(async () => {
  service = await serve();
  browser = await launch();
});

after(async () => {
  await browser?.close();
  await service?.stop();
});

/** Looks at all of these with a few tabs at once. */
async function survey(context, addresses, status = () => 200) {
  const left = [...addresses], found = [];
  const walk = async () => {
    const page = await context.newPage();
    for (let address = left.shift(); address; address = left.shift()) {
      await page.setViewportSize({ width: 1440, height: 900 });
      const answer = await page.goto(address);
      if (answer.status() !== status(address)) found.push(`${address}: answered ${answer.status()}`);
      found.push(...(await look(page, address)));
    }
    await page.close();
  };
  await Promise.all(Array.from({ length: TABS }, walk));
  return [...found, ...context.troubles];
}

const nothing = (found) => assert.equal(found.join("\n"), "");

test("every page of a lead", async () => {
  const context = await enter(browser, service, "lead");
  nothing(await survey(context, PAGES));
  nothing(await survey(context, Object.keys(REFUSED), (address) => REFUSED[address]));
  await context.close();
});

test("the pages that look different for who reads and who records", async () => {
  const pages = ["/", "/today/all", "/open", "/plan", "/slots", "/tasks/T-0142", "/attempts/new?task=T-0142", "/excursions/E-37.1", "/excursions/E-37.1/day", "/findings", "/constraints"];
  for (const role of ["viewer", "engineer"]) {
    const context = await enter(browser, service, role);
    const own = role === "viewer" ? pages.filter((page) => !page.startsWith("/attempts/new")) : pages;
    nothing(await survey(context, own));
    await context.close();
  }
});

test("the pages of an administrator, with a link that was just made", async () => {
  const context = await enter(browser, service, "administrator");
  nothing(await survey(context, OF_ADMINISTRATOR));
  const page = await context.newPage();
  await page.goto("/people");
  await fill(page.locator("main"), { Name: "second engineer" });
  await press(page, page.locator("main form .btn.main").first());
  const link = await page.evaluate(() => document.body.innerText.match(/\/welcome\/[\w-]+/)?.[0]);
  const found = await look(page, "/people with a link");
  const outside = await enter(browser, service);
  found.push(...(await survey(outside, [link, "/sign-in"])));
  nothing([...found, ...context.troubles]);
  await outside.close();
  await context.close();
});

test("pages that were refused, and pages between two steps", async () => {
  const context = await enter(browser, service, "lead");
  const page = await context.newPage();
  const found = [];
  const see = async (name, status, got) => {
    if (got !== status) found.push(`${name}: answered ${got}`);
    await page.setViewportSize({ width: 1440, height: 900 });
    found.push(...(await look(page, name)));
    await page.setViewportSize({ width: 1440, height: 900 });
  };
  const cand = page.locator('.cand > li[data-code="E-37.2"]');

  await page.goto("/tasks/new");
  await fill(page, { Title: "Stow the camera", "Needed by date": "later", "Work minutes, likely": "many", Worksite: "W-NONE" });
  await see("a refused form", 422, await press(page, "Add task"));

  await page.goto("/tasks/T-0142");
  await cand.locator("summary").first().click();
  await fill(cand, { Approach: "K-LEVER from nadir · blocked" });
  await see("a slot that the guard refuses", 409, await press(page, cand.getByRole("button", { name: /^Set on/ })));

  await page.goto("/excursions/E-36.3/debrief");
  const row = page.locator('fieldset.result[data-code="T-0155"]');
  await row.getByLabel("done", { exact: true }).check();
  for (const fold of await row.locator("details").all()) await fold.evaluate((element) => (element.open = true));
  await fill(row, { "PET from": "1:10", "PET to": "0:10" });
  await see("a debrief that cannot close", 409, await press(page, "Close the excursion"));

  await page.goto("/excursions/E-36.1");
  await fill(page, { "Words of the notes": "nowhere" });
  await see("words that do not stand in the notes", 422, await press(page, "Add task"));

  for (const what of ["Park tasks", "Set class", "Set needed by", "Drop tasks"]) {
    await page.goto("/open");
    await page.getByLabel("Pick T-0142").check();
    await see(`several rows: ${what}`, 200, await press(page, page.getByRole("button", { name: what, exact: true })));
  }

  await page.goto("/import");
  await fill(page, { "What the rows are": "tasks" });
  await page.setInputFiles("#file", { name: "t.csv", mimeType: "text/csv", buffer: Buffer.from("title,class,colour\nPaint it,9,red\nWash it,5,blue") });
  await see("a table that was looked at", 200, await press(page, "Preview"));
  await page.goto("/import");
  await page.setInputFiles("#file", { name: "things.csv", mimeType: "text/csv", buffer: Buffer.from("code,name\nL-900,pry bar") });
  await see("a table whose kind is asked for", 200, await press(page, "Preview"));

  // Of a fresh remedy nothing says yet what was done.
  await page.goto("/remedies/new?finding=N-007");
  await fill(page, { "What is changed": "A longer grip" });
  await press(page, "Add remedy");
  await press(page, page.locator(".notice a.code").first());
  await see("a remedy marked as done without a word", 422, await press(page, "Mark as done"));

  const other = await context.newPage();
  for (const tab of [page, other]) await tab.goto("/tools/L-020/edit");
  await fill(other, { Name: "Lacing set, new" });
  await press(other, "Save");
  await fill(page, { Name: "Lacing set, old" });
  await see("two versions", 409, await press(page, "Save"));

  await page.goto("/tools/new");
  await fill(page, { Name: "Kept while away" });
  const elsewhere = await enter(browser, service, "lead");
  const account = await elsewhere.newPage();
  await account.goto("/account");
  await press(account, "End all others");
  await elsewhere.close();
  await see("signed out with a form held", 200, await press(page, "Add tool"));
  const { name, password } = service.people.lead;
  await page.fill("[name=name]", name);
  await page.fill("[name=password]", "not the password");
  const wrong = await press(page, page.locator("main form .btn.main"));
  await see("a wrong password", wrong, wrong);
  await page.fill("[name=name]", name);
  await page.fill("[name=password]", password);
  await see("a held form", 200, await press(page, page.locator("main form .btn.main")));
  nothing([...found, ...context.troubles]);
  await context.close();
});

test("an empty record says on every page what to do next", async () => {
  const empty = await serve({ demo: false });
  const context = await enter(browser, empty);
  const page = await context.newPage();
  const choose = async (link, name) => {
    await page.goto(link);
    for (const field of await page.locator("main input:not([type=hidden])").all()) {
      await field.fill((await field.getAttribute("type")) === "password" ? "a fair amount of rope" : name);
    }
    await press(page, page.locator("main form .btn.main"));
  };
  await choose(empty.welcome, "first");
  if (!(await page.locator(".who").count())) {
    empty.people.first = { name: "first", password: "a fair amount of rope" };
  }
  nothing(await survey(context, ["/", "/open", "/people", "/changes", "/history"]));
  await context.close();
  await empty.stop();
});

test("nobody is offered what their role may not do", async () => {
  const offers = /^(new|make|edit|write|propose|record|set|pencil|park|drop|add|move|take|close|reopen|call|keep a|park, drop, link|it was flown|mark as flown|verify|mark \S+ as reviewed|bring in|find a slot|continue debrief)/i;
  const found = [];
  const walkAll = async (role, addresses, wrong) => {
    const context = await enter(browser, service, role);
    const page = await context.newPage();
    for (const address of addresses) {
      await page.goto(address);
      const shown = await page.locator("main :is(button, a.btn)").allInnerTexts();
      found.push(...shown.map((words) => words.trim()).filter(wrong).map((words) => `${role} on ${address}: ${words}`));
    }
    await context.close();
  };
  const read = ["/", "/open", "/tasks/T-0142", "/tasks/T-0118", "/tasks/T-0168", "/excursions/E-36.3", "/excursions/E-36.3/debrief", "/excursions/E-36.2/debrief", "/excursions/E-37.1",
    "/slots", "/slots?cell=T-0142:E-37.2", "/slots?cell=T-0153:E-37.1", "/findings", "/findings/N-007", "/findings/N-014", "/flights", "/flights/G-37", "/history", "/outside", "/techniques/K-LEVER", "/families/F-HINGE",
    "/worksites", "/worksites/W-KEEL4", "/tools", ...Object.entries(KINDS).map(([folder, code]) => `/${folder}/${code}`)];
  await walkAll("viewer", read, (words) => offers.test(words));
  await walkAll("engineer", read, (words) => /^(set (on|from|T-)|move task|call off|mark as flown|close (debrief|the)|reopen(?! remedy)|drop|park tasks|set class|set needed by|add (flight|excursion)|remove from (the ex|E-))/i.test(words));
  await walkAll("administrator", read, (words) => /^(set (on|from|T-)|pencil|move task|close (debrief|the)|reopen|call off|mark as flown|drop|add (flight|excursion|task)|record)/i.test(words));
  nothing(found);
});
