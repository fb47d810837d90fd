// What is outside: whose way it takes, who brings it back, and which of two is right.

import assert from "node:assert/strict";
import { test } from "node:test";
import { press, says } from "../walker.mjs";

export function outside(walk) {
  test("an aid that comes in too early is told on the first page, and moving its slot ends that", async () => {
    const page = await walk().open("lead", "/today/all");
    await says(page, "Translation paths at risk", "Bringing O-07 in on E-37.3 removes the translation path to T-0151");
    await press(page, page.getByRole("link", { name: "Move T-0150 to E-38.2" }));
    await press(page, page.getByRole("button", { name: /^Move task here/ }).first());
    await page.goto("/outside/O-07");
    assert.doesNotMatch(await page.locator("main").innerText(), /A set slot would lose its translation path/);
    await page.goto("/slots?cell=T-0150:E-37.3");
    await press(page, page.getByRole("button", { name: /^Move task here/ }).first());
    await says(page, "removes the route Q-13: S-0165");
  });

  test("one press makes the task that brings an item back, and it says by when", async () => {
    const page = await walk().open("engineer", "/outside?back=nobody");
    await page.getByRole("link", { name: "O-04" }).first().click();
    await says(page, "Nobody brings it back yet.");
    await press(page, "Add task that brings it in");
    await says(page, "Bring in the bridging strut", "O-04");
    await page.goto("/outside/O-04");
    await says(page, "brings it in and has no slot yet.");
  });

  test("a tool says how many are aboard, where the others are, and in whose hands it will be", async () => {
    const page = await walk().open("engineer", "/tools/L-021");
    await says(page, "2 aboard and usable. One is outside.", "O-01", "W-RADP", "After G-38");
    await page.goto("/tools/L-009");
    await says(page, "1 lost on E-36.1");
  });

  test("where record and list disagree, one press corrects the one that is wrong", async () => {
    const page = await walk().open("engineer", "/outside");
    await says(page, "A-0097", "says “item brought in”; the list has O-01");
    await press(page, page.getByRole("button", { name: /^O-01 came in/ }).first());
    await says(page, "O-01, Portable foot restraint, is brought in now.");
  });
}
