// A drawing to work on. Shapes move with the pointer here; every figure and every line comes from the server, which is
// asked what a drop would do (at most one question is on its way) and told when something is dropped.
import { post } from "./change.js";

const THRESHOLD_PX = 4;
const PAUSE_MS = 40;

export const page = () => document.getElementById("page");

/** Asks for the newest thing only: what came up meanwhile and is overtaken is never sent. */
export class Asker {
  constructor(take) {
    this.take = take;
    this.wanted = null;
    this.timer = 0;
    this.stop = null;
    this.ended = false;
  }

  ask(address) {
    this.wanted = address;
    if (!this.timer && !this.stop) this.timer = setTimeout(() => this.#send(), PAUSE_MS);
  }

  forget() {
    this.wanted = null;
    this.stop?.abort();
  }

  end() {
    this.ended = true;
    clearTimeout(this.timer);
    this.forget();
  }

  async #send() {
    this.timer = 0;
    const address = this.wanted;
    this.wanted = null;
    if (!address || this.ended) return;
    const stop = new AbortController();
    this.stop = stop;
    try {
      const answer = await fetch(address, { signal: stop.signal, headers: { Accept: "application/json" } });
      if (answer.ok) {
        const told = await answer.json();
        if (!this.ended && !stop.signal.aborted) this.take(told);
      }
    } catch (error) {
      if (error.name !== "AbortError") this.wanted = null;
    } finally {
      this.stop = null;
      if (this.wanted && !this.ended) this.#send();
    }
  }
}

/** Where the pointer is on the sheet of a drawing: in the coordinates in which its shapes are told. */
export class Lens {
  constructor(shape) {
    this.shape = shape;
    this.look = () => { this.matrix = shape.getScreenCTM().inverse(); };
    this.look();
    window.addEventListener("scroll", this.look, { passive: true, capture: true });
    window.addEventListener("resize", this.look);
  }

  at(event) {
    return new DOMPoint(event.clientX, event.clientY).matrixTransform(this.matrix);
  }

  /** Sheet pixels of so many pixels on the screen. */
  px(screen) {
    return screen * this.matrix.a;
  }

  close() {
    window.removeEventListener("scroll", this.look, { capture: true });
    window.removeEventListener("resize", this.look);
  }
}

let held = null; // what is dragged now: { move(event), drop(), cancel() }
let settling = false; // a drop was written and the page does not show it yet

/** Whether something is in hand, or has just been dropped. */
export const inHand = () => held !== null || settling;

/** Let `begin(target, event)` take things in hand: it returns { move, drop, cancel }, or nothing. */
export function dragging(begin) {
  let pressed = null;
  let frame = 0;
  let last = null;
  let board = null;

  function end(dropped) {
    pressed = null;
    if (!held) return;
    cancelAnimationFrame(frame);
    frame = 0;
    const thing = held;
    held = null;
    board?.classList.remove("moving");
    delete page().dataset.busy;
    if (dropped) {
      thing.move(last);
      thing.drop();
    } else {
      thing.cancel();
      document.dispatchEvent(new CustomEvent("loomwright:idle"));
    }
    // The click that ends a drag selects nothing.
    const swallow = (event) => event.stopPropagation();
    window.addEventListener("click", swallow, { capture: true, once: true });
    setTimeout(() => window.removeEventListener("click", swallow, { capture: true }), 50);
  }

  document.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || !event.isPrimary || inHand()) return;
    pressed = { x: event.clientX, y: event.clientY, target: event.target };
  });
  document.addEventListener("pointermove", (event) => {
    if (!pressed) return;
    last = event;
    if (!held) {
      if (Math.hypot(event.clientX - pressed.x, event.clientY - pressed.y) < THRESHOLD_PX) return;
      held = begin(pressed.target, { clientX: pressed.x, clientY: pressed.y }) ?? null;
      if (!held) {
        pressed = null;
        return;
      }
      page().dataset.busy = "";
      board = pressed.target.closest("[data-board]");
      board?.classList.add("moving");
      getSelection()?.removeAllRanges();
    }
    frame ||= requestAnimationFrame(() => {
      frame = 0;
      held?.move(last);
    });
  });
  document.addEventListener("pointerup", () => end(true));
  document.addEventListener("pointercancel", () => end(false));
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && held) {
      event.preventDefault();
      event.stopImmediatePropagation();
      end(false);
    }
  }, { capture: true });
}

/** Whether the page shows the state that the server told last. */
export const upToDate = () => page()?.dataset.state === document.body.dataset.state;

/** Resolves when the page is up to date, or after a while. */
function shown() {
  return new Promise((resolve) => {
    const done = () => {
      document.removeEventListener("htmx:after:swap", look);
      clearTimeout(patience);
      resolve();
    };
    const look = () => { if (upToDate()) done(); };
    const patience = setTimeout(done, 4000);
    document.addEventListener("htmx:after:swap", look);
    look();
  });
}

/** Write a change and wait until the page shows it. True when something was written. */
export async function write(address, fields, element) {
  const before = document.body.dataset.state;
  settling = true;
  try {
    await post(address, fields, element).catch(() => {}); // a server that is gone is told in the frame
    document.dispatchEvent(new CustomEvent("loomwright:idle"));
    if (document.body.dataset.state === before) return false;
    await shown();
    return true;
  } finally {
    settling = false;
  }
}

/** What a move would do, in words and figures, at the foot of the page. */
export function reading(html) {
  const place = document.getElementById("reading");
  if (place) place.innerHTML = html ?? "";
}

export function svg(name, attributes = {}, ...inside) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}

/** Shapes of a text that the server drew. */
export function shapes(text) {
  const holder = svg("svg");
  holder.innerHTML = text;
  return holder.firstElementChild;
}

// Focus stays on the same thing when the drawing is drawn anew, wherever its shape went.
let focused = null;
document.addEventListener("focusin", (event) => {
  const handle = event.target.closest?.("[data-board] [data-handle]");
  focused = handle ? { path: handle.dataset.path, kind: handle.dataset.handle, board: handle.closest("[data-board]").dataset.drawing } : null;
});
document.addEventListener("pointerdown", (event) => {
  if (!event.target.closest("[data-handle]")) focused = null;
});
document.addEventListener("htmx:after:swap", () => {
  if (!focused || document.getElementById("sheet")?.open) return;
  const wanted = `[data-board][data-drawing="${focused.board}"] [data-handle="${focused.kind}"][data-path="${CSS.escape(focused.path)}"]`;
  const handle = document.querySelector(wanted);
  if (handle && handle !== document.activeElement) handle.focus({ preventScroll: true });
});
