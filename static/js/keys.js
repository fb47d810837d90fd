// Keys that work on every page: "/" goes to the search, "?" lists marks and keys, Escape leaves,
// "j" and "k" walk the rows of a list. A person can switch the letters off; that alone is kept.

const KEPT = "holdover-keys";
const KEYS = [
  ["/", "go to the search"],
  ["?", "this list"],
  ["j, k", "next row, row before"],
  ["x", "pick the row, or let it go"],
  ["Enter", "open the row, or send the form"],
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
    make("h2", { id: "keys-head", textContent: "Marks and keys" }),
    ...[...document.querySelectorAll(".foot .legend")].map((legend) => {
      const copy = legend.cloneNode(true);
      copy.removeAttribute("id");
      return copy;
    }),
    keys,
    make("label", { className: "option" }, off, " Single letters work as keys"),
    make("form", { method: "dialog", className: "acts" }, close),
  );
  dialog.setAttribute("aria-labelledby", "keys-head");
  document.body.append(dialog);
  return dialog;
}

function walk(step) {
  const rows = [...document.querySelectorAll("main [data-code]")].filter((row) => row.querySelector("a"));
  const at = rows.findIndex((row) => row.contains(document.activeElement));
  const next = rows[at === -1 ? (step > 0 ? 0 : rows.length - 1) : at + step];
  next?.querySelector("a").focus();
}

function pick() {
  document.activeElement?.closest("[data-code]")?.querySelector("input[type=checkbox]")?.click();
}

document.addEventListener("click", (event) => {
  if (event.target.closest?.("[data-keys]")) {
    event.preventDefault();
    list().showModal();
  }
});

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  if (document.querySelector("dialog[open]")) return;
  if (event.key === "Escape") {
    if (isTyping(event.target)) event.target.blur();
    else document.querySelector("a[data-leave]")?.click();
    return;
  }
  if (isTyping(event.target) || !areOn()) return;
  const does = {
    "/": () => (document.querySelector("main [type=search]") ?? document.querySelector("#q-all"))?.focus(),
    "?": () => list().showModal(),
    j: () => walk(1),
    k: () => walk(-1),
    x: pick,
  }[event.key];
  if (does) {
    event.preventDefault();
    does();
  }
});
