// The page's half of the scope: draws what the kernel sent for a window, and moves it about until the next window comes.

const HEIGHT = { level: 34, bus: 34, curve: 96 };
const COMPARED = { level: 44, bus: 60, curve: 96 };      // a row with what was recorded and what was expected
const tall = (row) => (row.compares ? COMPARED : HEIGHT)[row.kind];
const BROAD = 5, FAINT = 0.55;
const AXIS = 34;
const MARGIN = 1;        // windows asked for on either side of the view, in widths of the view
const UNITS = [["s", 1], ["ms", 1e3], ["µs", 1e6], ["ns", 1e9], ["ps", 1e12]];
const LIGHT = { line: "#0072B2", other: "#D55E00" }, DARK = { line: "#56B4E9", other: "#E69F00" };

function plain(number) {
  const text = Number.isInteger(number) ? String(Math.abs(number)) : String(+Math.abs(number).toPrecision(7));
  const [whole, part] = text.split(".");
  return (number < 0 ? "-" : "") + whole.replace(/\B(?=(\d{3})+$)/g, "\u2009") + (part ? "." + part : "");
}

function step(span, count) {
  const rough = span / count, power = 10 ** Math.floor(Math.log10(rough));
  return power * [1, 2, 5, 10].find((m) => m * power >= rough);
}

function floats(view) {
  return new Float64Array(view.buffer.slice(view.byteOffset, view.byteOffset + view.byteLength));
}

function make(tag, parent, options = {}) {
  const element = document.createElement(tag);
  const { label, ...rest } = options;
  Object.assign(element, rest);
  if (label) element.setAttribute("aria-label", label);
  parent.append(element);
  return element;
}

function colours(element) {
  const style = getComputedStyle(element);
  const parts = (style.color.match(/[\d.]+/g) || [0, 0, 0]).map(Number);
  const dark = parts[0] + parts[1] + parts[2] > 380;   // bright text stands on a dark page
  return { ink: style.color, page: style.getPropertyValue("--jp-layout-color0") || (dark ? "#111" : "#fff"), ...(dark ? DARK : LIGHT), dark };
}

class View {
  constructor(model, el) {
    this.model = model;
    this.data = null;
    this.waiting = false;
    this.active = "cursor_a";
    this.root = make("div", el, { className: "tb-scope" });
    this.root.dataset.lmSuppressShortcuts = "true";    // keys meant for the scope must not add or delete cells
    this.tools();
    this.body();
    this.readout = make("div", this.root, { className: "tb-readout" });
    this.readout.setAttribute("role", "status");
    make("div", this.root, { className: "tb-help",
      textContent: "Drag: move · click: cursor A · Shift + click: cursor B · with the diagram in focus: wheel or + − zoom, ← → move, "
        + "Home all, A B choose the cursor, comma and full stop search" });
    if (this.model.get("rows").some((row) => row.compares)) {
      make("div", this.root, { className: "tb-help", textContent: "Thin line and upper bars: recorded · broad line and lower bars: expected · hatched: they differ" });
    }
    this.listen();
  }

  // --- the parts of the page ---

  tools() {
    const bar = make("div", this.root, { className: "tb-bar" });
    const button = (text, label, act) => make("button", bar, { textContent: text, title: label, label, onclick: act });
    button("+", "Zoom in", () => this.zoom(0.5));
    button("−", "Zoom out", () => this.zoom(2));
    button("All", "Show all", () => this.show(...this.model.get("span")));
    button("◀", "Move left", () => this.pan(-0.5));
    button("▶", "Move right", () => this.pan(0.5));
    button("A–B", "Zoom to what lies between the cursors", () => this.between());
    button("Clear", "Remove both cursors", () => { this.put("cursor_a", null); this.put("cursor_b", null); });
    make("span", bar, { className: "tb-gap" });
    this.row = make("select", bar, { label: "Signal to search", onchange: () => this.choose() });
    this.model.get("rows").forEach((row, i) => make("option", this.row, { value: i, textContent: row.name }));
    this.kind = make("select", bar, { label: "What to search for", onchange: () => this.choose() });
    this.model.get("kinds").forEach((kind) => make("option", this.kind, { value: kind, textContent: kind }));
    this.value = make("input", bar, { label: "Value to search for", placeholder: "value" });
    button("◀ find", "Find before the cursor", () => this.search(true));
    button("find ▶", "Find after the cursor", () => this.search(false));
    this.value.onkeydown = (event) => { if (event.key === "Enter") this.search(event.shiftKey); };
  }

