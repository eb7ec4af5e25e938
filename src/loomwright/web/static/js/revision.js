// Keeps the page on the project's revision. The server says "something is new"; every part of the page that is not
// being worked on asks for itself anew. A part is an element with data-part: it carries hx-get, hx-trigger="revision".

const body = document.body;
let shown = body.dataset.state ?? "";

/** Whether somebody is typing or dragging in a part: it then keeps what it shows until that is done. */
function atWork(part) {
  if (part.dataset.busy !== undefined || part.querySelector("[data-busy]")) return true;
  const field = document.activeElement;
  if (!field || !part.contains(field) || !("defaultValue" in field)) return false;
  return field.type !== "search" && field.value !== field.defaultValue;
}

function refresh() {
  for (const part of document.querySelectorAll("[data-part]")) {
    if (part.dataset.state === shown) continue;
    if (atWork(part)) part.dataset.waiting = "";
    else htmx.trigger(part, "revision", {}, false);
  }
}

/** Called with the state that the server is in now; asks for the parts that show another one. */
export function announce(state) {
  if (!state || state === shown) return;
  shown = state;
  body.dataset.state = state;
  refresh();
}

// Parts that waited are asked for as soon as nobody works in them any more.
function waited() {
  if (!document.querySelector("[data-waiting]")) return;
  for (const part of document.querySelectorAll("[data-waiting]")) if (!atWork(part)) delete part.dataset.waiting;
  refresh();
}
for (const name of ["focusout", "loomwright:idle"]) document.addEventListener(name, () => setTimeout(waited));

// Words that were written are not being typed any more, though the cursor is still in them; the page shows them as the
// server writes them.
const sent = new WeakMap();
let clean = null;

function written(source) {
  const field = document.activeElement;
  if (!field || !source.contains(field) || !("defaultValue" in field) || field.value !== sent.get(field)) return;
  field.defaultValue = field.value;
  waited();
}

document.addEventListener("htmx:before:request", () => {
  const field = document.activeElement;
  if (field && "defaultValue" in field) sent.set(field, field.value);
});
document.addEventListener("htmx:before:swap", () => {
  const field = document.activeElement;
  clean = field && "defaultValue" in field && field.value === field.defaultValue ? field : null;
});
document.addEventListener("htmx:after:swap", () => {
  if (clean?.isConnected && clean.value !== clean.defaultValue) clean.value = clean.defaultValue;
});

// Every request tells which revision its author saw: that of the part it comes from, read just before it is sent.
document.addEventListener("htmx:before:request", (event) => {
  const { ctx } = event.detail;
  const part = ctx.sourceElement.closest("[data-revision]") ?? body;
  ctx.request.headers["Loomwright-Revision"] = ctx.sourceElement.dataset.base ?? part.dataset.revision ?? "";
});

// Every answer to a change tells the state that it made.
document.addEventListener("htmx:after:request", (event) => {
  const { ctx } = event.detail;
  if (ctx.request.method === "GET") return;
  announce(ctx.response.headers.get("Loomwright-State"));
  if (ctx.response.headers.get("Loomwright-Done")) written(ctx.sourceElement);
});

if (body.dataset.state) {
  const events = new EventSource("/events");
  events.addEventListener("state", (event) => announce(event.data));
  events.addEventListener("gone", () => window.location.assign("/"));
  events.onerror = () => body.toggleAttribute("data-alone", true);
  events.onopen = () => body.toggleAttribute("data-alone", false);
  window.addEventListener("pagehide", () => events.close());
}
