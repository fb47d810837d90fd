// The board of the day: the clock runs, presses are sent without leaving the page, and the board is
// loaded again where somebody has pressed. A press that gets no answer waits in this browser, with
// the time at which it was pressed, and is sent in its order by the account that pressed it; one that
// is refused stays until somebody dismisses it. Without this script every button is a form.

const board = document.querySelector("[data-day]");
const EVERY = 2000;
const AGAIN = 4000;
// More is not heard to its end before the board changes again.
const MOST_SAID = 4;
const waitingAt = `holdover-presses:${board.dataset.day}:`;
const mine = waitingAt + board.dataset.account;
const refusedAt = `holdover-refused:${board.dataset.day}:${board.dataset.account}`;
let number = Number(board.dataset.number);
let shown = [];
let lostSince = null;
let sending = false;

const kept = (key) => JSON.parse(localStorage.getItem(key) ?? "[]");
const keep = (key, presses) => (presses.length === 0 ? localStorage.removeItem(key) : localStorage.setItem(key, JSON.stringify(presses)));

// The server's clock, set by every answer: this machine's own may be off. Between two answers the
// larger of what its two clocks say has passed counts, as one of them stands still in sleep.
let set;
function setClock(server) {
  set = { server: Number(server), run: performance.now(), wall: Date.now() };
}
setClock(board.dataset.now);
const now = () => set.server + Math.max(performance.now() - set.run, Date.now() - set.wall, 0);