  body() {
    const body = make("div", this.root, { className: "tb-body" });
    const names = make("div", body, { className: "tb-names" });
    make("div", names, { style: `height:${AXIS}px` });
    this.names = this.model.get("rows").map((row) => {
      const box = make("div", names, { className: "tb-name", style: `height:${tall(row)}px` });
      make("span", box, { textContent: row.name + (row.unit ? `, ${row.unit}` : "") });
      return { box, value: make("span", box, { className: "tb-value" }) };
    });
    this.canvas = make("canvas", body, { tabIndex: 0 });
    this.canvas.setAttribute("role", "img");
    this.height = AXIS + this.model.get("rows").reduce((sum, row) => sum + tall(row), 0);
    this.choose();
  }

  choose() {
    this.names.forEach(({ box }, i) => box.classList.toggle("tb-chosen", i === +this.row.value));
    this.value.hidden = ["change", "rise", "fall", "differs"].includes(this.kind.value);
  }

  listen() {
    const canvas = this.canvas;
    canvas.addEventListener("pointerdown", (event) => this.grab(event));
    canvas.addEventListener("pointermove", (event) => this.drag(event));
    canvas.addEventListener("pointerup", (event) => this.drop(event));
    canvas.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    canvas.addEventListener("keydown", (event) => this.key(event));
    this.watch = new ResizeObserver(() => this.ask());
    this.watch.observe(canvas);
    const theme = new MutationObserver(() => this.draw());
    theme.observe(document.body, { attributes: true, attributeFilter: ["data-jp-theme-light", "class"] });
    this.model.on("msg:custom", this.told = (message, buffers) => this.hear(message, buffers));
    this.model.on("change:shown", this.moved = () => this.move());
    this.model.on("change:cursor_a change:cursor_b change:values change:readout", this.read = () => this.write());
    this.stop = () => {
      this.watch.disconnect();
      theme.disconnect();
      this.model.off("msg:custom", this.told);
      this.model.off("change:shown", this.moved);
      this.model.off("change:cursor_a change:cursor_b change:values change:readout", this.read);
    };
    this.write();
  }

  // --- moving ---

  get view() { return this.model.get("shown"); }
  get width() { return this.canvas.clientWidth || 600; }
  tick(x) { const [a, b] = this.view; return a + (x / this.width) * (b - a); }
  place(tick) { const [a, b] = this.view; return ((tick - a) / (b - a)) * this.width; }

  move() {
    // The kernel echoes what it was told last; a move that it has not been told of yet must survive that.
    if (this.later && String(this.view) !== String(this.mine)) { this.model.set("shown", this.mine); return; }
    this.draw();
    this.ask();
  }

  show(start, stop) {
    const [first, last] = this.model.get("span"), widest = (last - first) * 1.1;
    const span = Math.min(Math.max(stop - start, 4), Math.max(widest, 4));
    const middle = Math.min(Math.max((start + stop) / 2, first), last);
    this.mine = [middle - span / 2, middle + span / 2];
    this.model.set("shown", this.mine);
    this.save();
  }

  save() {
    clearTimeout(this.later);     // the kernel needs to know where we are, but not on every pixel
    this.later = setTimeout(() => this.tell(), 120);
  }

  tell() {
    clearTimeout(this.later);
    this.later = null;
    this.model.save_changes();
  }

