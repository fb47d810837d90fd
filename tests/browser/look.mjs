// What is looked at on a page that stands there: both themes and three widths.

import { audit, overflow } from "./service.mjs";

const WIDTHS = [360, 400, 1440];

/** Fields that are lower than a finger or whose type makes a phone zoom, folded ones opened.
 * Source: WCAG 2.2, success criterion 2.5.5 Target Size (Enhanced): 44 px, 2023. */
const smallFields = (page) =>
  page.evaluate(() => {
    const folds = [...document.querySelectorAll("main details:not([open])")];
    for (const fold of folds) fold.open = true;
    const fields = document.querySelectorAll("input:not([type=hidden], [type=checkbox], [type=radio]), select, textarea");
    const small = [...fields].filter((field) => {
      if (!field.checkVisibility() || field.closest(".unseen, dialog")) return false;
      return field.getBoundingClientRect().height < 43.5 || parseFloat(getComputedStyle(field).fontSize) < 16;
    });
    const lines = small.slice(0, 3).map((field) => `${field.name || field.id} is ${Math.round(field.getBoundingClientRect().height)} px high at ${getComputedStyle(field).fontSize} and ${innerWidth}`);
    for (const fold of folds) fold.open = false;
    return lines;
  });

/** What an audit finds in both themes, which differ in colours alone. */
async function bothThemes(page, name) {
  const found = [];
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    found.push(...(await audit(page, colorScheme === "dark")).map((line) => `${name} (${colorScheme}): ${line}`));
  }
  return found;
}

/** What is wrong with the page that stands there, a line each; at these widths too, where some are given. */
export async function look(page, name, audited = []) {
  const found = await bothThemes(page, name);
  for (const width of WIDTHS) {
    await page.setViewportSize({ width, height: 900 });
    const wide = await overflow(page);
    if (wide) found.push(`${name}: ${wide}`);
    if (width < 600) found.push(...(await smallFields(page)).map((line) => `${name}: ${line}`));
    if (audited.includes(width)) found.push(...(await bothThemes(page, `${name} at ${width}`)));
  }
  await page.setViewportSize({ width: 400, height: 900 });
  await page.emulateMedia({ colorScheme: "light", forcedColors: "active" });
  found.push(...(await audit(page)).map((line) => `${name} (400 px, forced colours): ${line}`));
  await page.emulateMedia({ forcedColors: null });
  return found;
}
