// The waveform of one pair. Figures and words come from the server; here they are only drawn.
import uPlot from "../vendor/uplot-1.6.32.esm.js";

let chart = null;
let shown = null;
let asked = 0;

const byId = (id) => document.getElementById(id);
const token = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

// Words stand in the margins of the chart; over the curves nothing is written but the numbers of echoes, when they are asked for.
const MARGIN = { top: 22, right: 92 };

function markers(data) {
  return (plot) => {
    const { ctx, bbox } = plot;
    const ratio = devicePixelRatio;
    const right = bbox.left + bbox.width;
    const inside = (x) => x >= bbox.left && x <= right;
    const stroke = (fromX, fromY, toX, toY) => {
      ctx.beginPath();
      ctx.moveTo(fromX, fromY);
      ctx.lineTo(toX, toY);
      ctx.stroke();
    };
    ctx.save();
    ctx.font = `${11 * ratio}px ${token("--words")}`;
    ctx.lineWidth = ratio;
    ctx.strokeStyle = ctx.fillStyle = token("--muted");
    ctx.setLineDash([2 * ratio, 3 * ratio]);
    ctx.textAlign = "left";
    const across = (volts, word, bound, shift) => {
      const y = plot.valToPos(volts, "y", true);
      if (y < bbox.top || y > bbox.top + bbox.height) return;
      stroke(bbox.left, y, right, y);
      ctx.fillText(word, right + 6 * ratio, y + shift * ratio);
      ctx.fillText(bound, right + 6 * ratio, y + (shift + 12) * ratio);
    };
    // Above the upper line, below the lower one: two lines of words each find room however flat the chart is.
    across(data.dominant, "dominant", `above ${data.dominant} V`, -14);
    across(data.recessive, "recessive", `below ${data.recessive} V`, 12);
    ctx.strokeStyle = ctx.fillStyle = token("--copper");
    ctx.setLineDash([]);
    for (const x of data.sample.map((at) => plot.valToPos(at, "x", true)).filter(inside)) {
      stroke(x, bbox.top - 4 * ratio, x, bbox.top + bbox.height);
      const half = ctx.measureText(data.deadline).width / 2;
      ctx.textAlign = "center";
      ctx.fillText(data.deadline, Math.min(Math.max(x, bbox.left + half), right + MARGIN.right * ratio - half), bbox.top - 8 * ratio);
    }
    if (byId("wave-echoes")?.open) numbers(plot, data);
    ctx.restore();
  };
}

// Echoes that come close together share a label.
function numbers(plot, data) {
  const { ctx, bbox } = plot;
  const ratio = devicePixelRatio;
  ctx.strokeStyle = ctx.fillStyle = token("--ink");
  ctx.textAlign = "left";
  const ticks = data.marks
    .flatMap((mark) => mark.at.map((at) => ({ x: plot.valToPos(at, "x", true), number: mark.number })))
    .filter(({ x }) => x >= bbox.left && x <= bbox.left + bbox.width)
    .sort((one, other) => one.x - other.x);
  const groups = [];
  for (const tick of ticks) {
    const group = groups.at(-1);
    if (group && tick.x - group.at(-1).x < 18 * ratio) group.push(tick);
    else groups.push([tick]);
  }
  const foot = bbox.top + bbox.height;
  for (const group of groups) {
    for (const { x } of group) {
      ctx.beginPath();
      ctx.moveTo(x, foot - 10 * ratio);
      ctx.lineTo(x, foot);
      ctx.stroke();
    }
    const found = group.map(({ number }) => number);
    const words = found.length > 2 ? `${found[0]}…${found.at(-1)}` : found.join(", ");
    ctx.fillText(words, group[0].x, foot - 13 * ratio);
  }
}

// One style of figures for the page: no comma, thin spaces from five digits on, a true minus.
const figure = (value, decimals = 0) =>
  value.toFixed(decimals).replace("-", "\u2212").replace(/\d{5,}/, (digits) => digits.replace(/\B(?=(\d{3})+$)/g, "\u202f"));
const shownWhere = (decimals) => (_, value, series, at) => (at == null || value == null ? "" : figure(value, decimals));