  zoom(factor, x = this.width / 2) {
    const at = this.tick(x), [a, b] = this.view;
    this.show(at - (at - a) * factor, at + (b - at) * factor);
  }

  pan(part) { const [a, b] = this.view; this.show(a + part * (b - a), b + part * (b - a)); }

  between() {
    const [a, b] = [this.model.get("cursor_a"), this.model.get("cursor_b")];
    if (a === null || b === null || a === b) return;
    const margin = Math.abs(b - a) * 0.15;
    this.show(Math.min(a, b) - margin, Math.max(a, b) + margin);
  }

  put(name, tick) {
    if (tick !== null) this.active = name;
    this.model.set(name, tick === null ? null : Math.max(0, Math.round(tick)));
    this.model.save_changes();
    this.draw();
  }

  grab(event) {
    this.canvas.setPointerCapture(event.pointerId);
    const near = ["cursor_a", "cursor_b"].find((name) => {
      const tick = this.model.get(name);
      return tick !== null && Math.abs(this.place(tick) - event.offsetX) < 6;
    });
    this.held = { x: event.offsetX, view: this.view, cursor: near, far: false };
  }

  drag(event) {
    if (!this.held) return;
    const moved = event.offsetX - this.held.x;
    this.held.far ||= Math.abs(moved) > 3;
    if (!this.held.far) return;
    if (this.held.cursor) { this.put(this.held.cursor, this.tick(event.offsetX)); return; }
    const [a, b] = this.held.view, ticks = (moved / this.width) * (b - a);
    this.show(a - ticks, b - ticks);
  }

  drop(event) {
    if (this.held && !this.held.far) this.put(event.shiftKey ? "cursor_b" : "cursor_a", this.tick(event.offsetX));
    this.held = null;
  }

  wheel(event) {
    if (document.activeElement !== this.canvas) return;   // else the page scrolls, as everywhere
    event.preventDefault();
    this.zoom(Math.exp(Math.sign(event.deltaY) * Math.min(Math.abs(event.deltaY), 100) * 0.0025), event.offsetX);
  }

