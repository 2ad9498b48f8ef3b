"use strict";
const LAYOUT = {
  margin: { l: 60, r: 15, t: 10, b: 45 }, hovermode: "x unified", paper_bgcolor: "#fff",
  plot_bgcolor: "#fff", font: { color: "#1c2430" }, legend: { orientation: "h", y: 1.12 },
};
const CONFIG = { displayModeBar: false, responsive: true };
const GRID = "#e3e3e3";
const byId = (id) => document.getElementById(id);
const chosen = (name) => document.querySelector(`input[name=${name}]:checked`).value;

// Unit of a kind of quantity: name, factor from SI, decimals, what is added; null: as it is.
const unit = (kind) => (kind === null ? ["", 1, 2, 0] : UNITS[kind][chosen("units")]);
const shownIn = (kind, values) => {
  const [, factor, , shift] = unit(kind);
  const one = (v) => (typeof v === "number" ? factor * v + shift : v);
  return values.map((v) => (Array.isArray(v) ? v.map(one) : one(v)));
};
const titled = ({ title, kind }) => [title, unit(kind)[0]].filter(Boolean).join(", ");

function drawCharts() {
  for (const chart of CHARTS) {
    const shapes = chart.spans.map((span) => ({ type: "rect", yref: "paper", x0: span[0],
      x1: span[1], y0: 0, y1: 1, fillcolor: "#f0ead6", line: { width: 0 },
      layer: "below" }));
    const isMap = chart.traces.some((t) => t.z);
    Plotly.react(chart.id, chart.traces.map((t) => (t.z ? coloured(chart, t) : plain(chart, t))), {
      ...LAYOUT, shapes, hovermode: isMap ? "closest" : LAYOUT.hovermode,
      xaxis: { title: { text: titled(chart.x) }, gridcolor: GRID },
      yaxis: { title: { text: titled(chart.y) }, gridcolor: GRID } }, CONFIG);
  }
}

function plain(chart, t) {
  const [name, factor, decimals] = unit(chart.y.kind);
  const common = { x: shownIn(chart.x.kind, t.x), y: shownIn(chart.y.kind, t.y), name: t.name,
    hovertemplate: `%{y:.${decimals}f} ${name}<extra>${escaped(t.name)}</extra>` };
  if (t.error) {
    common.error_y = { type: "data", array: t.error.map((v) => factor * v), thickness: 1 };
  }
  if (t.mode === "bars") return { ...common, type: "bar", marker: { color: t.colour } };
  return { ...common, mode: t.mode, fill: t.fill ? "tonexty" : "none",
    ...(t.thin ? { fillcolor: `${t.colour}33` } : {}),
    line: { color: t.colour, dash: t.dash, width: t.thin ? 0.7 : 2 }, showlegend: !t.thin, marker: { symbol: t.mark, size: 7,
      color: t.colour } };
}

function coloured(chart, t) {
  const [name, , decimals] = unit(t.z.kind);
  return { type: "contour", colorscale: "Cividis", x: shownIn(chart.x.kind, t.x),
    y: shownIn(chart.y.kind, t.y), z: shownIn(t.z.kind, t.z.values),
    colorbar: { title: { text: titled(t.z) } }, contours: { showlabels: true },
    hovertemplate: `%{x}, %{y}: %{z:.${decimals}f} ${name}<extra></extra>` };
}

const escaped = (text) => text.replace(/&/g, "&amp;").replace(/</g, "&lt;");

const LINES = [
  ["p", "pressure", "#14213d", "solid", 3],
  ["forward", "towards the valve", "#b3541e", "dash", 2],
  ["backward", "towards the mouth", "#2a9d8f", "dot", 2],
];
const overPlenum = (values) => shownIn("pressure", values.map((v) => 100 * v)); // kept in hPa
const cycle = () => CYCLES[Number(chosen("cycle"))];
const step = () => Math.round(Number(byId("angle").value) / EVERY);

