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

/** The elements that show a path or something in it; where none does, those that show the nearest thing around it. */
function showing(path) {
  const all = [...document.querySelectorAll("[data-path]")];
  const inside = all.filter((element) => pathsOf(element).some((own) => within(own, path)));
  const around = all
    .flatMap((element) => pathsOf(element).filter((own) => own !== path && within(path, own)).map((own) => [own.length, element]))
    .sort((a, b) => b[0] - a[0]);
  const nearest = around.filter(([length]) => length === around[0][0]).map(([, element]) => element);
  return [...inside, ...nearest];
}

export function light(paths) {
  for (const element of marked) element.classList.remove("lit");
  marked.clear();
  for (const path of paths) for (const element of showing(path)) marked.add(element);
  for (const element of marked) element.classList.add("lit");
}

let held = [];

/** Keep a selection lit until another one is made; an empty list lets go. */
export function hold(paths) {
  held = paths;
  light(paths);
  const first = paths.length ? [...marked].find((element) => element.closest("#page")) : null;
  first?.scrollIntoView({ block: "nearest", inline: "nearest" });
  document.dispatchEvent(new CustomEvent("loomwright:selected", { detail: { paths } }));
}

const nearestPath = (event) => event.target.closest?.("[data-path]");

document.addEventListener("click", (event) => {
  const element = nearestPath(event);
  if (element) hold(pathsOf(element));
  else if (event.target.closest("#page") && !event.target.closest("a, button, input, select, textarea, summary, form")) hold([]);
});
document.addEventListener("pointerover", (event) => {
  const element = nearestPath(event);
  light(element ? pathsOf(element) : held);
});
document.addEventListener("focusin", (event) => {
  const element = nearestPath(event);
  if (element) light(pathsOf(element));
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && held.length) hold([]);
  if ((event.key === "Enter" || event.key === " ") && event.target.matches?.("[data-path][tabindex]")) {
    event.preventDefault();
    hold(pathsOf(event.target));
  }
});
document.addEventListener("htmx:after:swap", () => light(held));

// An address such as /lines/drive#lines.drive.stations[3] lights that path, for links from the search.
const wanted = decodeURIComponent(window.location.hash.slice(1));
if (wanted) hold([wanted]);
