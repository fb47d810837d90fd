// Says beside the field whether a code can be had while it is typed. The address of the form tells
// the kind: /excursions/new, /excursions/E-37.1/edit. Without this script the form says so once it
// is sent.

const WAIT = 350;
let waiting = 0;

function say(field, message) {
  const cell = field.closest(".strip > *");
  let wrong = document.getElementById(`${field.id}-error`);
  if (!message) {
    wrong?.remove();
    field.removeAttribute("aria-invalid");
    cell?.classList.remove("bad");
    return;
  }
  if (!wrong) {
    wrong = document.createElement("p");
    wrong.className = "wrong";
    wrong.id = `${field.id}-error`;
    wrong.setAttribute("role", "status");
    cell?.append(wrong);
  }
  wrong.textContent = message;
  field.setAttribute("aria-invalid", "true");
  field.setAttribute("aria-describedby", wrong.id);
  cell?.classList.add("bad");
}

async function check(field, folder) {
  const typed = field.value.trim();
  if (!typed || typed === field.defaultValue) return say(field, "");
  const asked = new URLSearchParams({ folder, code: typed, now: field.dataset.now ?? "" });
  try {
    const answer = await fetch(`/codes/check?${asked}`, { headers: { Accept: "application/json" } });
    if (!answer.ok || field.value.trim() !== typed) return;
    say(field, (await answer.json()).wrong ?? "");
  } catch {
    // The form says it when it is sent.
  }
}

for (const field of document.querySelectorAll('form[data-draft] input[name="code"]')) {
  const [, folder, code, act] = new URL(field.form.action).pathname.split("/");
  if (act === "edit") field.dataset.now = decodeURIComponent(code);
  else if (code !== "new") continue;
  field.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(() => check(field, folder), WAIT);
  });
}
