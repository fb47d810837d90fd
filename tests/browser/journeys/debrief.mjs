// The flight comes back: results, tools, what is owing, and words that become records.

import assert from "node:assert/strict";
import { test } from "node:test";
import { fill, path, press, rows, says } from "../walker.mjs";

export function debrief(walk) {
  const result = (page, task) => page.locator(`fieldset.result[data-code="${task}"]`).first();

  test("a debrief names what is owing, closes when everything has an answer, and the rest is in the backlog", async () => {
    const page = await walk().open("lead", "/");
    await press(page, page.getByRole("link", { name: /^Continue debrief/ }));
    assert.equal(path(page), "/excursions/E-36.3/debrief");
    assert.equal(await press(page, "Close the excursion"), 409);
    const errors = page.getByRole("alert");
    for (const task of ["T-0145", "T-0155", "T-0161"]) assert.match(await errors.innerText(), new RegExp(task));

    const enter = async (task, outcome, fields) => {
      await result(page, task).getByLabel(outcome, { exact: true }).check();
      if (fields["PET from"]) await result(page, task).locator("details.more > summary").first().click();
      if (fields["Access side"]) await result(page, task).getByLabel("Another approach").check();
      await fill(result(page, task), fields);
      if (walk().scripts) await result(page, task).locator("[data-saves-status]", { hasText: /saved/ }).waitFor();
    };
    await enter("T-0155", "done", { "PET from": "1:30", "PET to": "2:05", "Access side": "inboard" });
    await enter("T-0161", "not completed", { "PET from": "2:20", "PET to": "3:00", "What stopped it": "Time ran out", "In words": "Head out, clamp jaw left open." });
    await enter("T-0145", "not reached", { "What stopped it": "Time ran out", "In words": "Nobody got to the radiator." });
    await press(page, "Save and continue");
    const tools = page.locator("fieldset", { has: page.getByLabel("Not counted because") });
    for (const tool of await tools.all()) {
      await tool.getByLabel("In", { exact: true }).fill(await tool.getByLabel("Out", { exact: true }).inputValue());
    }
    await press(page, "Close the excursion");
    await says(page, "closed");
    await page.goto("/open");
    const open = await rows(page);
    assert.ok(open.includes("T-0161") && open.includes("T-0145") && !open.includes("T-0155"), open.join(" "));
  });

  test("marked words of a flown excursion become a task, an attempt and a deferral", async () => {
    const page = await walk().open("lead", "/excursions/E-36.1");
    const mark = async (excursion, words, what) => {
      await page.goto(`/excursions/${excursion}`);
      if (walk().scripts) {
        await page.locator("#notes").evaluate((notes, wanted) => {
          const node = [...notes.childNodes].find((child) => child.textContent.includes(wanted)), range = document.createRange();
          const from = node.textContent.indexOf(wanted);
          range.setStart(node, from);
          range.setEnd(node, from + wanted.length);
          getSelection().removeAllRanges();
          getSelection().addRange(range);
        }, words);
        await page.getByRole("button", { name: "Use selected words" }).click();
        assert.equal(await page.getByLabel("Words of the notes").inputValue(), words);
      } else await fill(page, { "Words of the notes": words });
      await press(page, what);
    };
    await mark("E-36.1", "sheared in the first hour", "Add task");
    await fill(page.locator("main"), { Title: "Look at clip 3 with the borescope", Worksite: "W-BAY5" });
    assert.match(await page.getByLabel("Notes").inputValue(), /sheared in the first hour/);
    assert.equal(await page.getByLabel("Found on excursion").inputValue(), "E-36.1");
    await press(page, "Add task");
    await page.goto("/open?q=borescope");
    const [task] = await rows(page);

    await mark("E-36.1", "Clip 3", "Record attempt");
    await fill(page.locator("main"), { Task: task });
    await press(page, "Open form");
    assert.equal(await page.getByLabel("Excursion").inputValue(), "E-36.1");
    await page.getByLabel("not reached", { exact: true }).check();
    await press(page, "Record attempt");
    assert.equal(path(page), `/tasks/${task}`);

    await mark("E-35.3", "the line stayed cold", "Record deferral");
    await fill(page.locator("main"), { Task: task, Reason: "priority" });
    await press(page, "Record deferral");
    await says(page, "the line stayed cold");
    await page.goto("/excursions/E-36.1");
    const marked = await page.locator("#notes mark").allInnerTexts();
    assert.equal(marked.length, 2, marked.join(" | "));

    await page.goto("/excursions/E-36.1");
    await fill(page, { "Words of the notes": "words that nobody wrote" });
    assert.equal(await press(page, "Add task"), 422);
    await says(page, "do not stand in the notes");
    assert.equal(await page.getByLabel("Words of the notes").inputValue(), "words that nobody wrote\n".trim());
  });
}
