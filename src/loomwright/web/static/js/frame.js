// The frame around every page: the sheet (a dialog), light and dark, keys.
import "./revision.js";
import "./link.js";

const sheet = document.getElementById("sheet");
let opener = null;

// Whatever is put into the sheet's body opens it; what asked for it gets the focus back.
document.addEventListener("htmx:after:swap", (event) => {
  const inner = document.getElementById("sheet-body");
  const { target } = event.detail.ctx;
  // Hits that come in when something was opened already have nothing to show any more.
  if (sheet.open && (target === "#hits" || target?.id === "hits")) document.getElementById("hits").replaceChildren();
  if ((target !== inner && target !== "#sheet-body") || !inner.childElementCount) return;
  document.getElementById("hits")?.replaceChildren();
  if (!sheet.open) {
    opener = document.activeElement;
    sheet.showModal();
  }
  (inner.querySelector("[autofocus]") ?? sheet).focus();
});

/** Close and empty it at once: an answer that comes in after that must not find anything to show. */
function closeSheet() {
  document.getElementById("sheet-body").replaceChildren();
  sheet.close();
}
sheet.addEventListener("close", () => {
  document.getElementById("sheet-body").replaceChildren();
  const back = opener?.isConnected ? opener : document.getElementById(opener?.id) ?? document.getElementById("page");
  back?.focus();
});
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-close]")) closeSheet();
  if (event.target.closest("[data-print]")) window.print();
});
// After a change from the sheet has been written there is nothing left to decide.
document.addEventListener("htmx:after:request", (event) => {
  const { ctx } = event.detail;
  if (ctx.response.headers.get("Loomwright-Done") && sheet.open) closeSheet();
  const said = ctx.response.headers.get("Loomwright-Said");
  if (said) document.getElementById("said").textContent = decodeURIComponent(said);
});

const dark = window.matchMedia("(prefers-color-scheme: dark)");
document.addEventListener("click", (event) => {
  if (!event.target.closest("[data-theme-toggle]")) return;
  const root = document.documentElement;
  const now = root.dataset.theme ?? (dark.matches ? "dark" : "light");
  root.dataset.theme = now === "dark" ? "light" : "dark";
  document.cookie = `theme=${root.dataset.theme}; path=/; max-age=31536000; SameSite=Strict`;
});

document.addEventListener("keydown", (event) => {
  const typing = event.target.matches?.("input, textarea, select, [contenteditable]");
  const command = event.ctrlKey || event.metaKey;
  if (event.key === "/" && !typing && !command) {
    event.preventDefault();
    document.getElementById("search")?.focus();
  }
  if (command && !typing && event.key.toLowerCase() === "z") {
    event.preventDefault();
    document.getElementById(event.shiftKey ? "redo" : "undo")?.click();
  }
  if (event.target.id === "search" && event.key === "Escape") {
    event.target.value = "";
    document.getElementById("hits").replaceChildren();
  }
  if (event.target.id === "search" && event.key === "Enter") {
    event.preventDefault();
    document.querySelector("#hits a")?.click();
  }
  // Down from the search field into its hits, and along them.
  const hits = [...document.querySelectorAll("#hits a")];
  const at = hits.indexOf(document.activeElement);
  if ((event.target.id === "search" || at >= 0) && ["ArrowDown", "ArrowUp"].includes(event.key) && hits.length) {
    event.preventDefault();
    const next = at + (event.key === "ArrowDown" ? 1 : -1);
    (hits[next] ?? document.getElementById("search")).focus();
  }
});
document.addEventListener("click", (event) => {
  if (!event.target.closest("#finder")) document.getElementById("hits")?.replaceChildren();
});
