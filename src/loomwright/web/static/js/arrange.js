// When planning has ended, or its plan was put away, the whole page is told: the table of locks knows what each lock costs.
// The forms of the planning replace a page that is still on its way (hx-sync), which would show the plan as it was.
import { page } from "./board.js";

let running = document.querySelector("#arrange[data-running]") !== null;

document.addEventListener("htmx:after:swap", (event) => {
  const runs = document.querySelector("#arrange[data-running]") !== null;
  const answered = event.detail.ctx?.sourceElement?.matches?.("#arrange form") ?? false;
  if ((running || answered) && !runs) htmx.trigger(page(), "revision", {}, false);
  running = runs;
});
