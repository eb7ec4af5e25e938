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
