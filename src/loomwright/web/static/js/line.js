// The page of one line: take a stop along the ruler or through the table, a branch to another place, switch terminations.
import { Asker, Lens, inHand, page, reading, shapes, svg, write } from "./board.js";
import { CATCH_PX, Wires, handleOf, nearest, openRow, places, takers } from "./vehicle.js";

const figureOf = (drawing) => document.querySelector(`[data-board][data-drawing=${drawing}]`);
const lineName = () => figureOf("plan").dataset.line;

/** Ruler and plan as they would be; both come back when nothing is written. */
class Preview {
  constructor(index) {
    const plan = figureOf("plan").querySelector("g.plan");
    this.index = index;
    this.wires = new Wires(plan);
    this.figure = figureOf("ruler");
    this.own = this.figure?.querySelector("svg");
    this.over = [];
    this.asker = new Asker((told) => {
      this.wires.show(shapes(told.wires));
      if (told.ruler && this.figure) this.ruler(shapes(told.ruler));
      reading(told.reading);
    });
  }

  /** Keep a shape on top of whatever ruler is shown. */
  keep(shape) {
    this.over.push(shape);
    this.figure.querySelector("svg").append(shape);
  }

  ruler(drawn) {
    this.figure.querySelector("svg").replaceWith(drawn);
    drawn.append(...this.over);
    // The new ruler tells the name where it would stand.
    for (const shape of this.over) shape.classList.toggle("bare", drawn !== this.own);
  }

  ask(fields) {
    const without = this.figure?.dataset.without ?? "";
    this.asker.ask(`/lines/${encodeURIComponent(lineName())}/try?${new URLSearchParams({ index: this.index, without, ...fields })}`);
  }

  restore() {
    this.asker.forget();
    this.wires.restore();
    if (this.own) this.ruler(this.own);
    reading();
  }

  end() {
    this.asker.end();
    for (const shape of this.over) shape.remove();
    reading();
  }
}

/** Where in the order something lies: how many of the others' middles are before it. */
const rankOf = (others, value) => others.filter((other) => other < value).length;

/** A stop's name is pulled along the ruler. */
function takeStation(handle, event) {
  const index = Number(handle.dataset.index);
  const drawn = handle.ownerSVGElement;
  const lens = new Lens(drawn);
  const start = lens.at(event);
  const rings = [...drawn.querySelectorAll("g[data-x]")];
  const others = rings.filter((ring) => Number(ring.dataset.index) !== index).map((ring) => Number(ring.dataset.x));
  const own = rings.find((ring) => Number(ring.dataset.index) === index);
  const label = drawn.querySelector(`g.label[data-index="${index}"]`);
  const preview = new Preview(index);
  const copies = [own, label].map((shape) => shape.cloneNode(true));
  const ghost = svg("g", { class: "ghost", "aria-hidden": "true" }, ...copies);
  for (const shape of ghost.querySelectorAll("[tabindex], [data-path]")) {
    for (const name of ["data-path", "data-handle", "data-index", "data-x", "tabindex", "role", "aria-label"]) shape.removeAttribute(name);
  }
  preview.keep(ghost);
  for (const shape of [own, label]) shape.classList.add("lifted");
  let to = index;

  function clear() {
    lens.close();
    preview.end();
    for (const shape of [own, label]) shape.classList.remove("lifted");
  }

  return {
    move(at) {
      const point = lens.at(at);
      ghost.setAttribute("transform", `translate(${point.x - start.x} 0)`);
      const wanted = rankOf(others, Number(own.dataset.x) + point.x - start.x);
      if (wanted === to) return;
      to = wanted;
      if (to === index) {
        preview.restore();
        preview.keep(ghost);
      } else preview.ask({ to });
    },
    async drop() {
      const written = to !== index && (await write("/edit/station/move", { line: lineName(), index, to }, page()));
      if (!written) preview.restore();
      clear();
    },
    cancel() {
      preview.restore();
      clear();
    },
  };
}

