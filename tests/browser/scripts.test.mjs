// The small scripts of static/js, each on a page of its own under the policy of the service: what
// they add, and that nothing is lost when the server does not answer. Needs no running service.

import assert from "node:assert/strict";
import fs from "node:fs";
import http from "node:http";
import { after, before, test } from "node:test";
import { chromium } from "playwright-core";

const JS = new URL("../../static/js/", import.meta.url);
const POLICY =
  "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; form-action 'self'; require-trusted-types-for 'script'";
const SCRIPTS = ["keys", "grid", "live", "drafts", "saves"].map((name) => `<script type="module" src="/static/${name}.js"></script>`).join("");

let server, browser, page, base;
let queries = [], saved = [], deaf = false;

const html = (title, body) => `<!doctype html><html lang="en"><title>${title}</title>${SCRIPTS}${body}</html>`;

function list(words) {
  const rows = (words ? [words] : ["a", "b", "c"]).map(
    (code) => `<tr data-row data-code="${code}"><td><input type="checkbox"><a href="/tasks/${code}">${code}</a></td></tr>`,
  );
  return html(
    `List ${words}`,
    `<main id="main"><form data-live action="/list"><input type="search" id="q" name="q" value="${words}">
     <select name="flight"><option value="">any</option></select><button>Show</button></form>
     <p role="status" data-live-status>${words ? "1 found" : "3 found"}</p>
     <div data-live-part="rows"><table data-grid="table">${rows.join("")}</table><script>window.ran = true</script></div></main>
     <footer class="foot"><ul class="legend" id="legend"><li>Marks</li></ul></footer><a data-keys href="#legend">Keys</a>`,
  );
}

const edit = (to) =>
  html(
    "Edit",
    `<main><form method="post" action="${to}" data-draft="edit"><input name="title"><input type="checkbox" name="arm" value="yes">
     <input type="hidden" name="csrf" value="token"><button>Save</button></form><a data-leave href="/list">Leave</a></main>`,
  );

const debrief = html(
  "Debrief",
  `<form method="post" action="/close"><input type="hidden" name="csrf" value="token">
   <fieldset data-saves="/row"><p role="status" data-saves-status></p><input type="hidden" name="version" value="1">
   <div class="strip"><div><label for="f-to">PET to</label><input id="f-to" name="to"></div></div>
   <label><input type="radio" name="out" value="done">done</label><label><input type="radio" name="out" value="part">part</label>
   </fieldset></form>`,
);

function answer(request, response) {
  const url = new URL(request.url, "http://127.0.0.1");
  const go = (to) => response.writeHead(303, { Location: to }).end();
  const show = (body) => response.end(body);
  response.setHeader("Content-Security-Policy", POLICY);
  response.setHeader("Content-Type", "text/html; charset=utf-8");
  if (url.pathname.startsWith("/static/")) {
    response.setHeader("Content-Type", "text/javascript");
    return show(fs.readFileSync(new URL(url.pathname.slice(8), JS)));
  }
  const words = url.searchParams.get("q") ?? "";
  const pages = {
    "GET /list": () => {
      queries.push(words);
      if (words === "gone") return go("/sign-in");
      setTimeout(show, words === "slow" ? 700 : 0, list(words));
    },
    "GET /sign-in": () => show(html("Sign in", `<form><input type="password" autocomplete="current-password"></form>`)),
    "GET /edit": () => show(edit(url.searchParams.get("to") ?? "/edit")),
    "POST /edit": () => go("/list"),
    "POST /ended": () => go("/sign-in"),
    "GET /debrief": () => show(debrief),
    "POST /row": async () => {
      let body = "";
      for await (const chunk of request) body += chunk;
      saved.push(body);
      if (deaf) return request.socket.destroy();
      const errors = body.includes("to=2&") || body.endsWith("to=2") ? [{ field: "to", message: "PET to is before PET from." }] : [];
      response.setHeader("Content-Type", "application/json");
      show(JSON.stringify({ words: errors.length ? "1 field to complete" : "saved 14:19 UTC", version: saved.length + 1, errors }));
    },
  };
  (pages[`${request.method} ${url.pathname}`] ?? (() => response.writeHead(404).end()))();
}

before(async () => {
  server = http.createServer(answer);
  await new Promise((ready) => server.listen(0, "127.0.0.1", ready));
  base = `http://127.0.0.1:${server.address().port}`;
  const args = ["--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"];
  browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args });
  page = await browser.newPage();
  page.on("pageerror", (error) => assert.fail(error.message));
});

after(async () => {
  await browser?.close();
  server?.closeAllConnections();
  server?.close();
});

const focus = () => page.evaluate(() => document.activeElement.id || document.activeElement.textContent);
const rows = () => page.locator("tr").allTextContents();
const status = () => page.locator("[role=status]").first().textContent();

test("typing brings the list, the count, the title and the address along", async () => {
  queries = [];
  await page.goto(`${base}/list`);
  await page.keyboard.press("/");
  assert.equal(await focus(), "q");
  await page.keyboard.type("ab");
  await page.waitForURL(`${base}/list?q=ab`);
  assert.deepEqual([await rows(), await status(), await page.title()], [["ab"], "1 found", "List ab"]);
  assert.deepEqual(queries, ["", "ab"], "one request for both letters");
  assert.equal(await page.evaluate(() => window.ran), undefined, "nothing in the answer runs");
  assert.equal(await focus(), "q");
});

test("an answer that was overtaken is dropped", async () => {
  await page.goto(`${base}/list`);
  await page.fill("#q", "slow");
  await page.waitForTimeout(350);
  await page.fill("#q", "fast");
  await page.waitForTimeout(1000);
  assert.deepEqual(await rows(), ["fast"]);
});

