// Moves the blocks of the lanes by hand and by keys. It only fills in and sends the forms that the
// page has anyway: the same addresses answer, with the page as it is then. A set slot that would
// leave the excursion has its own form opened, which asks for the reason.

const SVG = "http://www.w3.org/2000/svg";
// A hand that trembles is no drag.
const STILL = 4;

const said = document.createElement("p");
said.className = "unseen";
said.setAttribute("role", "status");
document.body.append(said);
const say = (words) => (said.textContent = words);

let busy = false;

// What the page says now about its lanes.
function lanes() {
  const place = document.querySelector("[data-lanes]");
  const drawing = place?.querySelector(".lane-drawing");
  const form = place?.querySelector("[data-lanes-form]");
  if (!form) return null;
  const seats = drawing.dataset.seats.split(",");
  const columns = drawing.dataset.columns.split(",").map((edges) => edges.split(" ").map(Number));
  const blocks = [...drawing.querySelectorAll(".block")].map((element) => {
    const box = element.querySelector(".work").getBBox();
    return {
      element,
      slot: element.dataset.slot,
      task: element.dataset.task,
      version: element.dataset.version,
      isSet: element.dataset.state === "set",
      held: element.dataset.lanes.split(" ").map(Number),
      handle: element.querySelector(".handle"),
      top: box.y,
      bottom: box.y + box.height,
    };
  });
  return { address: place.dataset.lanes, place, drawing, form, seats, columns, blocks };
}

const meet = (a, b) => a.some((lane) => b.includes(lane));
const names = (at, held) => held.map((lane) => at.seats[lane]).join(", ");

// Sends fields to one of the page's addresses and takes the page that comes back in its place.
function send(at, path, fields, focus) {
  if (busy) return;
  busy = true;
  at.place.setAttribute("aria-busy", "true");
  const body = new URLSearchParams(new FormData(at.form));
  for (const [name, value] of Object.entries(fields)) body.set(name, value);
  // This request parses the answer itself and runs nothing in it.
  const request = new XMLHttpRequest();
  request.open("POST", `${at.address}/${path}`);
  request.responseType = "document";
  const done = () => {
    busy = false;
    at.place.removeAttribute("aria-busy");
  };
  request.onload = () => {
    done();
    const main = request.response?.querySelector("main");
    if (!main?.querySelector("[data-lanes]")) {
      // Signed out, or refused on a page of its own: that page has the words.
      if (main && request.status >= 400) say(main.querySelector("h1")?.textContent ?? "The change was not made.");
      else return location.assign(at.address);
    }
    if (main) take(main, request.response.title, focus);
  };
  request.onerror = () => {
    done();
    say("No answer from the server; nothing was changed.");
  };
  request.send(body);
}

function take(main, title, focus) {
  const { scrollX, scrollY } = window;
  document.querySelector("main").replaceWith(document.adoptNode(main));
  document.title = title;
  ready();
  const wrong = document.querySelector(".errors");
  const notice = document.querySelector("main > .notice p");
  window.scrollTo(scrollX, scrollY);
  if (wrong) {
    wrong.focus();
    say("");
  } else {
    if (notice) say(notice.textContent);
    const block = focus && lanes()?.blocks.find((other) => other.slot === focus || other.task === focus);
    (block?.handle ?? document.querySelector(".lane-drawing [tabindex]"))?.focus({ preventScroll: true });
  }
}

// Puts a block on those lanes; `before` is a slot, its own (the order stays), or nothing (last).
function put(at, block, held, before) {
  const there = before === block.slot && held.join() === block.held.join();
  if (there) return say(`${block.task} stays where it is.`);
  const fields = { seats: names(at, held), before, version: block.version };
  send(at, `slots/${encodeURIComponent(block.slot)}/place`, fields, block.slot);
}

