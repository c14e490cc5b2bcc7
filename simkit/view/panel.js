// The page's half of the bench panel: controls, and an animation that goes on smoothly between two reports of the kernel.

const KEPT = 240;                 // points of a live plot
const SLOWER = [1, 10, 100, 1000];
const FASTEST = 1.2;              // turns per second that an eye can still follow

function make(tag, parent, options = {}) {
  const element = document.createElement(tag);
  const { label, ...rest } = options;
  Object.assign(element, rest);
  if (label) element.setAttribute("aria-label", label);
  parent.append(element);
  return element;
}

function draw(tag, parent, attributes) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  parent.append(element);
  return element;
}

function short(number) {
  if (!Number.isFinite(number)) return "–";
  const size = Math.abs(number);
  return number.toFixed(size >= 1000 ? 0 : size >= 100 ? 1 : size >= 10 ? 2 : 3);
}

function grouped(number) {
  return String(number).replace(/\B(?=(\d{3})+$)/g, "\u2009");
}

class FanPicture {
  constructor(parent, plan, hold) {
    this.plan = plan;
    const box = make("div", parent, { className: "tb-fan" });
    make("h4", box, { textContent: `fan ${plan.name}` });
    this.svg = draw("svg", box, { viewBox: "-70 -70 140 140", role: "img" });
    draw("circle", this.svg, { r: 66, fill: "none", stroke: "currentColor", "stroke-width": 1.5 });
    this.wheel = draw("g", this.svg, {});
    for (let i = 0; i < plan.blades; i++) {
      draw("path", this.wheel, { d: "M 6 -9 Q 30 -26 60 -14 Q 40 2 12 5 Z", transform: `rotate(${(360 / plan.blades) * i})`,
        fill: "var(--tb-a)", "fill-opacity": 0.35, stroke: "var(--tb-a)", "stroke-width": 1.2 });
    }
    draw("circle", this.svg, { r: 13, fill: "var(--jp-layout-color0, #fff)", stroke: "currentColor", "stroke-width": 1.5 });
    draw("rect", this.wheel, { x: 14, y: -3, width: 9, height: 6, fill: "var(--tb-b)" });      // the mark that the pulse sensor sees
    draw("path", this.svg, { d: "M 66 0 l 6 -4 v 8 z", fill: "currentColor" });
    this.number = make("div", box, { className: "tb-number" });
    this.note = make("div", box, { className: "tb-small" });
    const held = make("div", box, { className: "tb-hold" });
    this.check = make("input", held, { type: "checkbox", label: `Hold fan ${plan.name} at a speed`, title: "Hold at a speed, whatever the design commands" });
    make("span", held, { className: "tb-small", textContent: "hold at" });
    this.knob = make("input", held, { type: "range", min: 0, max: plan.top, step: 10, value: plan.top / 2, label: `Speed at which fan ${plan.name} is held, 1/min` });
    this.told = make("span", held, { className: "tb-small" });
    const send = () => { this.touched = performance.now(); this.told.textContent = this.knob.value; hold(this.check.checked ? +this.knob.value : null); };
    this.check.onchange = send;
    this.knob.oninput = () => { this.told.textContent = this.knob.value; if (this.check.checked) send(); };
    this.told.textContent = this.knob.value;
    this.turns = 0;
    this.speed = 0;
  }

  take(state, run) {
    this.number.textContent = `${short(state.rpm)} 1/min`;
    this.svg.setAttribute("aria-label", `fan ${this.plan.name} turns at ${Math.round(state.rpm)} per minute`);
    const real = (state.rpm / 60) * (run.reached || 0);
    const slower = SLOWER.find((s) => real / s <= FASTEST) || 1000;
    const speed = run.running ? real / slower : 0;
    this.note.textContent = state.rpm < 0.5 ? "stands" : slower > 1 && run.running ? `drawn ${slower} × slower` : "drawn at its speed";
    this.speed = speed;
    if (performance.now() - (this.touched || -1e9) > 800) this.check.checked = state.held;     // not before the kernel has heard of it
    if (!run.running) this.turns = state.turns % 1;
  }