function pet() {
  // Once the crew is inside, the time of the excursion stands.
  if (board.dataset.inside) return Number(board.dataset.inside);
  const egress = Number(board.dataset.egress);
  if (!egress) return null;
  return Math.max(Number(board.dataset.last), Math.floor(((now() - egress) * Number(board.dataset.pace)) / 60000));
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

const line = (words) => {
  const item = document.createElement("li");
  item.textContent = words;
  return item;
};

function showQueue() {
  const waiting = kept(mine);
  const others = Object.keys(localStorage)
    .filter((key) => key.startsWith(waitingAt) && key !== mine)
    .map((key) => ({ who: key.slice(waitingAt.length), presses: kept(key).length }));
  const notice = document.querySelector("[data-day-waiting]");
  notice.hidden = lostSince === null && waiting.length === 0 && others.length === 0;
  document.querySelector("[data-day-lost]").textContent = lostSince === null ? "" : `Connection lost since ${lostSince}.`;
  const count = (presses) => (presses === 1 ? "1 press" : `${presses} presses`);
  const waits = (presses) => `${count(presses)} ${presses === 1 ? "waits" : "wait"}`;
  document.querySelector("[data-day-waits]").textContent =
    waiting.length === 0 ? "" : `${waits(waiting.length)} in this page, marked as waiting. They are sent in order, with the time at which they were pressed.`;
  document.querySelector("[data-day-queue]").replaceChildren(
    ...waiting.map((press) => line(`${press.words} · waiting to be sent`)),
    ...others.map(({ who, presses }) => line(`${count(presses)} of ${who}: sent when ${who} signs in here and opens this board`)),
  );
  const refused = kept(refusedAt);
  document.querySelector("[data-day-refused]").hidden = refused.length === 0;
  document.querySelector("[data-day-refusals]").replaceChildren(...refused.map((press) => line(`${press.words}: ${press.why}`)));
  moveOn();
}

// What can be pressed for a task, as its button carries it before the slot.
const ACTS = ["started", "done", "at stopping point", "not completed", "dropped"];

// A seat as it is after what waits: its task under way, and those still to start in their order.
function after(seat, waiting) {
  const tasks = seat.dataset.dayPlan.split(";").filter(Boolean).map((one) => {
    const [slot, task, stops] = one.split(" ");
    return { slot, task, stops: stops === "1" };
  });
  let running = tasks.find((one) => one.slot === seat.dataset.dayRunning);
  let left = tasks.filter((one) => one !== running);
  let last = null;
  for (const press of waiting) {
    const act = ACTS.find((one) => press.fields.press?.startsWith(`${one} `));
    const of = act && tasks.find((one) => one.slot === press.fields.press.slice(act.length + 1));
    if (!of) continue;
    left = left.filter((one) => one !== of);
    if (act === "started") running = of;
    else if (running === of) running = undefined;
    last = press;
  }
  return { running, next: left[0], last };
}

function formFor(kind, { slot, task, stops }, seat) {
  const form = board.querySelector(`[data-day-form=${kind}]`).content.firstElementChild.cloneNode(true);
  for (const button of form.querySelectorAll("[name=press]")) {
    if (button.value === "at stopping point" && !stops) button.remove();
    button.value += ` ${slot}`;
  }
  for (const place of form.querySelectorAll("[data-day-task]")) place.textContent = task;
  form.querySelector("[name=csrf]").value = csrf();
  form.setAttribute("aria-label", `${seat}: ${task}`);
  return form;
}

// What the part of a seat shows while the server is away.
const movedOn = new WeakMap();

// While the server is away each seat goes on from what waits: its next press can be made.
function moveOn() {
  if (lostSince === null) return;
  const waiting = kept(mine);
  for (const seat of board.querySelectorAll("[data-day-plan]")) {
    const { running, next, last } = after(seat, waiting);
    const main = seat.querySelector("[data-day-main]");
    const shows = `${running?.slot} ${next?.slot}`;
    if (!last || !main || movedOn.get(seat) === shows) continue;
    movedOn.set(seat, shows);
    seat.querySelector("details")?.remove();
    const name = seat.querySelector("h2").firstChild.textContent.trim();
    const hadFocus = main.contains(document.activeElement);
    if (running) main.replaceWith(formFor("ended", running, name));
    else if (next) main.replaceWith(formFor("started", next, name));
    else main.hidden = true;
    if (hadFocus) seat.querySelector("[data-day-main] input:not([type=hidden])")?.focus({ preventScroll: true });
    const now = seat.querySelector(".now-task");
    const waits = document.createElement("span");
    waits.className = "second";
    waits.textContent = `${last.words} · waiting to be sent`;
    let words = "No task is left";
    if (running) words = `${running.task} under way`;
    else if (next) words = `Next: ${next.task}`;
    now.replaceChildren(words, waits);
    seat.querySelector("dd.at").textContent = "";
  }
  tick();
}

function lost() {
  lostSince ??= pet() === null ? new Date(now()).toISOString().slice(11, 16) : clock(pet());
  showQueue();
}

function found() {
  lostSince = null;
  showQueue();
}

// Which form a field is in, whatever has become of the form since: by its first press.
const formOf = (field) => field.form?.querySelector("[name=press]")?.value;

/** What a person has typed, opened and gone to in the parts that are replaced. */
function state() {
  const fields = [...board.querySelectorAll("form[data-press] input:not([type=hidden])")];
  const at = document.activeElement?.closest("[data-press] button, [data-press] input");
  return {
    typed: fields.filter((field) => field.value !== field.defaultValue).map((field) => [formOf(field), field.name, field.value]),
    open: [...board.querySelectorAll("[data-day-part] details[open] > summary")].map((summary) => summary.textContent),
    focus: at && { form: formOf(at), name: at.name, value: at.matches("button") ? at.value : null },
  };
}

function restore({ typed, open, focus }) {
  const controls = [...board.querySelectorAll("form[data-press] :is(button, input:not([type=hidden]))")];
  for (const [form, name, value] of typed) {
    const field = controls.find((one) => one.matches("input") && formOf(one) === form && one.name === name);
    if (field) field.value = value;
  }
  for (const summary of board.querySelectorAll("[data-day-part] details > summary")) {
    if (open.includes(summary.textContent)) summary.parentElement.open = true;
  }
  const was = (one) => formOf(one) === focus.form && one.name === focus.name && (focus.value === null || one.value === focus.value);
  if (focus) controls.find(was)?.focus({ preventScroll: true });
}

// Takes the parts of a fresh page and the token of its session.
function take(page) {
  const fresh = page.querySelector("[data-day]");
  if (!fresh || fresh.dataset.account !== board.dataset.account) return location.reload();
  const before = state();
  for (const part of document.querySelectorAll("[data-day-part]")) {
    const namesake = fresh.querySelector(`[data-day-part="${CSS.escape(part.dataset.dayPart)}"]`);
    if (namesake) part.replaceWith(document.adoptNode(namesake));
  }
  restore(before);
  const token = page.querySelector("input[name=csrf]")?.value;
  for (const field of document.querySelectorAll("input[name=csrf]")) field.value = token ?? field.value;
  board.dataset.egress = fresh.dataset.egress;
  board.dataset.last = fresh.dataset.last;
  board.dataset.inside = fresh.dataset.inside;
  setClock(fresh.dataset.now);
  number = Number(fresh.dataset.number);
  const heard = sentences();
  const changed = heard.filter((sentence) => !shown.includes(sentence));
  if (changed.length > 0) say(changed.slice(0, MOST_SAID).join(" "));
  shown = heard;
  tick();
  moveOn();
}

// A form that leads elsewhere is on its way: its answer must not be overtaken.
let leaving = false;
addEventListener("submit", (event) => (leaving ||= !event.target.matches("form[data-press]")));
addEventListener("pageshow", () => (leaving = false));

const ended = () => say("Your session has ended. Sign in in another window; presses wait in this page.");

function load() {
  return new Promise((resolve) => {
    const request = new XMLHttpRequest();
    request.open("GET", location.href);
    request.responseType = "document";
    request.onload = () => {
      const elsewhere = new URL(request.responseURL || location.href).pathname !== location.pathname;
      if (elsewhere || request.status === 401) ended();
      else if (request.response && request.status === 200) take(request.response);
      // A practice run that somebody else discarded, an excursion that is not there any more.
      else if (request.status >= 400 && request.status < 500 && !leaving) location.reload();
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
      setClock(told.now);
      board.dataset.last = told.last ?? 0;
      found();
      const faster = Number(board.dataset.pace) > 1 ? 5 : 1;
      const later = told.pet !== null && told.pet >= (minute ?? -1) + faster;
      if (told.number !== number || later) {
        minute = told.pet;
        await load();
      }
    } else if (answer.type === "opaqueredirect") {
      ended();
    } else if (answer.status >= 400 && answer.status < 500) {
      await load();
    }
  } catch {
    lost();
  }
  setTimeout(look, EVERY);
}

// The second click of a double click would press what has come into the place of the button.
board.addEventListener("click", (event) => {
  if (event.detail > 1 && event.target.closest("form[data-press] button")) event.preventDefault();
});

const csrf = () => board.querySelector("form[data-press] input[name=csrf]")?.value ?? "";

const meaning = ({ fields }) => [fields.press, fields.undoes, fields.task, fields.step].join(" ");

// Sends what waits, the first first. What is refused leaves the queue and says why.
async function send() {
  if (sending) return;
  sending = true;
  let sent = 0;
  try {
    for (let waiting = kept(mine); waiting.length > 0; waiting = kept(mine)) {
      const [first] = waiting;
      const body = new URLSearchParams({ ...first.fields, csrf: csrf() });
      const answer = await fetch(`${board.dataset.day}/press`, { method: "POST", body, headers: { Accept: "application/json" }, redirect: "manual" });
      const isJson = (answer.headers.get("Content-Type") ?? "").startsWith("application/json");
      if (answer.type === "opaqueredirect" || answer.status === 401 || (answer.status === 403 && !isJson)) {
        // The session is another one: its token comes with the board.
        await load();
        throw new TypeError("not signed in");
      }
      if (answer.status >= 500 || !isJson) throw new TypeError("not answered");
      const told = await answer.json();
      // What was refused and has been saved since, with another time, is no longer said.
      const refused = kept(refusedAt).filter((press) => !answer.ok || meaning(press) !== meaning(first));
      keep(refusedAt, answer.ok ? refused : [...refused, { ...first, why: told.words ?? "The press was refused." }]);
      // Another window of this browser may have sent it meanwhile: it counts once.
      keep(mine, kept(mine).filter((press) => press.fields.key !== first.fields.key));
      say(told.words ?? "");
      sent += 1;
    }
    found();
  } catch (cause) {
    if (cause.message === "not signed in") showQueue();
    else lost();
    setTimeout(send, AGAIN);
  }
  sending = false;
  if (sent > 0) await load();
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
  keep(mine, [...kept(mine), { fields, words }]);
  form.reset();
  showQueue();
  send();
});

document.querySelector("[data-day-again]").addEventListener("click", () => {
  say("Sending again.");
  send();
});
document.querySelector("[data-day-dismiss]").addEventListener("click", () => {
  keep(refusedAt, []);
  showQueue();
});
shown = sentences();
setInterval(tick, 1000);
tick();
showQueue();
if (kept(mine).length > 0) send();
setTimeout(look, EVERY);