test("a session that ended shows the sign-in page instead of an empty list", async () => {
  await page.goto(`${base}/list`);
  await page.fill("#q", "gone");
  await page.waitForURL(`${base}/sign-in`);
});

// Source: ARIA Authoring Practices Guide, “Grid (Interactive Tabular Data and Layout Containers) Pattern”, W3C, 2023.
test("a list is one stop; arrows walk it, Space picks, and Escape leaves a field", async () => {
  await page.goto(`${base}/list`);
  await page.focus("#q");
  await page.keyboard.press("Escape");
  assert.equal(await page.locator("[data-row] [tabindex='0']").count(), 1);
  await page.locator("tr a").first().focus();
  await page.keyboard.press("ArrowDown");
  assert.equal(await focus(), "b");
  await page.keyboard.press("Control+End");
  assert.equal(await focus(), "c");
  await page.keyboard.press("Control+Home");
  await page.keyboard.press("ArrowRight");
  assert.equal(await focus(), "a");
  await page.keyboard.press("Space");
  assert.equal(await page.locator("tr input").first().isChecked(), true);
  await page.keyboard.press("Home");
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.closest("[data-grid]") === null), true);
});

test("rows that replace others can be walked too", async () => {
  await page.goto(`${base}/list`);
  await page.fill("#q", "fresh");
  await page.waitForFunction(() => document.querySelector("[data-row] a")?.textContent === "fresh");
  assert.equal(await page.locator("[data-row] [tabindex='0']").count(), 1);
});

test("single letters do nothing", async () => {
  await page.goto(`${base}/list`);
  await page.focus("#q");
  await page.keyboard.press("Escape");
  for (const letter of ["j", "k", "x"]) await page.keyboard.press(letter);
  assert.equal(await page.evaluate(() => document.activeElement === document.body), true);
});

// Source: WCAG 2.2, success criterion 2.1.4 Character Key Shortcuts, 2023.
test("the letters are listed and can be switched off", async () => {
  await page.goto(`${base}/list`);
  await page.keyboard.press("?");
  assert.equal(await page.locator("dialog[open] h2").textContent(), "Words and keys");
  await page.locator("dialog input").uncheck();
  await page.keyboard.press("Escape");
  await page.keyboard.press("/");
  assert.notEqual(await focus(), "q");
  await page.click("[data-keys]");
  await page.locator("dialog input").check();
});

test("what was typed is offered back, and goes once the server has taken it", async () => {
  await page.goto(`${base}/edit`);
  await page.fill("[name=title]", "half a thought");
  await page.check("[name=arm]");
  await page.waitForTimeout(450);
  await page.goto(`${base}/edit`);
  await page.click("text=Restore draft");
  assert.deepEqual([await page.inputValue("[name=title]"), await page.isChecked("[name=arm]")], ["half a thought", true]);
  await page.click("text=Save");
  await page.waitForURL(`${base}/list`);
  await page.goto(`${base}/edit`);
  assert.equal(await page.locator(".notice").count(), 0);
});

test("back after a form was taken says so, and it is empty again", async () => {
  await page.goto(`${base}/edit`);
  await page.fill("[name=title]", "recorded once");
  await page.click("text=Save");
  await page.waitForURL(`${base}/list`);
  await page.goBack();
  await page.locator(".notice.warns").waitFor();
  assert.match(await page.locator(".notice.warns").innerText(), /was sent, and what it held is recorded. See the record/);
  assert.equal(await page.getAttribute(".notice.warns a", "href"), "/list");
  await page.waitForTimeout(100);
  assert.notEqual(await page.inputValue("[name=title]"), "recorded once");
  // Opened anew it is a form like any other.
  await page.goto(`${base}/edit`);
  assert.equal(await page.locator(".notice").count(), 0);
});

test("what was typed outlives a lost session, the token does not stay behind", async () => {
  await page.goto(`${base}/edit?to=/ended`);
  await page.fill("[name=title]", "typed before the session ended");
  await page.click("text=Save");
  await page.waitForURL(`${base}/sign-in`);
  await page.goto(`${base}/edit`);
  assert.equal(await page.locator(".notice").count(), 1);
  assert.equal(await page.evaluate(() => JSON.stringify(sessionStorage).includes("token")), false);
  await page.click("text=Discard draft");
  await page.goto(`${base}/edit`);
  assert.equal(await page.locator(".notice").count(), 0);
});

test("a row saves itself, shows what is wrong and takes it away again", async () => {
  saved = [];
  await page.goto(`${base}/debrief`);
  await page.fill("[name=to]", "2");
  await page.locator(".wrong").waitFor();
  assert.deepEqual(saved, ["csrf=token&version=1&to=2"]);
  assert.equal(await page.getAttribute("[name=to]", "aria-describedby"), "f-to-error");
  await page.fill("[name=to]", "3:10");
  await page.check("[value=part]");
  await page.waitForFunction(() => document.querySelector("[role=status]").textContent === "saved 14:19 UTC");
  assert.deepEqual(saved.slice(1), ["csrf=token&version=2&to=3%3A10&out=part"]);
  assert.equal(await page.locator(".wrong").count(), 0);
});

test("a row that could not be saved says so and tries again by itself", async () => {
  await page.goto(`${base}/debrief`);
  deaf = true;
  await page.fill("[name=to]", "4:00");
  await page.waitForFunction(() => document.querySelector("[role=status]").textContent.startsWith("Not saved"));
  deaf = false;
  await page.waitForFunction(() => document.querySelector("[role=status]").textContent === "saved 14:19 UTC", null, { timeout: 9000 });
});