  turn(seconds) {
    if (!this.speed && this.drawn === this.turns) return;
    this.turns = (this.turns + this.speed * seconds) % 1;
    this.drawn = this.turns;
    this.wheel.setAttribute("transform", `rotate(${(-360 * this.turns).toFixed(2)})`);
  }
}

class Gauge {
  constructor(table, plan) {
    this.plan = plan;
    const row = make("tr", table);
    make("th", row, { textContent: plan.label, scope: "row" });
    this.number = make("td", row, { className: "tb-number" });
    make("td", row, { textContent: plan.unit });
    const cell = make("td", row);
    this.level = make("div", cell, { className: "tb-level", label: plan.label });
    this.level.setAttribute("role", "meter");
    this.level.setAttribute("aria-valuemin", plan.low);
    this.level.setAttribute("aria-valuemax", plan.high);
    this.fill = make("div", this.level);
    this.canvas = make("canvas", make("td", row), { title: "the last seconds" });
    this.canvas.setAttribute("aria-hidden", "true");
    this.kept = [];
  }

  take(value, seconds) {
    const { low, high } = this.plan, part = (value - low) / (high - low);
    this.number.textContent = short(value);
    this.level.setAttribute("aria-valuenow", value.toFixed(3));
    this.fill.style.width = `${Math.min(Math.max(part, 0), 1) * 100}%`;
    this.level.classList.toggle("tb-over", part > 1);
    if (this.kept.length && seconds < this.kept.at(-1)[0]) this.kept = [];
    if (!this.kept.length || seconds > this.kept.at(-1)[0]) this.kept.push([seconds, value]);
    if (this.kept.length > KEPT) this.kept.shift();
    this.plot();
  }

  plot() {
    const ratio = devicePixelRatio || 1, canvas = this.canvas;
    const [wide, high] = [Math.round(170 * ratio), Math.round(26 * ratio)];
    if (canvas.width !== wide) { canvas.width = wide; canvas.height = high; }
    const pen = canvas.getContext("2d"), kept = this.kept;
    pen.clearRect(0, 0, wide, high);
    if (kept.length < 2) return;
    const values = kept.map((k) => k[1]);
    let [low, top] = [Math.min(...values), Math.max(...values)];
    const least = (this.plan.high - this.plan.low) / 100;       // so that noise does not look like a storm
    if (top - low < least) { const middle = (top + low) / 2; low = middle - least / 2; top = middle + least / 2; }
    const [first, last] = [kept[0][0], kept.at(-1)[0]];
    pen.strokeStyle = getComputedStyle(this.level).getPropertyValue("--tb-a") || "#0072b2";
    pen.lineWidth = 1.4 * ratio;
    pen.beginPath();
    kept.forEach(([t, v], i) => {
      const x = ((t - first) / (last - first)) * wide, y = high - 3 * ratio - ((v - low) / (top - low)) * (high - 6 * ratio);
      if (i) pen.lineTo(x, y); else pen.moveTo(x, y);
    });
    pen.stroke();
  }
}

class Panel {
  constructor(model, el) {
    this.model = model;
    this.plan = model.get("plan");
    this.root = make("div", el, { className: "tb-panel" });
    this.root.dataset.lmSuppressShortcuts = "true";    // keys meant for the panel must not add or delete cells
    this.root.setAttribute("role", "group");
    this.root.setAttribute("aria-label", `Bench with the design ${this.plan.design}`);
    this.controls();
    this.status = make("div", this.root, { className: "tb-status" });
    this.refused = make("div", this.root, { className: "tb-refused" });
    this.refused.setAttribute("role", "alert");
    const parts = make("div", this.root, { className: "tb-parts" });
    this.fansPart(parts);
    this.gaugesPart(parts);
    this.linesPart(parts);
    this.registersPart(parts);
    this.faultsPart(parts);
    make("div", this.root, { className: "tb-caution",
      textContent: "A simulated bench hurts nobody. Where real fans, heat or mains are involved, guards, interlocks and the thermostat are "
        + "hard-wired; local codes and licensed people decide." });
    this.still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.model.on("msg:custom", this.told = (message) => this.hear(message));
    this.before = performance.now();
    this.frame = requestAnimationFrame((now) => this.animate(now));
    this.theme();
    this.send("hello");
  }