  key(event) {
    const acts = { ArrowLeft: () => this.pan(-0.1), ArrowRight: () => this.pan(0.1), "+": () => this.zoom(0.5), "=": () => this.zoom(0.5),
      "-": () => this.zoom(2), Home: () => this.show(...this.model.get("span")), ",": () => this.search(true), ".": () => this.search(false),
      a: () => this.pick("cursor_a"), b: () => this.pick("cursor_b") };
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (!(key in acts) || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    event.stopPropagation();
    acts[key]();
  }

  pick(name) {
    this.active = name;
    if (this.model.get(name) === null) this.put(name, this.tick(this.width / 2));
  }

  search(back) {
    const at = this.model.get(this.active);
    this.tell();                  // before the kernel answers with a view of its own
    this.model.send({ ask: "search", row: +this.row.value, kind: this.kind.value, value: this.value.value,
      after: at === null ? this.view[back ? 1 : 0] - (back ? 0 : 1) : at, back });
  }

  // --- talking to the kernel ---

  ask() {
    if (this.waiting && performance.now() - this.asked < 5000) { this.again = true; return; }   // an answer may get lost
    const [a, b] = this.view, span = b - a, data = this.data;
    const fine = data && (data.stop - data.start) <= 2.5 * (1 + 2 * MARGIN) * span;
    const covered = data && data.start <= Math.max(a, 0) - 0.2 * span * (a > 0) && data.stop >= b + 0.2 * span;
    if (fine && covered && !this.stale) return;
    this.waiting = true;
    this.asked = performance.now();
    this.stale = false;
    this.model.send({ ask: "window", start: Math.max(a - MARGIN * span, 0), stop: b + MARGIN * span,
      columns: Math.round(this.width * devicePixelRatio * (1 + 2 * MARGIN)) });
  }

  hear(message, buffers) {
    if (message.tell === "window") this.take(message, buffers);
    else if (message.tell === "stale") { this.stale = true; this.ask(); }
    else if (message.tell === "found") {
      this.note = message.text;
      if (message.tick !== null) {
        this.put(this.active, message.tick);
        const [a, b] = this.view;
        if (message.tick < a || message.tick > b) this.show(message.tick - (b - a) / 2, message.tick + (b - a) / 2);
      }
      this.write();
    }
  }

  take(message, buffers) {
    const left = buffers.map(floats);
    const rows = message.rows.map(({ parts }, i) => {
      const arrays = this.model.get("rows")[i].kind === "bus" ? 3 : 2;
      return { parts: parts.map((part) => ({ ...part, arrays: left.splice(0, arrays) })), differ: left.splice(0, 2) };
    });
    this.data = { start: message.start, stop: message.stop, rows };
    this.waiting = false;
    this.root.dataset.windows = +(this.root.dataset.windows || 0) + 1;
    this.draw();
    if (this.again || this.stale) { this.again = false; this.ask(); }
  }

  write() {
    const values = this.model.get("values");
    this.names.forEach(({ value }, i) => {
      const [a, b] = values[i] || ["", ""];
      value.textContent = [a && `A ${a}`, b && `B ${b}`].filter(Boolean).join(" · ");
    });
    this.readout.textContent = [this.model.get("readout"), this.note].filter(Boolean).join("\n");
    this.draw();
  }

  // --- drawing ---

  draw() {
    if (this.frame) return;
    this.frame = requestAnimationFrame(() => { this.frame = 0; this.paint(); });
  }

  paint() {
    const canvas = this.canvas, ratio = devicePixelRatio || 1;
    canvas.style.height = `${this.height}px`;
    if (canvas.width !== Math.round(this.width * ratio) || canvas.height !== Math.round(this.height * ratio)) {
      canvas.width = Math.round(this.width * ratio);
      canvas.height = Math.round(this.height * ratio);
    }
    const pen = this.pen = canvas.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, this.width, this.height);
    pen.font = "12px sans-serif";
    this.ink = colours(this.root);
    this.axis();
    let top = AXIS;
    this.model.get("rows").forEach((row, i) => {
      if (this.data) this.paintRow(row, this.data.rows[i], top);
      top += tall(row);
      this.rule(top);
    });
    ["cursor_a", "cursor_b"].forEach((name, i) => this.cursor(this.model.get(name), "AB"[i]));
    const rows = this.model.get("rows").map((row) => row.name).join(", ");
    canvas.setAttribute("aria-label", `Scope, ticks ${plain(Math.round(this.view[0]))} to ${plain(Math.round(this.view[1]))}: ${rows}. `
      + this.model.get("readout"));
    this.root.dataset.drawn = +(this.root.dataset.drawn || 0) + 1;
  }

  rule(y) {
    const { pen } = this;
    pen.globalAlpha = 0.25;
    pen.fillStyle = this.ink.ink;
    pen.fillRect(0, y - 0.5, this.width, 1);
    pen.globalAlpha = 1;
  }

  axis() {
    const { pen } = this, [a, b] = this.view, tickS = this.model.get("tick_s");
    const far = a > 3000 * (b - a) ? Math.floor(a) : 0;
    this.scale(a - far, b - far, 12, (v) => v + far, (v) => plain(v), Math.max(step(b - a, 8), 1), far ? `ticks after tick ${plain(far)}` : "tick");
    if (tickS) {
      const [unit, per] = UNITS.find(([, per]) => (b - a) * tickS * per >= 2) || UNITS[4], k = tickS * per;
      this.scale((a - far) * k, (b - far) * k, 28, (v) => v / k + far, (v) => plain(+v.toPrecision(9)), step((b - a) * k, 8), unit);
    }
    this.rule(AXIS);
    pen.globalAlpha = 1;
  }

