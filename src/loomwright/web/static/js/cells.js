// Values typed into a table. The server reads the words; a refusal comes back as the cell with the reason.
import { upToDate } from "./board.js";

const understood = new WeakMap(); // what was sent from a field, until the page shows how the server writes it

function fields(control) {
  const { cell: path, unit = "" } = control.dataset;
  return { path, words: control.value, unit, label: control.getAttribute("aria-label"), names: control.getAttribute("list") ?? "" };
}

document.addEventListener("change", (event) => {
  const control = event.target.closest?.("[data-cell]");
  if (!control || control.value === control.defaultValue) return;
  understood.set(control, control.value);
  if ("defaultValue" in control) control.defaultValue = control.value; // nobody is typing here any more
  htmx.ajax("POST", "/vehicle/cell", {
    values: fields(control), source: control, target: control.closest("[data-cell-box]"), swap: "innerHTML",
  });
});

// What was typed and understood gives way to how the server writes it, also in the field that has the focus.
document.addEventListener("htmx:after:swap", () => {
  if (!upToDate()) return;
  for (const control of document.querySelectorAll("[data-cell]")) {
    if (control instanceof HTMLSelectElement) {
      const said = [...control.options].find((option) => option.defaultSelected) ?? control.options[0];
      if (said && !said.selected) said.selected = true;
    } else if (understood.has(control)) {
      if (control.value === understood.get(control)) control.value = control.defaultValue;
      understood.delete(control);
    }
  }
});

document.addEventListener("keydown", (event) => {
  const control = event.target.closest?.("input[data-cell], textarea[data-cell]");
  if (control && event.key === "Enter") {
    event.preventDefault();
    control.dispatchEvent(new Event("change", { bubbles: true }));
  }
  if (control && event.key === "Escape") {
    event.stopPropagation();
    control.value = control.defaultValue;
    control.blur();
  }
});
