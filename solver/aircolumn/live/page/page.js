"use strict";
const byId = (id) => document.getElementById(id);
let socket = null, keys = [], units = {}, state = null, curves = {}, told = { accuracy: "", said: [], version: 0 };
let selected = "", chosen = "intake.runner", second = "difference", against = "", number = 0, waiting = null, next = null;
let playing = false, pulls = {}, bands = null, wave = null, moves = 0, wrongs = {}, wish = "";
const SECOND = { difference: "Difference", power: "Power", ve: "VE" };

function connect() {
  socket = new WebSocket(`ws://${location.host}/follow`);
  socket.addEventListener("message", (event) => heard(JSON.parse(event.data)));
  socket.addEventListener("close", () => { byId("status").textContent = "the program has ended; changes are kept as a draft"; });
}

function send(message) {
  if (!socket || socket.readyState !== WebSocket.OPEN) return;
  number += 1;
  socket.send(JSON.stringify({ ...message, n: number }));
  return number;
}

// One change at a time is under way; of the others the newest waits.
function put(path, text, move) {
  const message = { do: "put", path, text, candidate: selected, shared: byId("shared").checked, move };
  if (waiting !== null && move) next = message;
  else waiting = send(message);
}

function done() {
  waiting = null;
  if (next) {
    const message = next;
    next = null;
    waiting = send(message);
  }
}

function heard(message) {
  if (message.kind === "keys") ({ keys, units } = message);
  if (message.kind === "state") {
    const first = state === null;
    state = message;
    if (state.names.includes(wish)) selected = wish;
    wish = "";
    if (!state.names.includes(selected)) selected = state.names[0];
    if (!state.names.includes(against)) against = state.names.find((n) => n !== selected) || selected;
    for (const name of Object.keys(curves)) if (!state.names.includes(name)) delete curves[name];
    if (message.n === waiting || message.n === undefined) wrongs = {};
    if (bands && bands.version !== state.version) showBands(null);
    showState(first);
  }
  if (message.kind === "curves" && state && message.version === state.version) {
    for (const one of message.curves) curves[one.name] = one;
    told = { accuracy: message.accuracy, said: message.said || told.said, version: message.version, wrong: message.wrong,
      took: 1e3 * message.took };
    if (message.accuracy === "coarse") done();
    const begun = performance.now();
    showCurves();
    told.drawing = performance.now() - begun;
  }
  if (message.kind === "wrong") {
    if (message.n === waiting) done();
    wrongs = { [message.path.join(".")]: message.problems };
    showKeys();
    showStatus();
  }
  if (message.kind === "pull") showPull(message);
  if (message.kind === "bands") showBands(state && message.version === state.version ? message : null);
  if (message.kind === "why" && state && message.version === state.version) showWhy(message);
}

const current = () => told.version === state.version;
const shown1 = (kind, si, decimals) => si == null ? "" : (units[kind][1] * si).toFixed(decimals ?? units[kind][2]);

function element(name, text, attributes = {}) {
  const made = document.createElement(name);
  if (text !== undefined) made.textContent = text;
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else made.setAttribute(key, value);
  }
  return made;
}

function showState(first) {
  byId("title").textContent = state.title || state.file;
  byId("file").textContent = `${state.file}${state.changed ? ", changed" : ""}`;
  document.title = `${state.changed ? "* " : ""}${state.file}`;
  byId("undo").disabled = !state.undo || !state.mine;
  byId("redo").disabled = !state.redo || !state.mine;
  byId("save").disabled = !state.changed || !state.mine;
  byId("for-all").hidden = !state.group;
  byId("commands").textContent = `aircolumn study STUDY.yaml; aircolumn part ${state.file}; aircolumn report ${state.file}`;
  showNotice(first);
  showCandidates();
  showDrawing();
  showKeys();
  showCurves();
}

function showNotice(first) {
  const [text, buttons] = !state.mine
    ? ["This engine is open on another page, which may change it.", [["Work here", () => send({ do: "take over" })]]]
    : state.other
      ? ["Another program has changed the file.", [["Take its state", () => send({ do: "take disk" })], ["Overwrite it with mine", () => send({ do: "overwrite" })]]]
      : state.restored && first && state.changed
        ? ["Changes that were not saved have come back. Undo takes them away.", [["Keep them", () => { byId("notice").hidden = true; }]]]
        : ["", []];
  byId("notice").hidden = !text;
  byId("notice-text").textContent = text;
  byId("notice-buttons").replaceChildren(...buttons.map(([name, act]) => element("button", name, { type: "button", onclick: act })));
}