function takeOff(at, block) {
  if (!block.isSet) {
    const next = at.blocks[at.blocks.indexOf(block) + 1] ?? at.blocks[0];
    return send(at, `slots/${encodeURIComponent(block.slot)}/withdraw`, {}, next?.slot);
  }
  const fold = document.getElementById(`slot-${block.slot}`);
  const form = fold?.querySelector("[data-act=withdraw]");
  if (!form) return;
  fold.closest("details").open = true;
  form.open = true;
  form.querySelector("select").focus();
  say(`${block.task} is set: say why it is taken off.`);
}

function onKey(event, block) {
  const at = lanes();
  const order = at.blocks.findIndex((other) => other.slot === block.slot);
  const mine = (other) => meet(other.held, block.held);
  const moves = {
    ArrowUp: () => {
      const ahead = at.blocks.slice(0, order).reverse().find(mine);
      if (!ahead) return say(`${block.task} is the first one on its lane.`);
      put(at, block, block.held, ahead.slot);
    },
    ArrowDown: () => {
      const behind = at.blocks.findIndex((other, place) => place > order && mine(other));
      if (behind === -1) return say(`${block.task} is the last one on its lane.`);
      put(at, block, block.held, at.blocks[behind + 1]?.slot ?? "");
    },
    ArrowLeft: () => beside(-1),
    ArrowRight: () => beside(1),
    Delete: () => takeOff(at, block),
  };
  const beside = (step) => {
    const to = block.held[0] + step;
    if (block.held.length > 1) return say(`${block.task} takes ${names(at, block.held)} together.`);
    if (!at.seats[to]) return say(`There is no seat beyond ${at.seats[block.held[0]]}.`);
    put(at, block, [to], block.slot);
  };
  if (!moves[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  event.stopPropagation();
  moves[event.key]();
}

// Where something that takes so many seats would go: on which lanes, before which slot.
function spot(at, event, count, self, grip) {
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(at.drawing.getScreenCTM().inverse());
  const [first, last] = [at.columns[0][0], at.columns.at(-1)[1]];
  const { height } = at.drawing.viewBox.baseVal;
  if (point.x < first - 12 || point.x > last + 12 || point.y < 0 || point.y > height) return null;
  const lane = at.columns.findLastIndex(([left]) => point.x >= left - 6);
  const most = at.seats.length - count;
  const held = Array.from({ length: count }, (_, each) => Math.min(Math.max(lane, 0), most) + each);
  const top = point.y - grip;
  const others = at.blocks.filter((block) => block.slot !== self);
  const mine = others.filter((block) => meet(block.held, held));
  const next = mine.find((block) => (block.top + block.bottom) / 2 > top);
  if (next) return { held, before: next.slot, y: next.top };
  const end = mine.at(-1);
  const after = end ? others[others.indexOf(end) + 1]?.slot ?? "" : "";
  return { held, before: after, y: end ? end.bottom : top };
}

// Follows the pointer with a line where the block would go, until it is let go.
function drag(event, { block, count, over, drop, off }) {
  const start = lanes();
  const from = new DOMPoint(event.clientX, event.clientY).matrixTransform(start.drawing.getScreenCTM().inverse());
  const grip = block ? from.y - block.top : 0;
  let line, ghost, away, to;

  function begin() {
    line = document.createElementNS(SVG, "path");
    line.setAttribute("class", "drop-line");
    start.drawing.append(line);
    if (block) {
      ghost = block.element.querySelector(".work").cloneNode();
      ghost.setAttribute("class", "ghost");
      start.drawing.append(ghost);
    }
    over.classList.add("dragged");
    document.documentElement.classList.add("dragging");
  }

  function move(moved) {
    if (!line && Math.hypot(moved.clientX - event.clientX, moved.clientY - event.clientY) < STILL) return;
    if (!line) begin();
    moved.preventDefault();
    to = spot(start, moved, count, block?.slot, grip);
    away = !to;
    const edges = to && [start.columns[to.held[0]][0], start.columns[to.held.at(-1)][1]];
    line.setAttribute("d", to ? `M${edges[0] - 4} ${to.y}H${edges[1] + 4}` : "");
    over.classList.toggle("off", away && Boolean(off));
    if (ghost) {
      const now = new DOMPoint(moved.clientX, moved.clientY).matrixTransform(start.drawing.getScreenCTM().inverse());
      ghost.setAttribute("transform", `translate(${now.x - from.x} ${now.y - from.y})`);
    }
  }

  function end(how) {
    for (const [name, listener] of listening) window.removeEventListener(name, listener);
    if (!line) return;
    line.remove();
    ghost?.remove();
    over.classList.remove("dragged", "off");
    document.documentElement.classList.remove("dragging");
    // The click that ends a drag opens nothing.
    const swallow = (click) => (click.preventDefault(), click.stopPropagation());
    window.addEventListener("click", swallow, { capture: true, once: true });
    setTimeout(() => window.removeEventListener("click", swallow, { capture: true }), 0);
    if (how !== "pointerup") return;
    if (to) drop(start, to);
    else if (away) off?.(start);
  }

  const listening = [
    ["pointermove", move],
    ["pointerup", () => end("pointerup")],
    ["pointercancel", () => end("pointercancel")],
    ["keydown", (key) => key.key === "Escape" && end("Escape")],
  ];
  for (const [name, listener] of listening) window.addEventListener(name, listener);
}

// Makes blocks and offers movable; again after every answer.
function ready() {
  const at = lanes();
  if (!at) return;
  const help = document.getElementById("lanes-keys");
  if (help) help.hidden = false;
  for (const block of at.blocks) {
    if (!block.handle) continue;
    block.handle.setAttribute("tabindex", "0");
    block.handle.setAttribute("role", "button");
    const number = block.handle.textContent.trim();
    block.handle.setAttribute("aria-label", `${number}: move ${block.task}, ${names(at, block.held)}`);
    block.handle.setAttribute("aria-describedby", "lanes-keys");
    block.handle.addEventListener("keydown", (event) => onKey(event, block));
    // What is drawn knows no touch-action: the page would scroll and take the pointer away.
    block.handle.addEventListener("touchmove", (event) => event.preventDefault(), { passive: false });
    block.element.addEventListener("pointerdown", (event) => {
      // A finger scrolls by the block and moves it by its handle.
      const byHandle = block.handle.contains(event.target);
      if (event.button !== 0 || (event.pointerType === "touch" && !byHandle)) return;
      if (!byHandle) event.preventDefault();
      drag(event, {
        block,
        count: block.held.length,
        over: block.element,
        drop: (now, to) => {
          const order = now.blocks.findIndex((other) => other.slot === block.slot);
          const stays = to.before === (now.blocks[order + 1]?.slot ?? "");
          put(now, block, to.held, stays ? block.slot : to.before);
        },
        off: (now) => takeOff(now, block),
      });
    });
    for (const link of block.element.querySelectorAll("a")) link.addEventListener("dragstart", (event) => event.preventDefault());
  }
  for (const offer of document.querySelectorAll("[data-offer]")) {
    offer.addEventListener("pointerdown", (event) => {
      if (event.button !== 0 || event.pointerType === "touch" || event.target.closest("button, a")) return;
      event.preventDefault();
      const { offer: task, technique, side, count } = offer.dataset;
      drag(event, {
        count: Number(count),
        over: offer,
        drop: (now, to) => {
          send(now, "slots", { task, technique, side, seats: names(now, to.held), before: to.before, do: "pencil" }, task);
        },
      });
    });
  }
}

document.addEventListener("keydown", (event) => {
  const typing = event.target.matches("input, textarea, select");
  if (event.key !== "z" || !(event.ctrlKey || event.metaKey) || event.shiftKey || typing) return;
  const undo = document.querySelector("[data-lanes-undo]");
  if (!undo) return;
  event.preventDefault();
  const why = undo.querySelector("select");
  if (why) return why.focus();
  undo.querySelector("button").click();
});

ready();
