// Keys that work on every page: "/" goes to the search, "?" lists marks and keys, Escape leaves a
// field, a menu, a form. A person can switch the two characters off; that alone is kept. The keys of
// lists and grids stand in grid.js.

const KEPT = "holdover-keys";
const KEYS = [
  ["/", "go to the search"],
  ["?", "this list"],
  ["← ↑ → ↓", "walk in a list or grid"],
  ["Home, End", "ends of the row; with Ctrl, ends of the list"],
  ["Space", "pick the row, or unpick it"],
  ["Enter", "open the row or link, or send the form"],
  ["Esc", "leave the field, then the page of a form"],
];

const areOn = () => localStorage.getItem(KEPT) !== "off";
const isTyping = (at) => at.matches("input:not([type=checkbox], [type=radio]), textarea, select");

function make(tag, properties = {}, ...inside) {
  const element = Object.assign(document.createElement(tag), properties);
  element.append(...inside);
  return element;
}

function list() {
  const open = document.querySelector("dialog.keys");
  if (open) return open;
  const keys = make("dl");
  for (const [key, does] of KEYS) {
    keys.append(make("dt", {}, make("kbd", { textContent: key })), make("dd", { textContent: does }));
  }
  const off = make("input", { type: "checkbox", checked: areOn() });
  off.addEventListener("change", () => localStorage.setItem(KEPT, off.checked ? "on" : "off"));
  const close = make("button", { type: "submit", className: "btn", textContent: "Close" });
  const dialog = make(
    "dialog",
    { className: "keys" },
    make("h2", { id: "keys-head", textContent: "Words and keys" }),
    ...[...document.querySelectorAll(".foot .legend")].map((legend) => {
      const copy = legend.cloneNode(true);
      copy.removeAttribute("id");
      return copy;
    }),
    keys,
    make("p", {}, make("a", { href: "/words", textContent: "Every term, explained" })),
    make("label", { className: "option" }, off, " / and ? work as keys"),
    make("form", { method: "dialog", className: "acts" }, close),
  );
  dialog.setAttribute("aria-labelledby", "keys-head");
  document.body.append(dialog);
  return dialog;
}

const openMenu = () => document.querySelector("details.menu[open]");

document.addEventListener("click", (event) => {
  const menu = openMenu();
  if (menu && !menu.contains(event.target)) menu.open = false;
  if (event.target.closest?.("[data-keys]")) {
    event.preventDefault();
    list().showModal();
  }
});

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  if (document.querySelector("dialog[open]")) return;
  if (event.key === "Escape") {
    const menu = openMenu();
    if (menu) {
      menu.open = false;
      return menu.querySelector("summary").focus();
    }
    if (isTyping(event.target)) event.target.blur();
    else document.querySelector("a[data-leave]")?.click();
    return;
  }
  if (isTyping(event.target) || !areOn()) return;
  const does = {
    "/": () => (document.querySelector("main [type=search]") ?? document.querySelector("#q-all"))?.focus(),
    "?": () => list().showModal(),
  }[event.key];
  if (does) {
    event.preventDefault();
    does();
  }
});
