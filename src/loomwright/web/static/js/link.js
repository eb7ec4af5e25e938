// A shape, its row and its findings are one thing: pointing at one lights the others.
// data-path says what an element shows, data-also (words apart) what else it speaks of.

const marked = new Set();

function pathsOf(element) {
  return [element.dataset.path, ...(element.dataset.also ?? "").split(" ")].filter(Boolean);
}

/** Whether `inner` is `outer` or lies in it: lines.drive.stations[3] lies in lines.drive. */
function within(inner, outer) {
  return inner === outer || (inner.startsWith(outer) && (inner[outer.length] === "." || inner[outer.length] === "["));
}

/**
 * The elements that show a path: those that show just it; where there is no other than `from`, those that show a part of
 * it; where there is none either, those that show the nearest thing around it. A shape or row has its findings lit as
 * well, those about parts of it too.
 */
function showing(path, from) {
  const found = shown(path, from);
  if (from?.closest(".finding")) return found;
  const findings = [...document.querySelectorAll(".finding[data-path]")];
  return [...found, ...findings.filter((element) => pathsOf(element).some((own) => within(own, path)))];
}

function shown(path, from) {
  const all = [...document.querySelectorAll("[data-path]")].map((element) => [element, pathsOf(element)]);
  const those = (test) => all.filter(([, own]) => own.some(test)).map(([element]) => element);
  const other = (elements) => elements.some((element) => element !== from && !from?.contains(element));
  const same = those((own) => own === path);
  if (other(same)) return same;
  const inside = those((own) => within(own, path));
  if (other(inside)) return inside;
  const lengths = all.flatMap(([, own]) => own.filter((around) => within(path, around)).map((around) => around.length));
  const nearest = Math.max(0, ...lengths.filter((length) => length < path.length));
  return [...same, ...those((around) => around.length === nearest && within(path, around))];
}

/** Light up what shows the paths; `from` is the element that was pointed at. */
export function light(paths, from = null) {
  for (const element of marked) element.classList.remove("lit");
  marked.clear();
  for (const path of paths) for (const element of showing(path, from)) marked.add(element);
  if (from) marked.add(from);
  for (const element of marked) element.classList.add("lit");
}

let held = [];
let holder = null;

function seen(element) {
  const { top, bottom } = element.getBoundingClientRect();
  return bottom > 0 && top < window.innerHeight;
}

/** Keep a selection lit until another one is made; an empty list lets go. */
export function hold(paths, from = null) {
  held = paths;
  holder = from;
  light(paths, from);
  const here = paths.length ? [...marked].filter((element) => element.closest("#page")) : [];
  if (!here.some(seen)) here[0]?.scrollIntoView({ block: "center", inline: "nearest" });
  document.dispatchEvent(new CustomEvent("loomwright:selected", { detail: { paths } }));
}

const nearestPath = (event) => event.target.closest?.("[data-path]");

document.addEventListener("click", (event) => {
  const element = nearestPath(event);
  if (element) hold(pathsOf(element), element);
  else if (event.target.closest("#page") && !event.target.closest("a, button, input, select, textarea, summary, form")) hold([]);
});
document.addEventListener("pointerover", (event) => {
  const element = nearestPath(event);
  if (element) light(pathsOf(element), element);
  else light(held, holder);
});
document.addEventListener("focusin", (event) => {
  const element = nearestPath(event);
  if (element) light(pathsOf(element), element);
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && held.length) hold([]);
  if ((event.key === "Enter" || event.key === " ") && event.target.matches?.("[data-path][tabindex]")) {
    event.preventDefault();
    hold(pathsOf(event.target), event.target);
  }
});
document.addEventListener("htmx:after:swap", () => light(held, holder?.isConnected ? holder : null));

// An address such as /lines/drive#lines.drive.stations[3] lights that path, for links from the search.
const wanted = decodeURIComponent(window.location.hash.slice(1));
if (wanted) hold([wanted]);
