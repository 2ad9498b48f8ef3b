"use strict";
// The engine to scale along the way of the air. What can be dragged has a handle, which arrow keys move too.
const WIDER = 3, HEIGHT = 210, SVG = "http://www.w3.org/2000/svg";
const STEPS = { mm: 1, cm: 0.1, m: 0.001, in: 0.05, L: 0.1, cc: 10, in3: 1 };
const DECIMALS = { mm: 1, cm: 2, m: 4, in: 3, L: 2, cc: 0, in3: 1 };
const SI = { mm: 1e-3, cm: 1e-2, m: 1, in: 0.0254, L: 1e-3, cc: 1e-6, in3: 1.6387064e-5 };

function made(name, attributes, parent, text) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  parent.append(element);
  return element;
}

const lengthOf = (part) => part.kind === "pipe" ? part.sections.reduce((sum, s) => sum + s[0], 0)
  : part.kind === "volume" ? Math.cbrt(part.volume) : part.kind === "cylinder" ? part.stroke : 0;
const widthOf = (part) => part.kind === "pipe" ? WIDER * Math.max(...part.sections.flatMap((s) => [s[1], s[2]]))
  : part.kind === "volume" ? Math.cbrt(part.volume)
    : WIDER * (part.kind === "cylinder" ? part.bore : part.width * Math.sqrt(part.count));

// drag(handle, value, ended): what the hand asks for, SI.
function draw(place, parts, longest, chosen, choose, drag) {
  const held = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.path : null;
  place.replaceChildren();
  const wide = place.clientWidth || 600;
  const svg = made("svg", { viewBox: `0 0 ${wide} ${HEIGHT}`, role: "group", "aria-label": "Drawing to scale" }, place);
  const tallest = Math.max(...parts.map(widthOf), 0.01);
  const scale = Math.min((wide - 30) / longest, (HEIGHT - 68) / tallest), middle = 20 + (HEIGHT - 68) / 2;
  let x = 12, named = 0;
  for (const part of parts) {
    const length = lengthOf(part) * scale, half = widthOf(part) * scale / 2, start = x;
    const shape = { class: `part ${part.side}${chosen === part.group.join(".") ? " chosen" : ""}` };
    let element;
    if (part.kind === "pipe") {
      const up = [];
      for (const [l, a, b] of part.sections) {
        up.push([x, WIDER * a * scale / 2]);
        x += l * scale;
        up.push([x, WIDER * b * scale / 2]);
      }
      const points = [...up.map(([at, r]) => [at, middle - r]), ...up.reverse().map(([at, r]) => [at, middle + r])];
      element = made("polygon", { ...shape, points: points.map((p) => p.map((v) => v.toFixed(1)).join(",")).join(" ") }, svg);
    } else if (part.kind === "gate") {
      element = made("line", { ...shape, x1: x, x2: x, y1: middle - Math.max(half, 8), y2: middle + Math.max(half, 8) }, svg);
    } else {
      element = made("rect", { ...shape, x, y: middle - half, width: Math.max(length, 1), height: 2 * half }, svg);
      x += length;
    }
    made("title", {}, element, part.name);
    element.addEventListener("click", () => choose(part.group));
    if (part.kind !== "gate") {
      const low = HEIGHT - 28 + 12 * (named % 3);
      made("text", { x: (start + x) / 2, y: low, "text-anchor": "middle" }, svg, part.name);
      named += 1;
    }
    for (const handle of part.handles) grip(svg, handle, part, { start, end: x, middle, half, scale }, drag, held);
  }
  made("text", { x: 12, y: 13 }, svg, `lengths to scale, widths ${WIDER} times`);
}

function grip(svg, handle, part, at, drag, held) {
  const upright = handle.what !== "length" && handle.what !== "volume";
  const top = (bore) => at.middle - WIDER * bore * at.scale / 2;
  const first = part.kind === "pipe" ? part.sections[0][1] : 0, last = part.kind === "pipe" ? part.sections.at(-1)[2] : 0;
  const [cx, cy] = { length: [at.start, at.middle], first: [at.start + 12, top(first)], last: [at.end - 4, top(last)],
    both: [(at.start + at.end) / 2, top(last)], width: [at.start, at.middle - Math.max(at.half, 8)],
    volume: [at.start, at.middle + at.half] }[handle.what];
  const circle = made("circle", { class: `handle${upright ? " upright" : ""}`, cx, cy, r: 5, tabindex: 0, role: "slider",
    "data-path": handle.path.join("."), "aria-label": `${handle.path.join(" ")}`,
    "aria-valuenow": inUnit(handle, handle.value), "aria-valuetext": `${inUnit(handle, handle.value)} ${handle.unit}` }, svg);
  const moved = (dx, dy) => {
    if (handle.what === "length") return handle.value - dx / at.scale;
    if (handle.what === "volume") return Math.max(Math.cbrt(handle.value) - dx / at.scale, 1e-3) ** 3;
    return handle.value - 2 * dy / (WIDER * at.scale);
  };
  circle.addEventListener("pointerdown", (down) => {
    down.preventDefault();
    circle.focus();
    const move = (e) => drag(handle, moved(e.clientX - down.clientX, e.clientY - down.clientY), false);
    const up = (e) => {
      window.removeEventListener("pointermove", move);
      window.removeEventListener("pointerup", up);
      drag(handle, moved(e.clientX - down.clientX, e.clientY - down.clientY), true);
    };
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", up);
  });
  circle.addEventListener("keydown", (e) => {
    const way = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[e.key];
    if (!way) return;
    e.preventDefault();
    drag(handle, handle.value + way * (e.shiftKey ? 10 : 1) * STEPS[handle.unit] * SI[handle.unit], true);
  });
  if (held === handle.path.join(".")) circle.focus();
}

const inUnit = (handle, value) => String(Number((Math.max(value, 0) / SI[handle.unit]).toFixed(DECIMALS[handle.unit])));
