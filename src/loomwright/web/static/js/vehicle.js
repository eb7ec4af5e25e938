// The vehicle's page: take a component to another place, a place to another spot, add places and runs.
import { Asker, Lens, dragging, inHand, page, reading, shapes, svg, write } from "./board.js";
import "./cells.js";
import { hold } from "./link.js";

export const CATCH_PX = 30; // a component falls to a place that is this near on the screen

const board = () => document.querySelector("[data-board][data-drawing=plan]");
export const handleOf = (target) => target.closest?.("[data-board] [data-handle]");

/** Every place with its spot on the sheet, as it is drawn. */
export function places(plan) {
  return [...plan.querySelectorAll(":scope > g[data-path^='places.'] > circle.place")].map((circle) => ({
    name: circle.parentNode.dataset.path.slice("places.".length),
    x: circle.cx.baseVal.value,
    y: circle.cy.baseVal.value,
  }));
}

export function nearest(spots, point, reach) {
  let found = null;
  for (const spot of spots) {
    const away = Math.hypot(spot.x - point.x, spot.y - point.y);
    if (away < (found?.away ?? reach)) found = { ...spot, away };
  }
  return found;
}

/** The lines of the plan give way to those of a try, and come back. */
export class Wires {
  constructor(plan) {
    this.own = plan.querySelector(":scope > .wires");
    this.now = this.own;
  }

  show(shape) {
    if (this.now !== shape) this.now.replaceWith(shape);
    this.now = shape;
  }

  restore() {
    this.show(this.own);
  }
}

/** A component's card follows the pointer; the nearest place catches it. */
function takeComponent(handle, event) {
  const plan = handle.closest("g.plan");
  const lens = new Lens(plan);
  const wires = new Wires(plan);
  const spots = places(plan);
  const { path, place: home } = handle.dataset;
  const start = lens.at(event);
  const { x, y, width, height } = handle.getBBox();
  const card = handle.cloneNode(true);
  for (const name of ["data-path", "data-handle", "tabindex", "role", "aria-label"]) card.removeAttribute(name);
  const leader = svg("line", { class: "leader" });
  const ring = svg("circle", { class: "target", r: 8, visibility: "hidden" });
  const moving = svg("g", {}, svg("rect", { class: "card", x, y, width, height, rx: 3 }), card);
  const ghost = svg("g", { class: "ghost", "aria-hidden": "true" }, leader, ring, moving);
  plan.append(ghost);
  handle.classList.add("lifted");
  let target = null;
  const asker = new Asker((told) => {
    wires.show(shapes(told.wires));
    reading(told.reading);
  });

  function clear() {
    asker.end();
    lens.close();
    ghost.remove();
    handle.classList.remove("lifted");
    reading();
  }

  return {
    move(at) {
      const point = lens.at(at);
      const [dx, dy] = [point.x - start.x, point.y - start.y];
      moving.setAttribute("transform", `translate(${dx} ${dy})`);
      const found = nearest(spots, point, lens.px(CATCH_PX));
      if (found) {
        leader.setAttribute("x1", found.x);
        leader.setAttribute("y1", found.y);
        leader.setAttribute("x2", x + dx + width / 2);
        leader.setAttribute("y2", y + dy + height / 2);
      }
      if (found?.name === target?.name) return;
      target = found;
      ring.setAttribute("visibility", found ? "visible" : "hidden");
      leader.setAttribute("visibility", found ? "visible" : "hidden");
      if (found) {
        ring.setAttribute("cx", found.x);
        ring.setAttribute("cy", found.y);
      }
      const line = handle.closest("[data-board]").dataset.line ?? "";
      if (found && found.name !== home) asker.ask(`/vehicle/try?${new URLSearchParams({ path, place: found.name, line })}`);
      else {
        asker.forget();
        wires.restore();
        reading();
      }
    },
    async drop() {
      const to = target?.name;
      const written = to && to !== home && (await write("/vehicle/move", { path, place: to }, page()));
      if (!written) wires.restore();
      clear();
    },
    cancel() {
      wires.restore();
      clear();
    },
  };
}

