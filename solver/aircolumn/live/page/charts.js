"use strict";
// Curves of all candidates over speed; what is not of the present engine is faded.
const DARK = matchMedia("(prefers-color-scheme: dark)");
const BRIGHT = ["#ff9d6b", "#4fd1e0", "#c3a6ff", "#a8d65c", "#ff8fb8", "#c9c4d4", "#ffd08a", "#8cc6ff"];
const COLOURS = ["#b3541e", "#00798c", "#7b5ea7", "#5c8001", "#c2185b", "#6d6875", "#e09f3e", "#2a6f97"];
const DASHES = [[], [8, 4], [2, 3], [10, 3, 2, 3], [5, 5], [1, 2], [12, 4], [6, 2, 2, 2]];
const shown = {};

const colour = (k) => (DARK.matches ? BRIGHT : COLOURS)[k % COLOURS.length];

// edges: of a band of the selected curve, which is shaded.
// marks: measured points.
function chart(place, title, names, selected, rows, click, edges = [], marks = []) {
  rows = [...rows, ...edges, ...marks];
  const key = JSON.stringify([title, names, place.clientWidth, place.clientHeight, DARK.matches, edges.length && selected(), marks.map((m) => m.name)]);
  const ink = getComputedStyle(document.body).color, line = getComputedStyle(document.documentElement).getPropertyValue("--line");
  const x = [...new Set(rows.flatMap((r) => r.rpm))].sort((a, b) => a - b);
  const data = [x, ...rows.map((r, k) => {
    const there = new Map(r.rpm.map((n, i) => [n, r.values[i]]));
    return x.map((n) => there.has(n) ? there.get(n) : k < names.length || k >= names.length + edges.length ? undefined : at(r, n));
  })];
  const shade = colour(names.indexOf(selected()));
  const mark = (m) => ({ label: `${m.name}, measured`, stroke: colour(names.indexOf(m.name)), width: 0, paths: () => null,
    points: { show: true, size: 7, width: 1.5, fill: "transparent" }, value: (u, v) => v == null ? "" : v.toFixed(1) });
  const edge = () => ({ label: "95 of 100 engines", stroke: shade, width: 0.7, points: { show: false }, value: (u, v) => v == null ? "" : v.toFixed(1) });
  const series = (k) => ({ label: names[k], stroke: colour(k), dash: DASHES[k % DASHES.length],
    width: names[k] === selected() ? 3 : 1.5, points: { show: false }, value: (u, v) => v == null ? "" : v.toFixed(1) });
  const old = shown[place.id];
  if (old && old.key === key) {
    old.rows = rows;
    names.forEach((name, k) => { old.plot.series[k + 1].width = name === selected() ? 3 : 1.5; });
    old.plot.setData(data);
    return;
  }
  if (old) old.plot.destroy();
  const axis = { stroke: ink, grid: { stroke: line, width: 1 }, ticks: { stroke: line, width: 1 } };
  const plot = new uPlot({ width: place.clientWidth || 600, height: place.clientHeight - 26,
    scales: { x: { time: false } }, cursor: { drag: { x: false, y: false } },
    axes: [{ ...axis, size: 30, values: (u, ticks) => ticks.map(String) }, { ...axis, label: title, size: 52, labelSize: 18 }],
    bands: edges.length ? [{ series: [names.length + 2, names.length + 1], fill: `${shade}30` }] : [],
    series: [{ label: "rpm" }, ...names.map((_, k) => series(k)), ...edges.map(edge), ...marks.map(mark)] }, data, place);
  plot.over.addEventListener("click", () => { if (plot.cursor.idx != null) click(x[plot.cursor.idx]); });
  shown[place.id] = { plot, key, rows };
}

// Straight lines between the points of a curve.
function at(row, rpm) {
  const k = row.rpm.findIndex((n) => n >= rpm);
  if (k < 0) return null;
  if (row.rpm[k] === rpm) return row.values[k];
  if (k === 0) return null;
  const [a, b] = [row.values[k - 1], row.values[k]], share = (rpm - row.rpm[k - 1]) / (row.rpm[k] - row.rpm[k - 1]);
  return a == null || b == null ? null : a + share * (b - a);
}

function minus(row, base) {
  return { rpm: row.rpm, values: row.rpm.map((n, k) => {
    const b = at(base, n);
    return b == null || row.values[k] == null ? null : row.values[k] - b;
  }) };
}

// The wave in the runner at one crank angle: pressure above the plenum's mean, and both waves.
function drawWave(canvas, wave, angle) {
  const context = canvas.getContext("2d"), { width, height } = canvas, ink = getComputedStyle(document.body).color;
  const k = Math.round(angle / 720 * wave.p.length) % wave.p.length, longest = wave.distance.at(-1);
  const most = Math.max(...wave.p.flat().map(Math.abs), 1);
  context.clearRect(0, 0, width, height);
  context.font = "12px system-ui";
  context.fillStyle = ink;
  context.strokeStyle = "#8a93a3";
  context.beginPath();
  context.moveTo(0, height / 2);
  context.lineTo(width, height / 2);
  context.stroke();
  for (const [name, ink2, wide, dash] of [["p", ink, 3, []], ["forward", colour(0), 1.5, [6, 3]], ["backward", colour(1), 1.5, [2, 3]]]) {
    context.strokeStyle = ink2;
    context.lineWidth = wide;
    context.setLineDash(dash);
    context.beginPath();
    wave.distance.forEach((d, i) => context.lineTo(d / longest * width, height / 2 - wave[name][k][i] / most * (height / 2 - 16)));
    context.stroke();
  }
  context.setLineDash([]);
  context.fillText(`${Math.round(angle)} deg   mouth`, 4, 12);
  context.fillText("valve", width - 34, 12);
  context.fillText(`pressure (line, to ${(most / 10).toFixed(0)} kPa), to the valve (dashed), to the mouth (dotted)`, 4, height - 4);
}