function showCandidates() {
  const place = byId("candidates"), k = state.names.indexOf(selected);
  const names = state.names.map((name, i) => {
    const button = element("button", undefined, { type: "button", "aria-pressed": String(name === selected), onclick: () => { selected = name; showState(); } });
    const swatch = element("span", undefined, { class: "swatch" });
    swatch.style.borderTopColor = colour(i);
    swatch.style.borderTopStyle = i % 3 === 0 ? "solid" : i % 3 === 1 ? "dashed" : "dotted";
    button.append(swatch, name);
    return button;
  });
  const moved = (by) => { const order = [...state.names]; order.splice(k + by, 0, order.splice(k, 1)[0]); send({ do: "order", names: order }); };
  const fresh = (base) => { let i = 2; while (state.names.includes(`${base} ${i}`)) i += 1; return `${base} ${i}`; };
  const acts = [
    ["Copy", () => { const to = prompt("Name of the copy", fresh(selected)); if (to) { send({ do: "add", candidate: selected, to }); wish = to; } }, false],
    ["Rename", () => { const to = prompt("New name", selected); if (to && to !== selected) { send({ do: "rename", candidate: selected, to }); wish = to; } }, !state.group],
    ["Delete", () => { if (confirm(`Delete ${selected}? Undo brings it back.`)) send({ do: "delete", candidate: selected }); }, !state.group || state.names.length < 2],
    ["\u2190", () => moved(-1), !state.group || k < 1], ["\u2192", () => moved(1), !state.group || k > state.names.length - 2]];
  place.replaceChildren(...names, ...acts.map(([name, act, off]) => {
    const button = element("button", name, { type: "button", onclick: act });
    if (name.length === 1) button.setAttribute("aria-label", name === "\u2190" ? "Earlier" : "Later");
    button.disabled = off || !state.mine;
    return button;
  }));
}

function showDrawing() {
  const total = (parts) => parts.reduce((sum, part) => sum + lengthOf(part), 0);
  const longest = dragging ? dragging.longest : Math.max(...Object.values(state.drawings).map(total));
  draw(byId("drawing"), state.drawings[selected], longest, chosen, (group) => {
    chosen = group.join(".");
    byId("search").value = "";
    showDrawing();
    showKeys();
  }, dragged);
  function dragged(handle, value, ended) {
    if (!state.mine) return;
    if (!dragging) { moves += 1; dragging = { longest, move: `move ${moves}` }; }
    put(handle.path, `${inUnit(handle, value)} ${handle.unit}`, dragging.move);
    if (ended) { dragging = null; }
  }
}
let dragging = null;

function showKeys() {
  const words = byId("search").value.trim().toLowerCase().split(/\s+/).filter(Boolean);
  const inGroup = (path) => path === chosen || path.startsWith(`${chosen}.`);
  const found = keys.filter((key) => {
    const path = key.path.join(".");
    if (key.takes === "group") return false;
    return words.length ? words.every((w) => `${path} ${key.meaning}`.toLowerCase().includes(w)) : inGroup(path);
  });
  const values = state.values[selected], active = document.activeElement;
  const held = active && active.dataset ? active.dataset.key : undefined;
  found.sort((a, b) => Number(b.path.join(".") in values) - Number(a.path.join(".") in values));
  byId("group").textContent = words.length ? `${found.length} keys` : chosen;
  if (held && found.some((key) => key.path.join(".") === held)) {  // what is being typed stays
    for (const key of found) mark(key);
    return;
  }
  byId("keys").replaceChildren(...found.slice(0, 80).flatMap(row));
  for (const key of found) mark(key);
}

function row(key) {
  const path = key.path.join("."), value = state.values[selected][path], id = `key-${path}`;
  const short = path.startsWith(`${chosen}.`) && !byId("search").value ? path.slice(chosen.length + 1) : path;
  const label = element("label", short, { for: id, title: path });
  if (value && value.own) label.className = "own";
  const input = element("input", undefined, { id, "data-key": path, autocomplete: "off", placeholder: key.default, spellcheck: "false",
    onchange: () => typed(key, input.value) });
  input.value = value ? value.text : "";
  input.disabled = !state.mine;
  const more = value && value.plus_minus ? ` \u00b1 ${value.plus_minus}` : "";
  const meaning = element("span", `${key.meaning}${more}. Takes: ${key.takes}`, { class: "meaning" });
  return [label, input, meaning, element("span", "", { class: "wrong", "data-wrong": path, role: "alert" })];
}