  send(what, more = {}) { this.model.send({ do: what, ...more }); }

  part(parent, title, any) {
    const box = make("section", parent);
    box.hidden = !any;
    if (title) make("h4", box, { textContent: title });
    return box;
  }

  // --- the parts of the page ---

  controls() {
    const bar = make("div", this.root, { className: "tb-bar" });
    const button = (text, act, title = "") => make("button", bar, { textContent: text, onclick: act, title });
    this.go = button("Start", () => this.send("start"));
    this.halt = button("Pause", () => this.send("pause"));
    button("Step", () => this.send("step", { size: this.size.value }), "Run exactly this much");
    this.size = this.choice(bar, "Length of a step", this.model.get("steps"), "1 ms");
    this.end = button("Stop", () => this.send("stop"), "End the run");
    button("Reset", () => this.send("reset"), "The same design on the same bench, from reset");
    make("span", bar, { className: "tb-gap" });
    const pace = this.choice(bar, "Pace", this.model.get("paces"), this.model.get("pace"));
    pace.onchange = () => { this.model.set("pace", pace.value); this.model.save_changes(); };
    make("span", bar, { className: "tb-gap" });
    button("Run for", () => this.send("start", { seconds: +seconds.value }), "Run for so many simulated seconds");
    const seconds = make("input", bar, { type: "number", min: 0.001, max: 600, step: "any", value: 1, label: "Simulated seconds to run" });
    make("span", bar, { textContent: "s" });
    this.progress = make("progress", bar, { max: 1, value: 0, hidden: true, label: "Progress of the run" });
    this.left = make("span", bar, { className: "tb-small" });
  }

  choice(parent, label, items, chosen) {
    const box = make("select", parent, { label });
    items.forEach((item) => make("option", box, { value: item, textContent: item, selected: item === chosen }));
    return box;
  }

  fansPart(parent) {
    const box = make("div", this.part(parent, "", this.plan.fans.length), { className: "tb-fans" });
    this.fans = Object.fromEntries(this.plan.fans.map((fan) => [fan.name, new FanPicture(box, fan, (rpm) => this.send("hold", { fan: fan.name, rpm }))]));
  }

  gaugesPart(parent) {
    const table = make("tbody", make("table", this.part(parent, "Measured", this.plan.gauges.length)));
    this.gauges = Object.fromEntries(this.plan.gauges.map((gauge) => [gauge.key, new Gauge(table, gauge)]));
  }

  linesPart(parent) {
    const { lamps, switches } = this.plan, box = this.part(parent, "Lines and switches", lamps.length + switches.length);
    this.lamps = Object.fromEntries(lamps.map(({ name, text }) => {
      const row = make("div", box, { className: "tb-lamp", title: text });
      return [name, { light: make("i", row), text: make("span", row, { textContent: name }) }];
    }));
    switches.forEach(({ name, text }) => {
      const row = make("div", box, { className: "tb-lamp" });
      make("button", row, { textContent: `press ${name}`, title: text, onclick: () => this.send("press", { name }) });
    });
  }

  registersPart(parent) {
    const table = make("tbody", make("table", this.part(parent, "Host registers", this.plan.registers.length)));
    this.registers = Object.fromEntries(this.plan.registers.map((register) => {
      const row = make("tr", table);
      make("th", row, { textContent: register.name, title: register.type, scope: "row" });
      const number = make("td", row, { className: "tb-number" });
      make("td", row, { textContent: register.unit });
      if (register.writable) {
        const entry = make("input", make("td", row), { type: "number", min: register.low, max: register.high, step: register.step,
          label: `New value of ${register.name}` });
        make("button", row.lastChild, { textContent: "set", label: `Set ${register.name}`, onclick: () => set() });
        const set = () => { if (entry.value !== "") this.send("set", { name: register.name, value: +entry.value }); };
        entry.onkeydown = (event) => { if (event.key === "Enter") set(); };
      }
      return [register.name, number];
    }));
  }