  scale(low, high, y, tickOf, text, stride, unit) {
    const { pen } = this;
    pen.fillStyle = this.ink.ink;
    pen.textAlign = "right";
    const named = this.width - pen.measureText(unit).width - 8;
    pen.fillText(unit, this.width - 2, y);
    for (let v = Math.ceil(low / stride) * stride; v <= high; v += stride) {
      const x = this.place(tickOf(v));
      const words = text(v), half = pen.measureText(words).width / 2;
      pen.textAlign = "center";
      if (x + half < named && x > -1) pen.fillText(words, Math.max(x, half), y);    // never cut off at the left edge
      if (y < 20 && x >= 0) { pen.globalAlpha = 0.12; pen.fillRect(x, AXIS, 1, this.height - AXIS); pen.globalAlpha = 1; }
    }
  }

  paintRow(row, part, top) {
    const { pen } = this;
    pen.save();
    pen.beginPath();
    pen.rect(0, top, this.width, tall(row));
    pen.clip();
    const [recorded, expected] = part.parts, own = expected ? this.ink.other : this.ink.line;
    if (row.kind !== "curve" || this.seldom(part.differ)) this.differ(part.differ, top, tall(row));
    if (row.kind === "bus") {
      if (expected) this.slabs(expected, top + 26, this.ink.line, true);
      this.slabs(recorded, top, own, false);
    } else {
      const limits = this.range(row, part.parts);
      if (expected) this.line(row, expected, top, limits, this.ink.line, true);
      this.line(row, recorded, top, limits, own, false);
      if (row.kind === "curve" && recorded.points) this.limits(...limits, top, tall(row), 10);
    }
    pen.restore();
  }

  seldom([begin, end]) {          // two curves that are nowhere quite equal: the lines say it better
    const [a, b] = this.view;
    return begin.reduce((sum, from, i) => sum + Math.max(Math.min(end[i], b) - Math.max(from, a), 0), 0) < 0.6 * (b - a);
  }

  differ([begin, end], top, high) {
    const { pen } = this;
    pen.strokeStyle = this.ink.ink;
    pen.lineWidth = 0.8;
    pen.globalAlpha = 0.6;
    for (let i = 0; i < begin.length; i++) {
      const a = Math.max(this.place(begin[i]), 0), b = Math.min(Math.max(this.place(end[i]), this.place(begin[i]) + 3), this.width);
      if (b <= a) continue;
      pen.save();
      pen.beginPath();
      pen.rect(a, top, b - a, high);
      pen.clip();
      pen.beginPath();
      for (let x = a - high; x < b; x += 6) { pen.moveTo(x, top + high); pen.lineTo(x + high, top); }
      pen.stroke();
      pen.restore();
    }
    pen.globalAlpha = 1;
  }

  range(row, parts) {
    if (row.kind === "level") return [0, 1];
    const extents = parts.filter((part) => part.points).map((part) => this.extent(...part.arrays));
    const [low, peak] = [Math.min(...extents.map((e) => e[0])), Math.max(...extents.map((e) => e[1]))];
    return low === peak ? [low - 1, peak + 1] : [low, peak];
  }

  line(row, part, top, [low, peak], colour, broad) {
    const { pen } = this, [x, y] = part.arrays, high = tall(row), pad = row.kind === "level" ? 8 : 10;
    if (!x.length) return;
    const at = (v) => top + high - pad - ((v - low) / (peak - low)) * (high - 2 * pad);
    pen.beginPath();
    pen.moveTo(this.place(x[0]), at(y[0]));
    for (let i = 1; i < x.length; i++) {
      const px = this.place(x[i]);
      if (part.steps) pen.lineTo(px, at(y[i - 1]));
      pen.lineTo(px, at(y[i]));
    }
    if (part.steps) pen.lineTo(this.place(Math.min(this.data.stop, this.model.get("span")[1])), at(y[y.length - 1]));
    pen.strokeStyle = colour;
    pen.lineWidth = broad ? BROAD : 1.5;
    pen.globalAlpha = broad ? FAINT : 1;
    pen.stroke();
    pen.globalAlpha = 1;
  }