function typed(key, text) {
  const path = key.path.join(".");
  if (text.trim()) waiting = send({ do: "put", path: key.path, text, candidate: selected, shared: byId("shared").checked });
  else if (path in state.values[selected]) waiting = send({ do: "take away", path: key.path, candidate: selected });
}

function mark(key) {
  const path = key.path.join("."), input = byId(`key-${path}`), value = state.values[selected][path];
  if (!input) return;
  const problems = wrongs[path];
  if (!problems && document.activeElement !== input) input.value = value ? value.text : "";
  input.setAttribute("aria-invalid", String(Boolean(problems)));
  document.querySelector(`[data-wrong="${CSS.escape(path)}"]`).textContent = problems ? problems.map((p) => p.message).join("; ") || "this cannot be" : "";
}

function showStatus() {
  const wrong = Object.values(wrongs).flat()[0];
  byId("status").textContent = wrong ? `not taken: ${wrong.message}` : told.wrong ? told.wrong
    : !current() ? "computing ..." : told.accuracy === "coarse" ? "coarse, computing the file's accuracy ..." : "accuracy of the file";
}

function showCurves() {
  showStatus();
  const names = state.names.filter((n) => curves[n]);
  if (!names.length) return;
  const rows = (figure, factor) => names.map((n) => ({ rpm: curves[n].rpm, values: curves[n][figure].map((v) => v == null ? null : v * factor) }));
  const torque = rows("torque", units.torque[1]), pick = () => selected, click = (rpm) => { byId("speed").value = Math.round(rpm); ask(); };
  const band = bands && bands.bands[selected];
  const marks = names.filter((n) => pulls[n]).map((n) => ({ name: n, rpm: pulls[n].rpm, values: pulls[n].torque.map((v) => v == null ? null : v * units.torque[1]) }));
  const edges = band ? band.map((values) => ({ rpm: bands.rpm, values: values.map((v) => v * units.torque[1]) })) : [];
  chart(byId("torque"), `torque, ${units.torque[0]}`, names, pick, torque, click, edges, marks);
  byId("which").replaceChildren(...Object.entries(SECOND).map(([key, name]) => element("button", name, { type: "button", "aria-pressed": String(key === second), onclick: () => { second = key; showCurves(); } })));
  byId("against").replaceChildren(...names.map((n) => { const o = element("option", n, { value: n }); o.selected = n === against; return o; }));
  const base = torque[names.indexOf(against)] || torque[0];
  const [title, others] = second === "power" ? [`power, ${units.power[0]}`, rows("power", units.power[1])]
    : second === "ve" ? [`VE, ${units.share[0]}`, rows("ve", units.share[1])] : [`minus ${against}, ${units.torque[0]}`, torque.map((r) => minus(r, base))];
  chart(byId("second"), title, names, pick, others, click);
  const stale = !current();
  for (const id of ["torque", "second", "figures", "answer"]) byId(id).classList.toggle("old", stale || (id === "answer" && told.accuracy !== "file"));
  byId("answer").textContent = told.said.join(" ");
  showFigures(names);
}

function showFigures(names) {
  const table = element("table"), head = element("tr");
  for (const text of ["", `mean ${units.torque[0]}`, `peak ${units.torque[0]}`, "at rpm", `peak ${units.power[0]}`, "at rpm", `mean minus ${against}`]) head.append(element("th", text));
  table.append(head);
  const base = curves[against] ? curves[against].mean : null;
  for (const name of names) {
    const c = curves[name], line = element("tr");
    const gain = base == null || c.mean == null || name === against ? "" : `${c.mean >= base ? "+" : ""}${shown1("torque", c.mean - base)}`;
    for (const text of [c.why ? `${name}: ${c.why}` : name, shown1("torque", c.mean), shown1("torque", c.peak_torque), Math.round(c.peak_torque_at), shown1("power", c.peak_power), Math.round(c.peak_power_at), gain]) line.append(element("td", String(text)));
    table.append(line);
  }
  byId("figures").replaceChildren(table, ...crossings().map((text) => element("p", text, { class: "hint" })));
}

// Where the chosen curve and the other change places.
function crossings() {
  if (selected === against || !curves[selected] || !curves[against]) return [];
  const [own, base] = [selected, against].map((n) => ({ rpm: curves[n].rpm, values: curves[n].torque }));
  const { rpm, values } = minus(own, base), found = [];
  for (let k = 1; k < rpm.length; k += 1) {
    const [a, b] = [values[k - 1], values[k]];
    if (a != null && b != null && a * b < 0) found.push(Math.round(rpm[k - 1] + (rpm[k] - rpm[k - 1]) * a / (a - b)));
  }
  return found.length ? [`${selected} and ${against} cross at ${found.join(", ")} rpm`] : [];
}

