// The service with the demo at a fixed day, and a browser that signs in to it: what the journeys,
// the survey of the pages and the pictures share.

import { spawn } from "node:child_process";
import fs from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import { createInterface } from "node:readline";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const ROOT = fileURLToPath(new URL("../..", import.meta.url));
export const BINARY = process.env.HOLDOVER_BINARY ?? path.join(process.env.CARGO_TARGET_DIR ?? path.join(ROOT, "target"), "debug/holdover");
const AXE = fs.readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** The day on which every test plays: shortly after G-36 landed. */
export const DAY = "2030-11-21";

/**
 * Starts the service on a free port; `demo: false` leaves the record empty. Given `again`, a service that
 * was stopped with `stop({ keep: true })`, it starts once more on the same data and port.
 */
export async function serve({ demo = true, settings = [], day = DAY, again } = {}) {
  const data = again?.data ?? fs.mkdtempSync(path.join(process.env.TMPDIR ?? "/tmp", "holdover-browser-"));
  const at = again ? new URL(again.base).host : "127.0.0.1:0";
  const given = ["serve", "--listen", at, "--log-form", "json", "--data", data];
  const child = spawn(BINARY, [...given, ...(demo ? ["--demo", "--demo-day", day] : []), ...settings], { stdio: ["ignore", "pipe", "pipe"] });
  const service = { people: {}, log: [], data };
  service.stop = async ({ keep = false } = {}) => {
    const gone = new Promise((done) => child.once("exit", done));
    if (child.exitCode === null && child.signalCode === null && child.kill("SIGTERM")) await gone;
    if (!keep) fs.rmSync(data, { recursive: true, force: true });
  };
  await new Promise((ready, failed) => {
    const read = (line) => {
      service.log.push(line);
      const told = line.startsWith("{") ? JSON.parse(line) : {};
      if (told.message === "demo sign-in") service.people[told.role] = told;
      if (told.url?.includes("/welcome/")) service.welcome = told.url;
      else if (told.message === "listening") service.base = told.url.replace(/\/$/, "");
      if (service.base && (demo || service.welcome)) ready();
    };
    for (const stream of [child.stdout, child.stderr]) createInterface(stream).on("line", read);
    child.once("error", failed);
    child.once("exit", (code) => failed(new Error(`the service ended with ${code}:\n${service.log.join("\n")}`)));
  });
  return service;
}

export const launch = () =>
  chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"],
  });

/** A window of its own, signed in. What goes wrong in it is collected in `context.troubles`. */
export async function enter(browser, service, role, { theme = "paper", ...options } = {}) {
  const colorScheme = theme === "night" ? "dark" : "light";
  const context = await browser.newContext({ baseURL: service.base, colorScheme, viewport: { width: 1440, height: 900 }, ...options });
  context.setDefaultTimeout(15000);
  context.troubles = [];
  context.on("request", (request) => {
    if (!request.url().startsWith(service.base)) context.troubles.push(`asks another host: ${request.url()}`);
  });
  context.on("console", (message) => {
    // A page that is refused on purpose is written to the console as well; its status is checked where it is asked for.
    const refused = message.text().startsWith("Failed to load resource") && message.location().url === message.page()?.url();
    if (message.type() !== "log" && !refused) context.troubles.push(`console: ${message.text()} (${message.page()?.url()})`);
  });
  context.on("weberror", (error) => context.troubles.push(`script: ${error.error().message}`));
  if (role) {
    const page = await context.newPage();
    await signIn(page, service, role);
    await page.close();
  }
  return context;
}

export async function signIn(page, service, role) {
  await page.goto("/sign-in");
  await fillIn(page, service, role);
}

/** Fills in the sign-in page that stands there, and waits for the page to which it leads. */
export async function fillIn(page, service, role) {
  const { name, password } = service.people[role];
  await page.fill("[name=name]", name);
  await page.fill("[name=password]", password);
  await Promise.all([page.waitForURL((url) => url.pathname !== "/sign-in"), page.press("[name=password]", "Enter")]);
}

const TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
const COLORS = ["color-contrast", "link-in-text-block"];
const RULES = Object.fromEntries(["target-size", "td-has-header", "table-fake-caption"].map((rule) => [rule, { enabled: true }]));

/** What an audit finds on the page as it stands, a line each. Works where the page's own scripts are off too. */
export async function audit(page, colorsAlone = false) {
  await page.evaluate(AXE);
  const found = await page.evaluate(
    ([runOnly, rules]) => axe.run(document, { runOnly, rules, resultTypes: ["violations"] }),
    colorsAlone ? [{ type: "rule", values: COLORS }, {}] : [{ type: "tag", values: TAGS }, RULES],
  );
  return found.violations.flatMap(({ id, help, nodes }) =>
    nodes.slice(0, 3).map(({ target, html }) => `${id}: ${help}: ${target.join(" ")} ${html.slice(0, 160)}`),
  );
}

/** How far the page is wider than the window, with what sticks out first. */
export const overflow = (page) =>
  page.evaluate(() => {
    const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
    if (wide <= 0) return "";
    const inside = (element) => element.closest(".scroll, nav, dialog") !== null;
    const out = [...document.querySelectorAll("body *")].filter(
      (element) => !inside(element) && element.getBoundingClientRect().right > document.documentElement.clientWidth + 1,
    );
    return `${wide} px too wide at ${innerWidth}: ${out.slice(0, 3).map((element) => element.outerHTML.slice(0, 120)).join(" | ")}`;
  });
