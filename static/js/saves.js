// Saves the rows of a long form as they are filled in. A fieldset with data-saves holds the address
// that takes its fields; the answer is JSON: {"words": "saved 14:19 UTC", "version": 7, "errors":
// [{"field": "T-0142-to", "message": "…"}]}. Without this script the form is sent by its button.

const WAIT = 700;
const AGAIN = 5000;
let waiting = 0;

function say(row, words, bad) {
  const status = row.querySelector("[data-saves-status]");
  if (!status) return;
  status.textContent = words;
  status.classList.toggle("late", bad);
}

function clear(field) {
  field.removeAttribute("aria-invalid");
  field.removeAttribute("aria-describedby");
  const cell = field.closest(".strip > *");
  cell?.classList.remove("bad");
  cell?.querySelector(".wrong")?.remove();
}

function blame(row, { field: name, message }) {
  const field = row.querySelector(`[name="${CSS.escape(name)}"]`);
  if (!field) return false;
  const wrong = document.createElement("p");
  wrong.className = "wrong";
  wrong.id = `${field.id}-error`;
  wrong.textContent = message;
  field.setAttribute("aria-invalid", "true");
  field.setAttribute("aria-describedby", wrong.id);
  const cell = field.closest(".strip > *");
  cell?.classList.add("bad");
  cell?.append(wrong);
  const fold = field.closest("details");
  if (fold) fold.open = true;
  return true;
}

function body(row) {
  const form = row.form ?? row.closest("form");
  const data = new URLSearchParams({ csrf: form.elements.csrf?.value ?? "" });
  for (const field of row.elements) {
    const off = field.matches("[type=checkbox], [type=radio]") && !field.checked || field.type === "file";
    if (field.name && !field.disabled && !off && !field.matches("button, fieldset")) data.append(field.name, field.value);
  }
  return data;
}

async function send(row) {
  const answer = await fetch(row.dataset.saves, {
    method: "POST",
    body: body(row),
    headers: { Accept: "application/json" },
    redirect: "manual",
  });
  if (answer.type === "opaqueredirect" || answer.status === 401) {
    throw new Error("Not saved: your session has ended. Sign in in another window; what you typed stays here.");
  }
  const type = answer.headers.get("Content-Type") ?? "";
  if (!type.startsWith("application/json")) throw new Error(`Not saved: the server answered ${answer.status}.`);
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.words ?? `Not saved: the server answered ${answer.status}.`);
  return told;
}

function watch(row) {
  let timer, busy = false, again = false, dirty = false;

  async function save() {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    again = false;
    say(row, "saving …", false);
    try {
      const { words = "", version, errors = [] } = await send(row);
      for (const field of row.querySelectorAll("[aria-invalid]")) clear(field);
      // A question whose field the page does not have yet is asked in the status; the sent form shows it.
      const unseen = errors.filter((error) => !blame(row, error)).map((error) => error.message);
      row.classList.toggle("wants", errors.length > 0);
      const held = row.querySelector("[name$=version]");
      if (held && version !== undefined) held.value = version;
      say(row, [words, ...unseen].join(". "), false);
      if (!again && dirty) {
        dirty = false;
        waiting -= 1;
      }
    } catch (cause) {
      const words = cause instanceof TypeError ? "Not saved: no answer from the server. Trying again." : cause.message;
      say(row, words, true);
      timer = setTimeout(save, AGAIN);
    } finally {
      busy = false;
    }
    if (again) save();
  }

  row.addEventListener("input", () => {
    if (!dirty) waiting += 1;
    dirty = true;
    clearTimeout(timer);
    timer = setTimeout(save, WAIT);
  });
}

for (const row of document.querySelectorAll("fieldset[data-saves]")) watch(row);
let sending = false;
document.addEventListener("submit", () => (sending = true));
addEventListener("beforeunload", (event) => {
  if (waiting > 0 && !sending) event.preventDefault();
});
