// Lists and grids by keyboard, as the pattern for grids has it: one stop for Tab, arrows walk within,
// Home and End go to the ends of a row, with Ctrl to the ends of the list, Space picks a row that can
// be picked, Enter opens the row, from its box too. Without this script every link is a stop of its own.
// Source: ARIA Authoring Practices Guide, "Grid (Interactive Tabular Data and Layout Containers)
// Pattern", W3C, 2023.

const STOPS = "a[href], button, input:not([type=hidden]), summary";
const isTyping = (at) => at.matches("input:not([type=checkbox], [type=radio]), textarea, select");

const rowsOf = (grid) => [...grid.querySelectorAll("[data-row]")].filter((row) => row.closest("[data-grid]") === grid);
const stopsOf = (row) => [...row.querySelectorAll(STOPS)].filter((stop) => stop.checkVisibility?.() ?? stop.offsetParent !== null);

/** Leaves one stop of the grid to Tab. */
function keep(grid, current) {
  for (const row of rowsOf(grid)) for (const stop of row.querySelectorAll(STOPS)) stop.tabIndex = stop === current ? 0 : -1;
}

function go(grid, stop) {
  if (!stop) return;
  keep(grid, stop);
  stop.focus();
}

function walk(event, grid) {
  const rows = rowsOf(grid);
  const row = event.target.closest("[data-row]");
  const at = rows.indexOf(row);
  if (at === -1) return;
  const stops = stopsOf(row);
  const place = stops.indexOf(event.target);
  // Up and down keep the column of a table, else the place in the row.
  const cell = event.target.closest("td, th");
  const column = cell ? [...row.children].indexOf(cell) : -1;
  const beside = (next) => {
    if (!next) return undefined;
    const within = cell && next.children[column] ? stopsOf(next.children[column]) : [];
    const inCell = cell ? stopsOf(cell).indexOf(event.target) : 0;
    const all = stopsOf(next);
    return within[Math.min(inCell, within.length - 1)] ?? all[Math.min(Math.max(place, 0), all.length - 1)];
  };
  const to = {
    ArrowDown: () => beside(rows.slice(at + 1).find((next) => stopsOf(next).length > 0)),
    ArrowUp: () => beside(rows.slice(0, at).reverse().find((next) => stopsOf(next).length > 0)),
    ArrowRight: () => stops[place + 1],
    ArrowLeft: () => stops[place - 1],
    Home: () => (event.ctrlKey ? stopsOf(rows[0])[0] : stops[0]),
    End: () => (event.ctrlKey ? stopsOf(rows.at(-1)).at(-1) : stops.at(-1)),
  }[event.key];
  if (to) {
    event.preventDefault();
    go(grid, to());
  } else if (event.key === "Enter" && event.target.matches("[type=checkbox], [type=radio]")) {
    // A box would send the form around it; whoever presses Enter on a row means the row.
    const opens = row.querySelector("th a[href]") ?? row.querySelector("a[href]");
    if (!opens) return;
    event.preventDefault();
    opens.click();
  } else if (event.key === " " && event.target.matches("a")) {
    const pick = row.querySelector("input[type=checkbox]");
    if (!pick) return;
    event.preventDefault();
    pick.click();
  }
}

function begin(grid) {
  const rows = rowsOf(grid);
  const first = grid.querySelector("[data-row] [aria-current]") ?? rows.map((row) => stopsOf(row)[0]).find(Boolean);
  if (!first || grid.dataset.grid === "walks") return;
  grid.dataset.grid = "walks";
  if (grid.tagName === "TABLE") grid.setAttribute("role", "grid");
  keep(grid, first);
  grid.addEventListener("keydown", (event) => {
    if (event.metaKey || event.altKey || event.isComposing || isTyping(event.target)) return;
    if (event.ctrlKey && !["Home", "End"].includes(event.key)) return;
    walk(event, grid);
  });
  grid.addEventListener("focusin", (event) => {
    if (event.target.closest("[data-row]") && event.target.matches(STOPS)) keep(grid, event.target);
  });
}

const all = () => document.querySelectorAll("[data-grid]").forEach(begin);
all();
document.addEventListener("parts-taken", all);
