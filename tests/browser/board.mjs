// What the tests of the board of the day share.

/** Begins a rehearsal at that pace, from the first page. */
export async function rehearse(page, pace = "60 times faster") {
  await page.goto("/");
  await page.click("text=and its rehearsal");
  await Promise.all([page.waitForURL(/practice/), page.click(`text=${pace}`)]);
  return new URL(page.url()).pathname;
}

export const log = (page) => page.locator(".log tbody tr").count();
export const pressed = (page, count) => page.waitForFunction((count) => document.querySelectorAll(".log tbody tr").length >= count, count);