/** A place follows the pointer, and the runs that end there with it. */
function takePlace(handle, event) {
  const plan = handle.closest("g.plan");
  const lens = new Lens(plan);
  const wires = new Wires(plan);
  const { path } = handle.dataset;
  const name = path.slice("places.".length);
  const dots = [...plan.querySelectorAll(`:scope > g[data-path="${CSS.escape(path)}"] > circle`)];
  const [cx, cy] = [dots[0].cx.baseVal.value, dots[0].cy.baseVal.value];
  const starts = [...plan.querySelectorAll(`g[data-from="${CSS.escape(name)}"] > line`)];
  const ends = [...plan.querySelectorAll(`g[data-to="${CSS.escape(name)}"] > line`)];
  const ring = svg("circle", { class: "target", r: 6, cx, cy });
  const ghost = svg("g", { class: "ghost", "aria-hidden": "true" }, ring);
  plan.append(ghost);
  const start = lens.at(event);
  let spot = { x: cx, y: cy };
  const asker = new Asker((told) => {
    wires.show(shapes(told.wires));
    reading(told.reading);
    [ring.cx.baseVal.value, ring.cy.baseVal.value] = told.spot;
  });

  function put(x, y) {
    for (const dot of dots) {
      dot.setAttribute("cx", x);
      dot.setAttribute("cy", y);
    }
    for (const line of starts) {
      line.setAttribute("x1", x);
      line.setAttribute("y1", y);
    }
    for (const line of ends) {
      line.setAttribute("x2", x);
      line.setAttribute("y2", y);
    }
  }

  function clear() {
    asker.end();
    lens.close();
    ghost.remove();
    reading();
  }

  return {
    move(at) {
      const point = lens.at(at);
      spot = { x: cx + point.x - start.x, y: cy + point.y - start.y };
      put(spot.x, spot.y);
      asker.ask(`/vehicle/try?${new URLSearchParams({ path, ...spot })}`);
    },
    async drop() {
      const written = await write("/vehicle/move", { path, ...spot }, page());
      if (!written) {
        wires.restore();
        put(cx, cy);
      }
      clear();
    },
    cancel() {
      wires.restore();
      put(cx, cy);
      clear();
    },
  };
}

/** What takes a handle of each kind in hand; a page may add to it. */
export const takers = { component: takeComponent, place: takePlace };

dragging((target, event) => {
  const grip = target.closest("[data-grip]");
  if (grip) return takers.grip?.(grip, event);
  const handle = handleOf(target) ?? target.closest("[data-board] g[data-x]");
  return handle && !mode ? takers[handle.dataset.handle ?? "station"]?.(handle, event) : null;
});

// Keys: arrows move what has the focus, Enter opens its row, Delete asks whether to take it out.
let waiting = null;
let walking = false;

async function walk() {
  if (walking) return;
  walking = true;
  while (waiting) {
    const step = waiting;
    waiting = null;
    await write("/vehicle/step", step, page());
  }
  walking = false;
}