function options(data, width) {
  const grid = { stroke: token("--hairline"), width: 0.5 };
  const axis = { stroke: token("--muted"), font: `11px ${token("--figures")}`, grid, ticks: grid };
  const band = token("--line-1");
  const points = { show: false };
  const value = shownWhere(2);
  const edge = { stroke: "transparent", width: 0, points, value };
  const thin = { stroke: `color-mix(in srgb, ${band} 38%, transparent)`, width: 0.6, points, value, class: "thin" };
  const singles = data.traces.slice(1).map((_, index) => ({ ...thin, label: `vehicle ${index + 1}` }));
  const named = data.traces.length + 4;
  return {
    width,
    height: 320,
    scales: { x: { time: false }, y: { range: (_, low, high) => uPlot.rangeNum(Math.min(low, -0.5), Math.max(high, 2.5), 0.1, true) } },
    padding: [MARGIN.top, MARGIN.right, 0, 0],
    axes: [{ ...axis, values: (_, ticks) => ticks.map((tick) => figure(tick)), label: "ns after the dominant edge", labelFont: `11px ${token("--words")}` },
      { ...axis, values: (_, ticks) => ticks.map((tick) => figure(tick, tick % 1 ? 1 : 0)), label: "V", labelFont: `11px ${token("--words")}` }],
    series: [{ label: "ns", value: shownWhere(0) },
      { ...edge, label: "lowest" }, { ...edge, label: "5 %" }, { ...edge, label: "95 %" }, { ...edge, label: "highest" },
      ...singles,
      { label: data.latest, stroke: token("--broken"), width: 1.3, dash: [5, 3], points, value },
      { label: "typical", stroke: token("--ink"), width: 1.5, points, value }],
    bands: [{ series: [4, 1], fill: `color-mix(in srgb, ${band} 16%, transparent)` },
      { series: [3, 2], fill: `color-mix(in srgb, ${band} 30%, transparent)` }],
    cursor: { drag: { x: true, y: false }, points: { size: (_, at) => (at >= named ? 5 : 0) } },
    hooks: { draw: [markers(data)] },
  };
}

function draw() {
  const box = byId("wave-chart");
  if (!box || !shown) return;
  chart?.destroy();
  const data = shown;
  const columns = [data.time, data.lowest, data.low, data.high, data.highest, ...data.traces, data.typical];
  chart = new uPlot(options(data, Math.max(320, box.clientWidth)), columns, box);
  for (const empty of box.querySelectorAll(".u-legend .u-value")) empty.firstChild.nodeValue = "";
  look();
}

function look() {
  const view = shown?.views[byId("wave-view").selectedIndex];
  if (chart && view) chart.setScale("x", { min: view.from, max: view.to });
}

async function load() {
  const part = byId("wave");
  if (!part) return;
  const sender = byId("wave-sender").value;
  const receiver = byId("wave-receiver").value;
  const words = byId("wave-words");
  const turn = ++asked;
  byId("wave-chart").classList.add("older");
  words.textContent = "Computing what arrives…";
  const asking = new URLSearchParams({ sender, receiver, fault: part.dataset.fault ?? "" });
  const answer = await fetch(`${part.dataset.wave}?${asking}`);
  if (turn !== asked) return;
  if (!answer.ok) {
    words.textContent = "This line cannot be computed yet.";
    return;
  }
  shown = await answer.json();
  const view = byId("wave-view");
  const before = view.dataset.chosen ? view.selectedIndex : shown.view;
  view.replaceChildren(...shown.views.map((one) => new Option(one.title)));
  view.selectedIndex = before;
  const told = byId("signal")?.dataset;
  const latest = byId("wave-latest");
  if (latest) latest.hidden = told?.sender !== sender || told?.receiver !== receiver;
  byId("wave-marks").replaceChildren(...shown.marks.map((mark) => {
    const row = document.createElement("li");
    row.textContent = mark.words;
    return row;
  }));
  byId("wave-chart").classList.remove("older");
  words.textContent = shown.words;
  draw();
}

document.addEventListener("change", (event) => {
  if (event.target.matches("#wave-sender, #wave-receiver")) load();
  if (event.target.matches("#wave-view")) {
    event.target.dataset.chosen = "yes";
    look();
  }
});
// A "toggle" does not bubble.
document.addEventListener("toggle", (event) => {
  if (event.target.id === "wave-echoes") chart?.redraw(false);
}, true);
document.addEventListener("submit", (event) => {
  if (event.target.matches("#wave-form")) event.preventDefault();
});
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-show-wave]");
  if (!button) return;
  byId("wave-sender").value = button.dataset.sender;
  byId("wave-receiver").value = button.dataset.receiver;
  load();
  byId("wave").scrollIntoView({ block: "start" });
});
// What was computed is there, or the vehicle is another one: draw that pair anew.
let last = "";
let judged = byId("signal")?.dataset.judged;
document.addEventListener("htmx:after:swap", () => {
  const told = byId("signal");
  const part = byId("wave");
  if (told && told.dataset.judged !== judged && told.dataset.running === undefined) {
    // The margin tells how the bits came out.
    judged = told.dataset.judged;
    byId("margin")?.dispatchEvent(new Event("revision"));
  }
  if (!told?.dataset.sender || !part || told.dataset.running !== undefined) return;
  const now = `${part.dataset.drawnAt} ${told.dataset.sender}`;
  if (now === last) return;
  last = now;
  byId("wave-sender").value = told.dataset.sender;
  byId("wave-receiver").value = told.dataset.receiver;
  load();
});
let waiting = 0;
addEventListener("resize", () => {
  clearTimeout(waiting);
  waiting = setTimeout(draw, 150);
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
if (byId("signal")?.dataset.sender) load();
