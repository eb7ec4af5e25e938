// The table of messages and components: a row leads to its message; up and down go from message to message.
const rowsOf = (table) => [...table.querySelectorAll("tbody th[scope=row] a")];

document.addEventListener("click", (event) => {
  const row = event.target.closest?.("table[data-goes] tbody tr");
  if (!row || event.target.closest("a, button") || window.getSelection()?.toString()) return;
  row.querySelector("th a")?.click();
});

document.addEventListener("keydown", (event) => {
  const table = event.target.closest?.("table[data-goes]");
  if (!table || !["ArrowUp", "ArrowDown", "Home", "End"].includes(event.key)) return;
  const links = rowsOf(table);
  const at = links.indexOf(event.target);
  if (at < 0) return;
  event.preventDefault();
  const next = { ArrowUp: at - 1, ArrowDown: at + 1, Home: 0, End: links.length - 1 }[event.key];
  links[next]?.focus();
});

// What scrolls says to which side there is more; style sheets fade that edge and show the words before it.
const scrollers = ".scroll, figure.drawing";

function measure(box) {
  const left = box.scrollLeft > 1;
  const right = box.scrollLeft + box.clientWidth < box.scrollWidth - 1;
  const more = [left && "left", right && "right"].filter(Boolean).join(" ");
  if (more) box.dataset.more = more;
  else delete box.dataset.more;
}
const measureAll = () => document.querySelectorAll(scrollers).forEach(measure);

document.addEventListener("scroll", (event) => {
  if (event.target.matches?.(scrollers)) measure(event.target);
}, { passive: true, capture: true });
document.addEventListener("toggle", measureAll, { capture: true });
document.addEventListener("htmx:after:swap", measureAll);
window.addEventListener("resize", measureAll);
document.fonts.ready.then(measureAll);
measureAll();