function drawWave() {
  const c = cycle(), k = step();
  const [name, , decimals] = unit("pressure");
  const all = overPlenum(c.p.concat(c.forward, c.backward).flat());
  const room = 0.05 * (Math.max(...all) - Math.min(...all));
  const traces = LINES.map(([key, label, color, dash, width]) => ({
    x: shownIn("length", c.distance), y: overPlenum(c[key][k]), name: label,
    mode: "lines", line: { color, dash, width },
    hovertemplate: `%{y:.${decimals}f} ${name}<extra>${label}</extra>`,
  }));
  Plotly.react("moving", traces, { ...LAYOUT,
    xaxis: { title: { text: titled({ title: "distance from the mouth", kind: "length" }) },
      gridcolor: GRID },
    yaxis: { title: { text: `${name} over plenum mean` }, gridcolor: GRID, zerolinecolor: "#888",
      range: [Math.min(...all) - room, Math.max(...all) + room] } }, CONFIG);
  drawEngine(c, k);
}

// One button an event: it sets the crank angle.
function drawEvents() {
  const row = byId("events");
  row.replaceChildren(...cycle().events.map(([name, at]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = `${name} ${Math.round(at)} deg`;
    button.addEventListener("click", () => {
      byId("angle").value = Math.round(at / EVERY) * EVERY;
      drawWave();
    });
    return button;
  }));
}

// Which valves are open, in words.
function valvesOpen(c, k) {
  const open = [["intake valve", c.intake[k]], ["exhaust valve", c.exhaust[k]]]
    .filter(([, share]) => share > 0).map(([name]) => name);
  return open.length ? `${open.join(" and ")} open` : "valves shut";
}

function drawEngine(c, k) {
  const head = 22, bottom = 56, top = head + 3;
  const y = top + (bottom - top - 8) * c.piston[k];
  const valve = (x, share, name) =>
    `<line x1="${x}" x2="${x}" y1="6" y2="${head + 6 * share}" stroke="#1c2430" stroke-width="1.5"/>` +
    `<line x1="${x - 9}" x2="${x + 9}" y1="${head + 6 * share}" y2="${head + 6 * share}"` +
    ` stroke="${share > 0 ? "#b3541e" : "#1c2430"}" stroke-width="2.5"/>` +
    `<text x="${x}" y="5" text-anchor="middle">${name}</text>`;
  byId("engine").innerHTML =
    `<path d="M120 ${head} V${bottom} M180 ${head} V${bottom}" stroke="#1c2430" fill="none"/>` +
    `<rect x="121" y="${y}" width="58" height="8" fill="#8a93a3"/>` +
    valve(135, c.intake[k], "intake") + valve(165, c.exhaust[k], "exhaust");
  byId("now").textContent = `${Math.round(k * EVERY)} deg, ${valvesOpen(c, k)}`;
}

let timer = null;
function play() {
  const running = timer !== null;
  byId("play").textContent = running ? "Play" : "Stop";
  byId("play").setAttribute("aria-pressed", String(!running));
  if (running) {
    clearInterval(timer);
    timer = null;
    return;
  }
  timer = setInterval(() => {
    const slider = byId("angle");
    slider.value = (Number(slider.value) + EVERY) % 720;
    drawWave();
  }, 50);
}

function showUnits() {
  document.querySelectorAll("[data-units]").forEach((e) => { e.hidden = e.dataset.units !== chosen("units"); });
}

function draw() {
  showUnits();
  drawCharts();
  if (CYCLES.length) drawWave();
}

document.querySelectorAll("input[name=units]").forEach((i) => i.addEventListener("change", draw));
if (CYCLES.length) {
  document.querySelectorAll("input[name=cycle]").forEach((i) => i.addEventListener("change", () => {
    drawEvents();
    drawWave();
  }));
  byId("angle").addEventListener("input", drawWave);
  byId("play").addEventListener("click", play);
  drawEvents();
}
draw();

// On paper two charts stand side by side.
const resized = (size) => CHARTS.forEach((c) => Plotly.relayout(c.id, size));
window.addEventListener("beforeprint", () => {
  resized({ autosize: false, width: 330, height: 200 });
});
window.addEventListener("afterprint", () => resized({ autosize: true, width: null, height: null }));
