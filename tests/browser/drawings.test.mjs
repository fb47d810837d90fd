// Labels of the drawings, measured as a browser lays them out: none lies under another one. And what
// a page sends for its first paint: no font without letters on it, no photograph twice.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { overlaps, underLines } from "./overlaps.mjs";
import { enter, launch, serve } from "./service.mjs";

let service, browser;

before(async () => {
  service = await serve();
  browser = await launch();
});

after(async () => {
  await browser?.close();
  await service?.stop();
});

const DRAWN = ["/", "/plan", "/flights", "/excursions/E-37.1", "/excursions/E-37.3", "/excursions/E-38.1", "/tasks/T-0142", "/tasks/T-0127", "/tasks/T-0118",
  "/findings/causes", "/worksites", "/outside", "/links", "/attempts/new?task=T-0142"];

for (const width of [1440, 400]) {
  test(`no label of a drawing lies under another one, ${width} wide`, async () => {
    const context = await enter(browser, service, "lead", { viewport: { width, height: 900 } });
    const page = await context.newPage();
    const found = [];
    for (const address of DRAWN) {
      await page.goto(address);
      await page.evaluate(() => document.fonts.ready);
      found.push(...[...(await overlaps(page)), ...(await underLines(page))].map((pair) => `${address}: ${pair}`));
    }
    assert.deepEqual(found, []);
    await context.close();
  });
}

test("a page asks for the fonts that it has letters for, and for a photograph once", async () => {
  const context = await enter(browser, service, "engineer");
  const page = await context.newPage();
  const asked = [];
  page.on("request", (request) => asked.push(new URL(request.url()).pathname));
  await page.goto("/");
  await page.evaluate(() => document.fonts.ready);
  const fonts = asked.filter((path) => path.endsWith(".woff2"));
  console.log(`fonts of /: ${fonts.join(" ")}`);
  assert.ok(fonts.every((font) => !font.includes("latin-ext")), fonts.join(" "));

  // A photograph never changes under its address, so the second look costs nothing.
  const sizes = async () => {
    await page.goto("/findings/N-007");
    await page.waitForLoadState("load");
    // Below the first screen they are asked for as one comes to them.
    await page.evaluate(async () => {
      const all = [...document.images];
      for (const picture of all) picture.loading = "eager";
      await Promise.all(all.map((picture) => picture.decode()));
    });
    return page.evaluate(() => performance.getEntriesByType("resource").filter((entry) => entry.name.includes("/preview")).map((entry) => entry.transferSize));
  };
  const first = await sizes();
  assert.ok(first.length > 0 && first.every((size) => size > 0), `${first}`);
  const again = await sizes();
  assert.ok(again.length === first.length && again.every((size) => size === 0), `${again}`);
  await context.close();
});

/** Labels of a worksite map that lie on a route, by their words. */
const onRoutes = (page) =>
  page.evaluate(() => {
    const found = [];
    for (const map of document.querySelectorAll("main svg.map")) {
      const labels = [...map.querySelectorAll("text")].filter((text) => text.textContent.trim()).map((text) => ({ words: text.textContent, box: text.getBBox() }));
      for (const route of map.querySelectorAll("path.way")) {
        const long = route.getTotalLength();
        for (const { words, box } of labels) {
          // Letters leave a quarter of the line above and below them free.
          const [top, bottom] = [box.y + box.height / 4, box.y + (3 * box.height) / 4];
          let within = 0;
          for (let at = 0; at <= long; at += 1) {
            const { x, y } = route.getPointAtLength(at);
            if (x > box.x && x < box.x + box.width && y > top && y < bottom) within += 1;
          }
          if (within > 2) found.push(`“${words}” on ${route.getAttribute("d")} by ${within}`);
        }
      }
    }
    return found;
  });

test("no label of a worksite map lies on a route", async () => {
  const context = await enter(browser, service, "lead");
  const page = await context.newPage();
  const found = [];
  let maps = 0;
  for (const address of ["/plan", "/worksites", "/outside", "/outside/O-07"]) {
    await page.goto(address);
    await page.evaluate(() => document.fonts.ready);
    maps += await page.locator("main svg.map").count();
    found.push(...(await onRoutes(page)).map((label) => `${address}: ${label}`));
  }
  assert.equal(maps, 4);
  assert.deepEqual(found, []);
  await context.close();
});
