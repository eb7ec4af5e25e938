// Values typed into a table. The server reads the words; a refusal comes back as the cell with the reason.
import { upToDate } from "./board.js";

function fields(control) {
  const { cell: path, unit = "" } = control.dataset;
  return { path, words: control.value, unit, label: control.getAttribute("aria-label"), names: control.getAttribute("list") ?? "" };
}

document.addEventListener("change", (event) => {
  const control = event.target.closest?.("[data-cell]");
  if (!control || control.value === control.defaultValue) return;
  htmx.ajax("POST", "/vehicle/cell", {
    values: fields(control), source: control, target: control.closest("[data-cell-box]"), swap: "innerHTML",
  });
});

// A choice that is shown anew, after an undo for example, is the one that the markup says.
document.addEventListener("htmx:after:swap", () => {
  if (!upToDate()) return;
  for (const control of document.querySelectorAll("select[data-cell], .own-field select, .fact-row select, #without")) {
    const said = [...control.options].find((option) => option.defaultSelected) ?? control.options[0];
    if (said && !said.selected) said.selected = true;
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