document.addEventListener("keydown", (event) => {
  const handle = handleOf(event.target);
  if (!handle || event.ctrlKey || event.metaKey || event.altKey) return;
  const { path } = handle.dataset;
  const movable = ["component", "place"].includes(handle.dataset.handle);
  const direction = movable && { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down" }[event.key];
  if (direction) {
    event.preventDefault();
    const fine = event.shiftKey;
    if (waiting && waiting.path === path && waiting.direction === direction && waiting.fine === fine) waiting.times += 1;
    else waiting = { path, direction, fine, times: 1 };
    walk();
  } else if (event.key === "Delete" && handle.dataset.handle !== "termination") {
    event.preventDefault();
    htmx.ajax("GET", `/vehicle/remove?${new URLSearchParams({ path })}`, { source: handle, target: "#sheet-body", swap: "innerHTML" });
  } else if (event.key === "Enter" && !mode) openRow(path, true);
});

/** Show the table and the row of a path; `enter` puts the cursor into it. */
export function openRow(path, enter = false) {
  const all = [...document.querySelectorAll(".panel [data-path], [data-rows] [data-path]")];
  const item = all.find((one) => one.dataset.path === path) ?? all.find((one) => one.dataset.also === path);
  const row = item?.closest("tr, .panel > section");
  if (!row) return;
  const panel = row.closest(".panel");
  if (panel) showIn(panel, row);
  if (enter) row.querySelector("input:not([type=hidden]), select, button")?.focus();
}

function showIn(panel, row) {
  document.getElementById(`show-${panel.dataset.panel}`).checked = true;
  const head = panel.querySelector("thead")?.offsetHeight ?? 0;
  const [top, bottom] = [row.offsetTop - head, row.offsetTop + row.offsetHeight];
  if (top < panel.scrollTop || bottom > panel.scrollTop + panel.clientHeight) panel.scrollTop = top - head / 2;
}

document.addEventListener("loomwright:selected", (event) => {
  for (const path of event.detail.paths) openRow(path);
});

// What was just added is selected, and its row is opened to be filled in.
let made = "";
document.addEventListener("htmx:after:request", (event) => {
  made = event.detail.ctx.response?.headers.get("Loomwright-Made") || made;
});
document.addEventListener("htmx:after:swap", () => {
  const path = made;
  if (!path || !document.querySelector(`.panel [data-path="${CSS.escape(path)}"]`)) return;
  made = "";
  hold([path]);
  openRow(path, true);
});

// Adding with the pointer: a click for a place, two for a run.
let mode = "";
let first = null;
let rubber = null;

function setMode(wanted) {
  mode = wanted;
  first = null;
  rubber?.remove();
  rubber = null;
  board()?.classList.toggle("adding", mode !== "");
  for (const button of document.querySelectorAll("[data-mode]")) {
    button.setAttribute("aria-pressed", String(button.dataset.mode === mode));
  }
  const hint = document.querySelector("[data-hint]");
  hint.dataset.usual ??= hint.textContent;
  hint.textContent = { place: hint.dataset.hintPlace, run: hint.dataset.hintRun }[mode] ?? hint.dataset.usual;
}

function choose(handle) {
  const name = handle.dataset.path.slice("places.".length);
  if (!first) {
    const plan = handle.closest("g.plan");
    const spot = places(plan).find((item) => item.name === name);
    first = { name, ...spot };
    rubber = svg("line", { class: "rubber", x1: spot.x, y1: spot.y, x2: spot.x, y2: spot.y });
    plan.append(rubber);
    return;
  }
  const start = first.name;
  setMode("");
  if (start !== name) write("/vehicle/run", { start, end: name }, page());
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-mode]");
  if (button) {
    setMode(button.dataset.mode === mode ? "" : button.dataset.mode);
    return;
  }
  if (!mode || !event.target.closest("[data-board]") || inHand()) return;
  event.stopPropagation();
  if (mode === "run") {
    const place = event.target.closest("[data-handle=place]");
    if (place) choose(place);
    return;
  }
  const lens = new Lens(board().querySelector("g.plan"));
  const { x, y } = lens.at(event);
  lens.close();
  setMode("");
  write("/vehicle/place", { x, y }, page());
}, { capture: true });
document.addEventListener("pointermove", (event) => {
  if (!rubber) return;
  const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(rubber.getScreenCTM().inverse());
  rubber.setAttribute("x2", x);
  rubber.setAttribute("y2", y);
});
document.addEventListener("keydown", (event) => {
  if (!mode) return;
  if (event.key === "Escape") setMode("");
  const handle = handleOf(event.target);
  if (mode === "run" && event.key === "Enter" && handle?.dataset.handle === "place") {
    event.preventDefault();
    event.stopImmediatePropagation();
    choose(handle);
  }
}, { capture: true });
// A drawing that came anew knows nothing of a mode; keep the page as it was left.
document.addEventListener("htmx:after:swap", () => {
  if (mode) setMode(mode);
});

// An address such as /vehicle#runs.dash_console opens that row.
const wanted = decodeURIComponent(window.location.hash.slice(1));
if (wanted) openRow(wanted);