/** A stop's branch is taken to leave the trunk at another place. */
function takeStop(handle, event) {
  const plan = handle.closest("g.plan");
  const index = Number(/\[(\d+)\]$/.exec(handle.dataset.path)[1]);
  const home = handle.dataset.place;
  const lens = new Lens(plan);
  const preview = new Preview(index);
  const spots = places(plan);
  const ring = svg("circle", { class: "target", r: 7, visibility: "hidden" });
  const dot = svg("circle", { class: "target", r: 4 });
  const ghost = svg("g", { class: "ghost", "aria-hidden": "true" }, ring, dot);
  plan.append(ghost);
  let target = null;

  function clear() {
    lens.close();
    preview.end();
    ghost.remove();
  }

  return {
    move(at) {
      const point = lens.at(at);
      dot.setAttribute("cx", point.x);
      dot.setAttribute("cy", point.y);
      const found = nearest(spots, point, lens.px(CATCH_PX));
      if (found?.name === target?.name) return;
      target = found;
      ring.setAttribute("visibility", found ? "visible" : "hidden");
      if (found) {
        ring.setAttribute("cx", found.x);
        ring.setAttribute("cy", found.y);
      }
      if (found && found.name !== home) preview.ask({ at: found.name });
      else preview.restore();
    },
    async drop() {
      const at = target?.name;
      const written = at && at !== home && (await write("/edit/station/at", { line: lineName(), index, at }, page()));
      if (!written) preview.restore();
      clear();
    },
    cancel() {
      preview.restore();
      clear();
    },
  };
}

/** A row is pulled through the table. */
function takeRow(grip, event) {
  const row = grip.closest("tr");
  const rows = [...row.parentNode.children];
  const index = Number(row.dataset.row);
  const preview = new Preview(index);
  const middles = rows.filter((other) => other !== row).map((other) => {
    const { top, height } = other.getBoundingClientRect();
    return top + height / 2 + window.scrollY;
  });
  const box = row.getBoundingClientRect();
  const own = box.top + box.height / 2 + window.scrollY;
  const start = event.clientY + window.scrollY;
  row.classList.add("moved");
  let to = index;

  function mark() {
    for (const other of rows) other.classList.remove("before", "after");
    if (to < index) rows[to].classList.add("before");
    if (to > index) rows[to].classList.add("after");
  }

  function clear() {
    preview.end();
    row.classList.remove("moved");
    row.style.transform = "";
    to = index;
    mark();
  }

  return {
    move(at) {
      const dy = at.clientY + window.scrollY - start;
      row.style.transform = `translateY(${dy}px)`;
      const wanted = rankOf(middles, own + dy);
      if (wanted === to) return;
      to = wanted;
      mark();
      if (to === index) preview.restore();
      else preview.ask({ to });
    },
    async drop() {
      const written = to !== index && (await write("/edit/station/move", { line: lineName(), index, to }, page()));
      if (!written) preview.restore();
      clear();
    },
    cancel() {
      preview.restore();
      clear();
    },
  };
}

takers.station = takeStation;
takers.stop = takeStop;
takers.grip = takeRow;

async function moveBy(index, step, count) {
  const to = index + step;
  if (to < 0 || to >= count || inHand()) return null;
  return (await write("/edit/station/move", { line: lineName(), index, to }, page())) ? to : null;
}

const count = () => document.querySelectorAll("tr[data-row]").length;

function switchTermination(handle) {
  if (inHand()) return;
  write("/edit/station/terminated", { line: lineName(), index: handle.dataset.index, on: handle.dataset.to }, page());
}

document.addEventListener("click", (event) => {
  const handle = handleOf(event.target);
  if (handle?.dataset.handle === "termination") switchTermination(handle);
});

document.addEventListener("keydown", async (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const grip = event.target.closest?.("[data-grip]");
  const handle = handleOf(event.target);
  if (handle?.dataset.handle === "termination" && (event.key === "Enter" || event.key === " ")) {
    event.preventDefault();
    switchTermination(handle);
    return;
  }
  const ahead = { ArrowUp: -1, ArrowLeft: -1, ArrowDown: 1, ArrowRight: 1 }[event.key];
  if (!ahead || (!grip && handle?.dataset.handle !== "station")) return;
  event.preventDefault();
  const index = Number(grip ? grip.dataset.grip : handle.dataset.index);
  const to = await moveBy(index, ahead, count());
  if (to === null) return;
  // The focus goes along with what was moved.
  const there = grip ? `[data-grip="${to}"]` : `[data-drawing=ruler] [data-handle=station][data-index="${to}"]`;
  document.querySelector(there)?.focus({ preventScroll: true });
});

document.addEventListener("loomwright:selected", (event) => {
  for (const path of event.detail.paths) openRow(path);
});