  extent(x, y) {
    const [a, b] = this.view;
    let low = Infinity, peak = -Infinity, held = y[0];
    for (let i = 0; i < x.length; i++) {
      if (x[i] > b) break;
      if (x[i] < a) { held = y[i]; continue; }
      low = Math.min(low, y[i]);
      peak = Math.max(peak, y[i]);
    }
    return [Math.min(low, held), Math.max(peak, held)];
  }

  limits(low, peak, top, high, pad) {
    const { pen } = this;
    pen.fillStyle = this.ink.ink;
    pen.textAlign = "left";
    pen.strokeStyle = this.ink.page;                        // a halo, so that the numbers stay readable on the curve
    pen.lineWidth = 4;
    for (const [number, y] of [[peak, top + pad + 4], [low, top + high - 5]]) {
      const text = plain(+number.toPrecision(5));
      pen.strokeText(text, 4, y);
      pen.fillText(text, 4, y);
    }
  }

  slabs(part, top, colour, broad) {
    const { pen } = this, [begin, end, hatch] = part.arrays, low = top + 29, high = top + 6;
    pen.strokeStyle = colour;
    pen.lineWidth = broad ? 3 : 1.1;
    for (let i = 0; i < begin.length; i++) {
      const a = this.place(begin[i]), b = Math.max(this.place(end[i]), a + 1);
      if (b < -20 || a > this.width + 20) continue;
      const lean = Math.min(3.5, (b - a) / 2);
      pen.beginPath();
      pen.moveTo(a, low); pen.lineTo(a + lean, high); pen.lineTo(b, high); pen.lineTo(b - lean, low); pen.closePath();
      pen.globalAlpha = this.ink.dark ? 0.3 : 0.18;
      pen.fillStyle = colour;
      pen.fill();
      pen.globalAlpha = broad ? FAINT : 1;
      pen.stroke();
      pen.globalAlpha = 1;
      if (hatch[i]) this.hatch(Math.max(a, 0), Math.min(b, this.width), hatch[i], low, high);
      this.words(part.texts[i], Math.max(a, 0), Math.min(b, this.width), (low + high) / 2);
    }
  }

  hatch(a, b, kind, low, high) {
    const { pen } = this, busy = kind < 0, top = busy ? high : low - 6, lean = [0, 4, 0, -4][busy ? 0 : kind] || 0, gap = busy ? 3 : 5;
    pen.save();
    pen.beginPath();
    pen.rect(a, top, b - a, low - top);
    pen.clip();
    pen.beginPath();
    for (let x = a - 6; x < b + 6; x += gap) { pen.moveTo(x, low); pen.lineTo(x + lean, top); }
    pen.lineWidth = 0.9;
    pen.stroke();
    pen.restore();
  }

  words(text, a, b, y) {
    if (text === undefined || b - a < 10) return;
    const { pen } = this;
    if (pen.measureText(text).width > b - a - 6) return;     // a value that finds no room is left out, never shortened
    pen.fillStyle = this.ink.ink;
    pen.textAlign = "center";
    pen.fillText(text, (a + b) / 2, y + 4);
  }

  cursor(tick, name) {
    if (tick === null || tick === undefined) return;
    const { pen } = this, x = this.place(tick);
    if (x < -8 || x > this.width + 8) return;
    pen.strokeStyle = pen.fillStyle = this.ink.other;
    pen.lineWidth = 1.4;
    pen.setLineDash(name === "A" ? [7, 3] : [2, 3]);
    pen.beginPath();
    pen.moveTo(x, AXIS - 4);
    pen.lineTo(x, this.height);
    pen.stroke();
    pen.setLineDash([]);
    pen.textAlign = x < 12 ? "left" : "right";
    pen.font = "bold 12px sans-serif";
    pen.fillText(name, x + (x < 12 ? 3 : -3), AXIS + 10);
    pen.font = "12px sans-serif";
  }
}

export default {
  render({ model, el }) {
    const view = new View(model, el);
    return () => view.stop();
  },
};