// How sure the comparison is: progress, then the band of the chosen candidate and what it says.
function showBands(message) {
  const under = Boolean(message && message.of);
  bands = message && message.bands ? message : bands && under ? bands : null;
  byId("progress").hidden = byId("stop").hidden = !under;
  byId("sure").disabled = under;
  if (under) [byId("progress").value, byId("progress").max] = [message.done, message.of];
  byId("sure-said").textContent = message && message.said ? message.said.join(" ") : under ? `${message.done} of ${message.of} points` : "";
  if (!under) showCurves();
}

// A measured pull of the chosen candidate: read here, understood by the program.
function layOver(file) {
  if (!file) return;
  byId("pull-said").replaceChildren(element("p", `reading ${file.name} ...`));
  const reader = new FileReader();
  reader.addEventListener("load", () => send({ do: "pull", candidate: selected, file: file.name, content: reader.result.split(",")[1] || "" }));
  reader.readAsDataURL(file);
}

function showPull(message) {
  if (message.torque) pulls[message.name] = message;
  const more = element("details");
  more.append(element("summary", "How it was read"), element("pre", message.more || ""));
  const away = element("button", "Take it away", { type: "button", onclick: () => { delete pulls[message.name]; byId("pull-said").replaceChildren(); showCurves(); } });
  byId("pull-said").replaceChildren(...message.said.map((text) => element("p", text)), ...(message.torque ? [more, away] : []));
  showCurves();
}

function ask() {
  const rpm = Number(byId("speed").value);
  if (!(rpm >= 100 && rpm <= 30000)) { byId("reasons").replaceChildren(element("p", "give a speed from 100 to 30000 rpm", { class: "wrong" })); return; }
  byId("reasons").replaceChildren(element("p", "computing ..."));
  send({ do: "why", candidate: selected, rpm });
}

function showWhy(message) {
  byId("reasons").replaceChildren(...message.said.map((text, k) => element("p", k === 0 ? `${message.name}: ${text}` : text)));
  wave = message.wave || null;
  byId("wave").hidden = byId("angle").hidden = byId("play").hidden = !wave;
  if (wave) drawWave(byId("wave"), wave, Number(byId("angle").value));
}

// The wave moves by itself, a cycle in eight seconds.
function play() {
  playing = !playing;
  byId("play").textContent = playing ? "Pause" : "Play";
  let last = null;
  const step = (now) => {
    if (!playing || !wave) return;
    if (last !== null) byId("angle").value = String((Number(byId("angle").value) + (now - last) * 0.09) % 720);
    last = now;
    drawWave(byId("wave"), wave, Number(byId("angle").value));
    requestAnimationFrame(step);
  };
  requestAnimationFrame(step);
}

byId("undo").addEventListener("click", () => send({ do: "undo" }));
byId("redo").addEventListener("click", () => send({ do: "redo" }));
byId("save").addEventListener("click", () => send({ do: "save" }));
byId("pull").addEventListener("change", () => { layOver(byId("pull").files[0]); byId("pull").value = ""; });
for (const name of ["dragover", "drop"]) byId("curves").addEventListener(name, (e) => { e.preventDefault(); if (name === "drop") layOver(e.dataTransfer.files[0]); });
byId("sure").addEventListener("click", () => { send({ do: "bands" }); showBands({ version: state.version, done: 0, of: 1 }); });
byId("stop").addEventListener("click", () => send({ do: "stop bands" }));
byId("play").addEventListener("click", play);
byId("ask").addEventListener("click", ask);
byId("speed").addEventListener("keydown", (e) => { if (e.key === "Enter") ask(); });
byId("angle").addEventListener("input", () => { if (wave) drawWave(byId("wave"), wave, Number(byId("angle").value)); });
byId("search").addEventListener("input", showKeys);
byId("against").addEventListener("change", () => { against = byId("against").value; showCurves(); });
DARK.addEventListener("change", () => { if (state) showState(); });
window.addEventListener("resize", () => { if (state) { showDrawing(); showCurves(); } });
window.addEventListener("keydown", (e) => {
  if (!(e.ctrlKey || e.metaKey) || !state) return;
  const key = e.key.toLowerCase();
  if (key === "s") { e.preventDefault(); send({ do: "save" }); }
  if (key === "z" && !(e.target instanceof HTMLInputElement)) { e.preventDefault(); send({ do: e.shiftKey ? "redo" : "undo" }); }
});
connect();
