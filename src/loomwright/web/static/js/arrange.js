// When planning has ended, the whole page is told: the table of locks then knows what each lock costs.
import { page } from "./board.js";

let running = document.querySelector("#arrange[data-running]") !== null;

document.addEventListener("htmx:after:swap", () => {
  const runs = document.querySelector("#arrange[data-running]") !== null;
  if (running && !runs) htmx.trigger(page(), "revision", {}, false);
  running = runs;
});
