// What the tests of the board of the day share.

/** Begins a rehearsal at that pace, from the first page. */
export async function rehearse(page, pace = "60 times faster") {
  await page.goto("/");
  await page.click("text=and its rehearsal");
  await Promise.all([page.waitForURL(/practice/), page.click(`text=${pace}`)]);
  return new URL(page.url()).pathname;
}

/**
 * The board of E-37.1 some time into its day, on the service started again at that time: EV1 has ended a task
 * and waits, EV2 is at work past the trigger of its fallback.
 */
export async function running(browser, service, { serve, enter }) {
  const before = await enter(browser, service, "engineer");
  const page = await before.newPage();
  await page.goto("/excursions/E-37.1");
  const date = (await page.textContent("h1 ~ * time, time")).slice(0, 10);
  await before.close();
  await service.stop({ keep: true });
  const then = await serve({ again: service, day: `${date} 12:06` });
  const context = await enter(browser, then, "engineer");
  const board = await context.newPage();
  await board.goto("/excursions/E-37.1/day");
  await board.fill("#f-egress-at", `${date} 09:52`);
  await board.click("[name=press][value=egress]");
  await pressed(board, 1);
  const presses = [["ev2", "0:41", "started"], ["ev1", "0:50", "started"], ["ev1", "1:31", "done"]];
  for (const [number, [seat, pet, act]] of presses.entries()) {
    await board.locator(`.seat.${seat} > .press [name=pet]`).first().fill(pet);
    await board.locator(`.seat.${seat} > .press [value^='${act}']`).first().click();
    await pressed(board, number + 2);
  }
  await context.close();
  return then;
}

export const log = (page) => page.locator(".log tbody tr").count();
export const pressed = (page, count) => page.waitForFunction((count) => document.querySelectorAll(".log tbody tr").length >= count, count);
