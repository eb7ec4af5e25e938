// The waveform of one pair. Figures and words come from the server; here they are only drawn.
import uPlot from "../vendor/uplot-1.6.32.esm.js";

let chart = null;
let shown = null;
let asked = 0;

const byId = (id) => document.getElementById(id);
const token = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

function markers(data) {
  return (plot) => {
    const { ctx, bbox } = plot;
    const ratio = devicePixelRatio;
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    ctx.font = `${11 * ratio}px ${token("--words")}`;
    ctx.lineWidth = ratio;
    // Words keep their ground, for many lines run behind them.
    const written = (words, x, y) => {
      const ink = ctx.fillStyle;
      const wide = ctx.measureText(words).width;
      ctx.fillStyle = `color-mix(in srgb, ${token("--paper")} 82%, transparent)`;
      ctx.fillRect(ctx.textAlign === "center" ? x - wide / 2 : x - wide, y - 9 * ratio, wide, 11 * ratio);
      ctx.fillStyle = ink;
      ctx.fillText(words, x, y);
    };
    const across = (volts, words, below) => {
      const y = plot.valToPos(volts, "y", true);
      ctx.beginPath();
      ctx.moveTo(bbox.left, y);
      ctx.lineTo(bbox.left + bbox.width, y);
      ctx.stroke();
      ctx.textAlign = "right";
      written(words, bbox.left + bbox.width - 4 * ratio, y + (below ? 12 : -4) * ratio);
    };
    ctx.strokeStyle = ctx.fillStyle = token("--muted");
    ctx.setLineDash([2 * ratio, 3 * ratio]);
    across(data.dominant, `dominant above ${data.dominant} V`);
    across(data.recessive, `recessive below ${data.recessive} V`, true);
    ctx.strokeStyle = ctx.fillStyle = token("--copper");
    ctx.setLineDash([]);
    for (const at of data.sample) {
      const x = plot.valToPos(at, "x", true);
      ctx.beginPath();
      ctx.moveTo(x, bbox.top);
      ctx.lineTo(x, bbox.top + bbox.height);
      ctx.stroke();
      written("sampled", x - 4 * ratio, bbox.top + 12 * ratio);
    }
    ctx.strokeStyle = ctx.fillStyle = token("--ink");
    ctx.textAlign = "center";
    const ticks = data.marks.flatMap((mark) => mark.at.map((at) => ({ x: plot.valToPos(at, "x", true), number: mark.number })));
    const rows = data.marks.map(() => -1e9);
    for (const { x, number } of ticks.sort((one, other) => one.x - other.x)) {
      const row = Math.max(0, rows.findIndex((last) => x - last > 18 * ratio));
      rows[row] = x;
      const foot = bbox.top + bbox.height - (4 + 12 * row) * ratio;
      ctx.beginPath();
      ctx.moveTo(x, foot - 12 * ratio);
      ctx.lineTo(x, foot - 2 * ratio);
      ctx.stroke();
      written(String(number), x + 7 * ratio, foot - 3 * ratio);
    }
    ctx.restore();
  };
}

function options(data, width) {
  const grid = { stroke: token("--hairline"), width: 0.5 };
  const axis = { stroke: token("--muted"), font: `11px ${token("--figures")}`, grid, ticks: grid };
  const band = token("--line-1");
  const points = { show: false };
  const edge = { stroke: "transparent", width: 0, points };
  const thin = { stroke: `color-mix(in srgb, ${band} 38%, transparent)`, width: 0.6, points, class: "thin" };
  const singles = data.traces.slice(1).map((_, index) => ({ ...thin, label: `vehicle ${index + 1}` }));
  const named = data.traces.length + 4;
  return {
    width,
    height: 320,
    scales: { x: { time: false }, y: { range: (_, low, high) => uPlot.rangeNum(Math.min(low, -0.5), Math.max(high, 2.5), 0.1, true) } },
    axes: [{ ...axis, label: "ns after the dominant edge", labelFont: `11px ${token("--words")}` },
      { ...axis, label: "V", labelFont: `11px ${token("--words")}` }],
    series: [{ label: "ns" },
      { ...edge, label: "lowest" }, { ...edge, label: "5 %" }, { ...edge, label: "95 %" }, { ...edge, label: "highest" },
      ...singles,
      { label: data.latest, stroke: token("--broken"), width: 1.3, dash: [5, 3], points },
      { label: "typical", stroke: token("--ink"), width: 1.5, points }],
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
  if (sender === receiver) {
    words.textContent = "Choose a receiver other than the sender.";
    return;
  }
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
  const before = view.selectedIndex < 0 ? shown.views.length - 1 : view.selectedIndex;
  view.replaceChildren(...shown.views.map((one) => new Option(one.title)));
  view.selectedIndex = before;
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
  if (event.target.matches("#wave-view")) look();
});
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
document.addEventListener("htmx:after:swap", () => {
  const told = byId("signal");
  const part = byId("wave");
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
