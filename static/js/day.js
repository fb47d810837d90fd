// The board of the day: the clock runs, presses are sent without leaving the page, and the board is
// loaded again where somebody has pressed. A press that gets no answer waits in this page, with the
// time at which it was pressed, and is sent in its order. Without this script every button is a form.

const board = document.querySelector("[data-day]");
const EVERY = 2000;
const AGAIN = 4000;
// More is not heard to its end before the board changes again.
const MOST_SAID = 4;
const kept = `holdover-presses:${board.dataset.day}`;
let number = Number(board.dataset.number);
let shown = [];
let lostSince = null;
let sending = false;

const queue = () => JSON.parse(localStorage.getItem(kept) ?? "[]");
const keep = (presses) => (presses.length === 0 ? localStorage.removeItem(kept) : localStorage.setItem(kept, JSON.stringify(presses)));

// The server's clock, as it was when the page was made: this machine's own may be off.
const loadedAt = performance.now();
const now = () => Number(board.dataset.now) + (performance.now() - loadedAt);

function pet() {
  const egress = Number(board.dataset.egress);
  if (!egress) return null;
  return Math.max(0, Math.floor(((now() - egress) * Number(board.dataset.pace)) / 60000));
}

const clock = (minutes) => `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;

function tick() {
  const minutes = pet();
  if (minutes === null) return;
  for (const place of document.querySelectorAll("[data-day-pet]")) place.textContent = clock(minutes);
  for (const field of document.querySelectorAll("[data-day-now]")) field.placeholder = clock(minutes);
}

// What the live region may say: each press, and each sentence of the headline.
const sentences = () => [...board.querySelectorAll("[data-day-say]")].map((place) => place.dataset.daySay);

function say(words) {
  document.querySelector("[data-day-said]").textContent = words;
}

function showQueue() {
  const waiting = queue();
  const notice = document.querySelector("[data-day-waiting]");
  notice.hidden = lostSince === null && waiting.length === 0;
  document.querySelector("[data-day-lost]").textContent = lostSince === null ? "" : `Connection lost since ${lostSince}.`;
  const count = waiting.length === 1 ? "1 press waits" : `${waiting.length} presses wait`;
  document.querySelector("[data-day-waits]").textContent =
    waiting.length === 0 ? "" : `${count} in this page, marked as waiting. They are sent in order, with the time at which they were pressed.`;
  const list = document.querySelector("[data-day-queue]");
  list.replaceChildren(...waiting.map((press) => {
    const line = document.createElement("li");
    line.textContent = `${press.words} · waiting to be sent`;
    return line;
  }));
}

function lost() {
  lostSince ??= pet() === null ? new Date(now()).toISOString().slice(11, 16) : clock(pet());
  showQueue();
}

function found() {
  lostSince = null;
  showQueue();
}

// Takes the parts of a fresh page; a field that somebody is typing in stays, and the focus too.
function take(page) {
  const fresh = page.querySelector("[data-day]");
  if (!fresh) return location.reload();
  const focus = document.activeElement?.closest("[data-press] button, [data-press] input");
  const again = focus && { name: focus.name, value: focus.value, typed: focus.matches("input") ? focus.value : null, form: focus.form?.querySelector("[name=press]")?.value };
  for (const part of document.querySelectorAll("[data-day-part]")) {
    const namesake = fresh.querySelector(`[data-day-part="${CSS.escape(part.dataset.dayPart)}"]`);
    if (namesake) part.replaceWith(document.adoptNode(namesake));
  }
  board.dataset.egress = fresh.dataset.egress;
  number = Number(fresh.dataset.number);
  const heard = sentences();
  const changed = heard.filter((sentence) => !shown.includes(sentence));
  if (changed.length > 0) say(changed.slice(0, MOST_SAID).join(" "));
  shown = heard;
  if (again) {
    for (const form of document.querySelectorAll("form[data-press]")) {
      if (form.querySelector("[name=press]")?.value !== again.form) continue;
      const field = [...form.elements].find((one) => one.name === again.name && (again.typed !== null || one.value === again.value));
      if (again.typed && field) field.value = again.typed;
      field?.focus({ preventScroll: true });
      break;
    }
  }
  tick();
}

function load() {
  return new Promise((resolve) => {
    const request = new XMLHttpRequest();
    request.open("GET", location.href);
    request.responseType = "document";
    request.onload = () => {
      if (request.status === 200 && request.response) take(request.response);
      resolve();
    };
    request.onerror = () => resolve();
    request.send();
  });
}

let minute = pet();
async function look() {
  try {
    const answer = await fetch(`${board.dataset.day}/state`, { headers: { Accept: "application/json" }, redirect: "manual" });
    if (answer.ok) {
      const told = await answer.json();
      found();
      const faster = Number(board.dataset.pace) > 1 ? 5 : 1;
      const later = told.pet !== null && told.pet >= (minute ?? -1) + faster;
      if (told.number !== number || later) {
        minute = told.pet;
        await load();
      }
    } else if (answer.type === "opaqueredirect") {
      say("Your session has ended. Sign in in another window; presses wait in this page.");
    }
  } catch {
    lost();
  }
  setTimeout(look, EVERY);
}

const csrf = () => document.querySelector("input[name=csrf]")?.value ?? "";

// Sends what waits, the first first. What is refused leaves the queue and says why.
async function send() {
  if (sending) return;
  sending = true;
  let sent = 0;
  try {
    for (let waiting = queue(); waiting.length > 0; waiting = queue()) {
      const [first] = waiting;
      const body = new URLSearchParams({ ...first.fields, csrf: csrf() });
      const answer = await fetch(`${board.dataset.day}/press`, { method: "POST", body, headers: { Accept: "application/json" }, redirect: "manual" });
      const type = answer.headers.get("Content-Type") ?? "";
      if (answer.type === "opaqueredirect" || answer.status >= 500 || !type.startsWith("application/json")) {
        throw new TypeError("not answered");
      }
      const told = await answer.json();
      // Another window of this browser may have sent it meanwhile: it counts once.
      keep(queue().filter((press) => press.fields.key !== first.fields.key));
      say(told.words ?? "");
      if (!answer.ok) alertWords(told.words ?? "The press was refused.");
      sent += 1;
    }
    found();
  } catch {
    lost();
    setTimeout(send, AGAIN);
  }
  sending = false;
  if (sent > 0) await load();
}

function alertWords(words) {
  const notice = document.createElement("div");
  notice.className = "notice warns";
  notice.setAttribute("role", "alert");
  const said = document.createElement("p");
  said.textContent = `Not saved: ${words}`;
  notice.append(said);
  board.querySelector("[data-day-waiting]").after(notice);
  setTimeout(() => notice.remove(), 20000);
}

document.addEventListener("submit", (event) => {
  const form = event.target.closest("form[data-press]");
  if (!form) return;
  event.preventDefault();
  const button = event.submitter;
  const fields = {};
  for (const [name, value] of new FormData(form)) {
    if (typeof value === "string" && !["csrf", "form_key"].includes(name)) fields[name] = value;
  }
  if (button?.name) fields[button.name] = button.value;
  fields.key = crypto.randomUUID?.() ?? `${now()}-${Math.random()}`;
  fields.pressed_at = String(Math.floor(now()));
  // The minute of the press, not that of its arrival.
  if ("pet" in fields && fields.pet === "" && pet() !== null) fields.pet = clock(pet());
  const words = `${fields.pet ?? ""} ${button?.textContent.trim() ?? "press"}`.trim();
  keep([...queue(), { fields, words }]);
  showQueue();
  send();
});

document.querySelector("[data-day-again]").addEventListener("click", send);
document.querySelector("[data-day-waiting] .btn").addEventListener("click", () => say("Sending again."));
shown = sentences();
setInterval(tick, 1000);
tick();
showQueue();
if (queue().length > 0) send();
setTimeout(look, EVERY);
