// A runner between those that were computed: sliders move curves, differences, mean, drawing and wave.
const at = () => EXPLORE.keys.map((_, k) => Number(byId(`slider${k}`).value) / 1000);
let pinned = at();

// Straight lines between the points of a table (keys..., speeds).
function between(table, shares) {
  const sizes = EXPLORE.sizes, speeds = EXPLORE.rpm.length, y = new Array(speeds).fill(0);
  const places = shares.map((share, k) => {
    const x = share * (sizes[k] - 1), i = Math.min(Math.floor(x), sizes[k] - 2);
    return [i, x - i];
  });
  for (let corner = 0; corner < 2 ** places.length; corner += 1) {
    let row = 0, weight = 1;
    places.forEach(([i, f], k) => {
      const up = (corner >> k) & 1;
      row = row * sizes[k] + i + up;
      weight *= up ? f : 1 - f;
    });
    if (weight > 0) for (let s = 0; s < speeds; s += 1) y[s] += weight * table[row * speeds + s];
  }
  return y;
}

function signed(value, decimals) {
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? text.replace("-", "") : `${value > 0 ? "+" : ""}${text}`;
}

const mean = (torque) => torque.reduce((sum, t, s) => sum + EXPLORE.weights[s] * t, 0);

function inWords(k, share) {
  const { low, high, kind, unit: written } = EXPLORE.keys[k], value = low + share * (high - low);
  if (!kind) return `${value.toPrecision(4)} ${written}`;
  const [name, factor, decimals, shift] = unit(kind);
  return `${(factor * value + shift).toFixed(decimals + (kind === "length" ? 0 : 1))} ${name}`;
}

const chartOf = (id, title, kind, traces) => Plotly.react(id, traces, { ...LAYOUT,
  xaxis: { title: { text: titled({ title: "engine speed", kind: "speed" }) }, gridcolor: GRID },
  yaxis: { title: { text: titled({ title, kind }) }, gridcolor: GRID } }, CONFIG);
const lineOf = (name, y, kind, color, dash) => ({ x: EXPLORE.rpm, y: shownIn(kind, y), name,
  mode: "lines+markers", line: { color, dash, width: 2 }, marker: { size: 6, color },
  hovertemplate: `%{y:.${unit(kind)[2]}f} ${unit(kind)[0]}<extra>${name}</extra>` });

function steer() {
  const now = at(), torque = between(EXPLORE.torque, now), held = between(EXPLORE.torque, pinned);
  chartOf("steer-torque", "brake torque", "torque", [
    lineOf("pinned", held, "torque", "#8a93a3", "dash"), lineOf("this runner", torque, "torque", "#b3541e", "solid")]);
  chartOf("steer-gain", "torque minus that of the pinned runner", "torque", [
    lineOf("this runner", torque.map((t, s) => t - held[s]), "torque", "#b3541e", "solid")]);
  chartOf("steer-ve", "volumetric efficiency", "share", [
    lineOf("pinned", between(EXPLORE.ve, pinned), "share", "#8a93a3", "dash"),
    lineOf("this runner", between(EXPLORE.ve, now), "share", "#b3541e", "solid")]);
  EXPLORE.keys.forEach((_, k) => {
    const said = inWords(k, now[k]);
    byId(`now${k}`).textContent = said;
    byId(`slider${k}`).setAttribute("aria-valuetext", said);
    byId(`low${k}`).textContent = inWords(k, 0);
    byId(`high${k}`).textContent = inWords(k, 1);
    if (document.activeElement !== byId(`typed${k}`)) byId(`typed${k}`).value = parseFloat(said);
  });
  const [name, factor, decimals] = unit("torque"), gain = factor * (mean(torque) - mean(held));
  const pin = EXPLORE.keys.map((_, k) => inWords(k, pinned[k])).join(", ");
  byId("mean").textContent = `Mean torque ${EXPLORE.range}: ${(factor * mean(torque)).toFixed(decimals)} ${name},` +
    ` ${signed(gain, decimals)} ${name} against the pinned runner (${pin}).`;
  drawRunner(now);
  nearestWave(now);
}

// Runner and port from above, to scale.
function drawRunner(shares) {
  const d = { ...EXPLORE.drawing };
  EXPLORE.keys.forEach(({ draws, low, high }, k) => {
    for (const part of draws) d[part] = low + shares[k] * (high - low);
  });
  const px = 560 / EXPLORE.longest, y = 60, h = (bore) => (px * bore) / 2;
  const x1 = 20 + px * d.length, x2 = x1 + px * d.port_length;
  byId("runner").innerHTML =
    `<path d="M20 ${y - h(d.first)} L${x1} ${y - h(d.last)} L${x1} ${y + h(d.last)} L20 ${y + h(d.first)} Z"` +
    ` fill="#f0ddcb" stroke="#b3541e"/>` +
    `<path d="M${x1} ${y - h(d.last)} L${x2} ${y - h(d.port)} L${x2} ${y + h(d.port)} L${x1} ${y + h(d.last)} Z"` +
    ` fill="#dbe7ee" stroke="#14213d"/>` +
    `<text x="20" y="116">runner</text><text x="${x1 + 4}" y="116">port</text>`;
}

// The wave of the engine computed nearest along the first key.
function nearestWave(shares) {
  if (!CYCLES.length) return;
  const place = Math.round(shares[0] * (CYCLES.length - 1));
  const radio = document.querySelectorAll("input[name=cycle]")[place];
  if (!radio.checked) {
    radio.checked = true;
    drawEvents();
    drawWave();
  }
}

// The share of the span at which a number stands that was typed in the units shown.
function typedShare(k) {
  const { low, high, kind } = EXPLORE.keys[k], number = Number(byId(`typed${k}`).value);
  const [, factor, , shift] = kind ? unit(kind) : ["", 1, 0, 0];
  return Math.min(Math.max(((number - shift) / factor - low) / (high - low), 0), 1);
}

function moveTo(shares) {
  shares.forEach((share, k) => { byId(`slider${k}`).value = 1000 * share; });
  steer();
}

EXPLORE.keys.forEach((_, k) => {
  byId(`slider${k}`).addEventListener("input", steer);
  byId(`typed${k}`).addEventListener("change", () => moveTo(at().map((s, n) => (n === k ? typedShare(k) : s))));
});
document.querySelectorAll("button.start").forEach((b) => b.addEventListener("click", () => {
  moveTo(EXPLORE.starts[Number(b.value)].shares);
}));
byId("pin").addEventListener("click", () => { pinned = at(); steer(); });
document.querySelectorAll("input[name=units]").forEach((i) => i.addEventListener("change", steer));
steer();