  faultsPart(parent) {
    const kinds = {};
    this.plan.faults.forEach(({ terminal, kind }) => (kinds[terminal] ||= []).push(kind));
    const table = make("tbody", make("table", this.part(parent, "Faults", this.plan.faults.length)));
    this.faults = Object.fromEntries(Object.entries(kinds).map(([terminal, list]) => {
      const row = make("tr", table);
      make("th", row, { textContent: terminal, scope: "row" });
      const box = this.choice(make("td", row), `Fault of ${terminal}`, ["none", ...list], "none");
      box.onchange = () => this.send("fault", { terminal, kind: box.value === "none" ? "" : box.value });
      return [terminal, box];
    }));
  }

  // --- reports ---

  hear(message) {
    if (message.tell === "refused") { this.refused.textContent = message.text; this.refusedAt = performance.now(); return; }
    if (message.tell !== "state") return;
    const { run } = message;
    if (performance.now() - (this.refusedAt || 0) > 4000) this.refused.textContent = run.trouble || "";
    Object.entries(message.fans).forEach(([name, state]) => this.fans[name].take(state, run));
    Object.entries(message.gauges).forEach(([key, value]) => this.gauges[key].take(value, message.seconds));
    Object.entries(message.lamps).forEach(([name, share]) => this.lamp(name, share));
    Object.entries(message.registers).forEach(([name, value]) => { this.registers[name].textContent = +value.toPrecision(7); });
    Object.entries(message.faults).forEach(([name, fault]) => {
      const box = this.faults[name];
      if (box && document.activeElement !== box) box.value = fault || "none";
    });
    this.tellRun(message, run);
    this.theme();
  }

  tellRun(message, run) {
    this.go.disabled = run.running;
    this.halt.disabled = this.end.disabled = !run.running;
    this.root.dataset.tick = message.tick;
    const counts = (title, found) => Object.entries(found).map(([name, count]) => `${title} ${name}: ${count}`);
    const told = [`${message.seconds.toFixed(6)} s`, `tick ${grouped(message.tick)}`];
    if (run.running && run.reached) told.push(`runs at ${run.reached.toPrecision(3)} × real time`);
    told.push(...counts("late turns of", message.late), ...counts("samples missed by", message.missed));
    this.status.textContent = told.join(" · ");
    this.progress.hidden = run.part === null;
    this.progress.value = run.part || 0;
    const left = run.remaining;
    this.left.textContent = run.part === null || left === null ? "" : `${Math.round(100 * run.part)} %, ${left < 1 ? "less than 1" : Math.ceil(left)} s left`;
  }

  lamp(name, share) {
    const { light, text } = this.lamps[name], words = share > 0.999 ? "on" : share < 0.001 ? "off" : `${(100 * share).toFixed(0)} %`;
    light.style.background = `color-mix(in srgb, var(--tb-b) ${100 * share}%, transparent)`;
    text.textContent = `${name}: ${words}`;
  }

  theme() {
    const parts = (getComputedStyle(this.root).color.match(/[\d.]+/g) || [0, 0, 0]).map(Number);
    this.root.classList.toggle("tb-dark", parts[0] + parts[1] + parts[2] > 380);
  }

  animate(now) {
    const seconds = Math.min((now - this.before) / 1000, 0.1);
    this.before = now;
    if (!this.still) Object.values(this.fans).forEach((fan) => fan.turn(seconds));
    this.frame = requestAnimationFrame((later) => this.animate(later));
  }

  stop() {
    cancelAnimationFrame(this.frame);
    this.model.off("msg:custom", this.told);
  }
}

export default {
  render({ model, el }) {
    const panel = new Panel(model, el);
    return () => panel.stop();
  },
};
