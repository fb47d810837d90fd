// Keeps what is typed into a form with data-draft while this window is open, and offers it back.
// A draft goes when the server took the form, when the person forgets it, and at sign-out.

const PREFIX = "holdover-draft:";
const SENT = "holdover-sent";
const TAKEN = "holdover-taken:";
const fields = (form) =>
  [...form.elements].filter((field) => field.name && !field.matches("[type=hidden], [type=password], [type=file], button"));
const isSwitch = (field) => field.matches("[type=checkbox], [type=radio]");

function read(form) {
  return fields(form).map((field) => [field.name, isSwitch(field) ? `${field.value}=${field.checked}` : field.value]);
}

function write(form, draft) {
  const left = [...draft];
  for (const field of fields(form)) {
    const at = left.findIndex(([name, value]) => name === field.name && (!isSwitch(field) || value.startsWith(`${field.value}=`)));
    if (at === -1) continue;
    const [[, value]] = left.splice(at, 1);
    if (isSwitch(field)) field.checked = value.endsWith("=true");
    else field.value = value;
  }
}

function offer(form, key, draft) {
  const bar = document.createElement("div");
  bar.className = "notice held no-print";
  bar.setAttribute("role", "status");
  const words = document.createElement("p");
  words.textContent = "A draft of this form is kept in this window. It was not sent.";
  const button = (text, does) => {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "btn slim";
    made.textContent = text;
    made.addEventListener("click", () => {
      does();
      bar.remove();
    });
    return made;
  };
  bar.append(
    words,
    button("Restore draft", () => write(form, draft)),
    button("Discard draft", () => sessionStorage.removeItem(key)),
  );
  form.before(bar);
}

// “Back” fills a form again as it was sent; sent once more it would record a second one.
function cameBackTo(form) {
  const there = sessionStorage.getItem(TAKEN + form.dataset.draft);
  if (!there || performance.getEntriesByType("navigation")[0]?.type !== "back_forward") return;
  const bar = document.createElement("div");
  bar.className = "notice warns no-print";
  bar.setAttribute("role", "status");
  const words = document.createElement("p");
  words.textContent = "This form was sent, and what it held is recorded. ";
  const link = document.createElement("a");
  link.href = there;
  link.textContent = "See the record";
  words.append(link, document.createTextNode(". Fill it in again to record another one."));
  bar.append(words);
  form.before(bar);
  // Browsers fill it after this script has run.
  addEventListener("pageshow", () => setTimeout(() => form.reset(), 0));
}

function keep(form) {
  const key = PREFIX + form.dataset.draft;
  const stored = JSON.parse(sessionStorage.getItem(key) ?? "null");
  if (stored && JSON.stringify(stored) !== JSON.stringify(read(form))) offer(form, key, stored);
  let timer;
  const save = () => {
    try {
      sessionStorage.setItem(key, JSON.stringify(read(form)));
    } catch {
      // No room left in this window: the form still works, only without a draft.
    }
  };
  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(save, 300);
  });
  form.addEventListener("submit", () => {
    clearTimeout(timer);
    save();
    sessionStorage.setItem(SENT, key);
  });
}

// The server answers a form that it took with a redirect, and a refused one with the form again.
const sent = sessionStorage.getItem(SENT);
if (sent) {
  const [came] = performance.getEntriesByType("navigation");
  const refused = (came?.responseStatus || 200) >= 400 || document.querySelector("input[type=password]");
  if (came?.redirectCount > 0 && !refused) {
    sessionStorage.removeItem(sent);
    sessionStorage.setItem(TAKEN + sent.slice(PREFIX.length), location.pathname);
  }
  if (!refused) sessionStorage.removeItem(SENT);
}

for (const form of document.querySelectorAll("form[data-draft]")) {
  keep(form);
  cameBackTo(form);
}
for (const form of document.querySelectorAll("form[action='/sign-out']")) {
  form.addEventListener("submit", () => sessionStorage.clear());
}
