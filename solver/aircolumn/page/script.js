"use strict";
// Figures: key of the data, axis, and for each choice of units (factor from SI, name, decimals).
const FIGURES = {
  ve: { axis: "volumetric efficiency", si: [100, "%", 1], us: [100, "%", 1] },
  torque: { axis: "brake torque", si: [1, "N m", 1], us: [0.73756215, "lbf ft", 1] },
  power: { axis: "brake power", si: [1e-3, "kW", 1], us: [1 / 745.69987, "hp", 1] },
};
const LAYOUT = {
  margin: { l: 60, r: 15, t: 10, b: 45 }, hovermode: "x unified", paper_bgcolor: "#fff",
  plot_bgcolor: "#fff", font: { color: "#1c2430" }, legend: { orientation: "h", y: 1.12 },
};
const CONFIG = { displayModeBar: false, responsive: true };
const byId = (id) => document.getElementById(id);
const chosen = (name) => document.querySelector(`input[name=${name}]:checked`).value;

function drawCurves() {
  for (const [key, figure] of Object.entries(FIGURES)) {
    const [factor, unit, decimals] = figure[chosen("units")];
    const traces = CURVES.map((c) => ({
      x: c.rpm, y: c[key].map((v) => (v === null ? null : factor * v)), name: c.name,
      mode: "lines+markers", line: { color: c.colour, dash: c.dash, width: 2 },
      marker: { symbol: c.mark, size: 6 },
      hovertemplate: `%{y:.${decimals}f} ${unit}<extra>${c.name}</extra>`,
    }));
    const axis = key === "ve" ? `${figure.axis}, ${unit} (${DENSITY})` : `${figure.axis}, ${unit}`;
    const shapes = SPAN ? [{ type: "rect", yref: "paper", x0: SPAN[0], x1: SPAN[1], y0: 0, y1: 1,
      fillcolor: "#f0ead6", line: { width: 0 }, layer: "below" }] : [];
    Plotly.react(key, traces, { ...LAYOUT, shapes,
      xaxis: { title: { text: "engine speed, rev/min" }, gridcolor: "#e3e3e3" },
      yaxis: { title: { text: axis }, gridcolor: "#e3e3e3" } }, CONFIG);
  }
}

const LINES = [
  ["p", "pressure", "#14213d", "solid", 3],
  ["forward", "towards the valve", "#b3541e", "dash", 2],
  ["backward", "towards the mouth", "#2a9d8f", "dot", 2],
];
const cycle = () => CYCLES[Number(chosen("cycle"))];
const step = () => Math.round(Number(byId("angle").value) / EVERY);

function drawWave() {
  const c = cycle(), k = step();
  const all = c.p.concat(c.forward, c.backward).flat();
  const traces = LINES.map(([key, name, color, dash, width]) => ({
    x: c.distance, y: c[key][k], name, mode: "lines", line: { color, dash, width },
    hovertemplate: `%{y:.1f} kPa<extra>${name}</extra>`,
  }));
  Plotly.react("moving", traces, { ...LAYOUT,
    xaxis: { title: { text: "distance from the mouth, mm" }, gridcolor: "#e3e3e3" },
    yaxis: { title: { text: "kPa over plenum mean" }, gridcolor: "#e3e3e3", zerolinecolor: "#888",
      range: [Math.min(...all) - 2, Math.max(...all) + 2] } }, CONFIG);
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

document.querySelectorAll("input[name=units]").forEach((i) => i.addEventListener("change", drawCurves));
document.querySelectorAll("input[name=cycle]").forEach((i) => i.addEventListener("change", () => {
  drawEvents();
  drawWave();
}));
byId("angle").addEventListener("input", drawWave);
byId("play").addEventListener("click", play);
drawCurves();
drawEvents();
drawWave();
