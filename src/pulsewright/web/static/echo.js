// The echo in the pipe: to scale over a rule in mm or inches, the wave running away and coming back, valve windows, time.
// Along the pipe and across it one scale holds; pressure is orange above the air outside, blue below it.
import { calm, colour, element, number, onTheme } from "./page.js";

const FONT = '"DejaVu Sans", Verdana, sans-serif', SIDE = 66, EDGE = 8, WAVES = ["total", "away", "back"];
const INCH = 25.4; // mm

export function unpack(data) {
  const waves = {};
  for (const name of WAVES) {
    const bytes = Uint8Array.from(atob(data.waves[name]), c => c.charCodeAt(0));
    const raw = new Int16Array(bytes.buffer), out = new Float32Array(raw.length);
    for (let i = 0; i < raw.length; i++) out[i] = raw[i] * data.factor;
    waves[name] = out;
  }
  return waves;
}

// Colours once for all pressures: 511 steps from full suction to full pressure.
function palette(d) {
  const table = new Uint8ClampedArray(4 * 511);
  for (let k = 0; k < 511; k++) {
    const part = (k - 255) / 255, tone = part >= 0 ? d.orange : d.blue;
    table.set([...tone, 255 * Math.pow(Math.abs(part), d.power)], 4 * k);
  }
  return table;
}

function picture(d, table, wave, width, height, offset) {
  const canvas = document.createElement("canvas"), step = 255 / d.scale;
  canvas.width = width; canvas.height = height;
  const g = canvas.getContext("2d"), image = g.createImageData(width, height), out = image.data;
  for (let k = 0; k < width * height; k++) {
    const at = 4 * (255 + Math.max(-255, Math.min(255, Math.round(wave[offset + k] * step))));
    out[4 * k] = table[at]; out[4 * k + 1] = table[at + 1]; out[4 * k + 2] = table[at + 2]; out[4 * k + 3] = table[at + 3];
  }
  g.putImageData(image, 0, 0);
  return canvas;
}

// One pipe: its two canvases and the field that they show.
class Pipe {
  constructor(said, tell) {
    this.said = said;
    this.title = element("h3", {});
    this.pipe = element("canvas", { role: "img", "aria-label": said.hover });
    this.map = element("canvas", { role: "img", "aria-label": said.hover });
    this.box = element("div", { class: "pipe" }, this.title, this.pipe, this.map);
    for (const canvas of [this.pipe, this.map]) {
      canvas.addEventListener("pointermove", event => this.point(event, canvas, tell));
      canvas.addEventListener("pointerleave", () => tell(""));
    }
  }

  take(data, scale) {
    this.d = { ...data, scale }; this.waves = unpack(data); this.table = palette(this.d); this.maps = {};
    for (const canvas of [this.pipe, this.map]) canvas.setAttribute("aria-label", data.sentence);
    this.reach = Math.max(data.bore / 2, ...data.shapes.flatMap(s => s[1].map(p => Math.abs(p[1]))));
  }

  row(angle) {
    const d = this.d, part = (angle - d.crank[0]) / (d.crank[1] - d.crank[0]);
    return Math.max(0, Math.min(d.nAngle - 1, Math.round(part * (d.nAngle - 1))));
  }

  fit(canvas, height) {
    const width = canvas.clientWidth, dots = Math.min(window.devicePixelRatio || 1, 2);
    const wide = Math.round(width * dots), high = Math.round(height * dots);
    if (canvas.width !== wide || canvas.height !== high) { canvas.width = wide; canvas.height = high; canvas.style.height = height + "px"; }
    const g = canvas.getContext("2d");
    g.setTransform(dots, 0, 0, dots, 0, 0); g.clearRect(0, 0, width, height);
    g.lineJoin = "round";
    return g;
  }

  write(g, text, x, y, tone, align = "left", size = 12, bold = false) {
    g.fillStyle = this.ink[tone]; g.textAlign = align; g.font = (bold ? "600 " : "") + size + "px " + FONT; g.fillText(text, x, y);
  }

  // What every frame needs of the page is read once a resize or change of theme, not once a frame.
  measure(plain, rule) {
    this.ink = Object.fromEntries(["ink", "faint", "line", "metal", "after", "before", "card"].map(n => [n, colour(n)]));
    this.plain = plain; this.rule = rule;
    const room = this.pipe.clientWidth - SIDE - EDGE;
    this.px = room / rule;
    this.tall = 2 * this.reach * this.px;
  }

  drawPipe(angle) {
    const d = this.d, lanes = this.plain ? ["total"] : WAVES, px = this.px;
    const lane = Math.max(this.tall + 14, 30), top = this.plain ? 10 : 30, rule = this.plain ? 8 : 34;
    const g = this.fit(this.pipe, top + lanes.length * lane + rule), width = this.pipe.clientWidth;
    if (!this.plain) this.names(g, top - 10, width);
    const at = this.row(angle) * d.nPlace;
    lanes.forEach((name, k) => {
      const middle = top + lane * k + this.tall / 2 + 2;
      this.outline(g, middle, ["packing"]);
      g.save(); g.beginPath();
      for (const [role, points] of d.shapes) if (role === "gas") { this.trace(g, points, middle); g.closePath(); }
      g.clip();
      const strip = picture(d, this.table, this.waves[name], d.nPlace, 1, at);
      g.drawImage(strip, SIDE + d.place[0] * px, middle - this.reach * px, (d.place[1] - d.place[0]) * px, this.tall);
      g.restore();
      this.outline(g, middle, ["core", "wall", "solid"]);
      const open = (d.liftExhaust[this.row(angle)] || 0) > 0.05, half = 0.62 * d.bore * px;
      g.fillStyle = this.ink[open ? "after" : "ink"]; g.fillRect(SIDE - 4 - (open ? 3 : 0), middle - half, 4, 2 * half);
      this.write(g, this.plain ? this.said.engine : this.said.lanes[name], SIDE - 12, middle + 4, "ink", "right", 11);
    });
    if (!this.plain) this.drawRule(g, top + lanes.length * lane + 2, width);
  }

  trace(g, points, middle) {
    points.forEach((p, i) => { const x = SIDE + p[0] * this.px, y = middle - p[1] * this.px; if (i) g.lineTo(x, y); else g.moveTo(x, y); });
  }

  outline(g, middle, roles) {
    for (const [role, points] of this.d.shapes) {
      if (!roles.includes(role)) continue;
      g.beginPath(); this.trace(g, points, middle);
      if (role === "wall" || role === "core") {
        g.setLineDash(role === "core" ? [3, 3] : []); g.lineWidth = 2; g.strokeStyle = this.ink.metal; g.stroke();
      } else { g.closePath(); g.fillStyle = this.ink[role === "solid" ? "ink" : "line"]; g.fill(); }
    }
    g.setLineDash([]);
  }

  names(g, base, width) {
    let free = 0;
    for (const [mm, text] of this.d.labels) {
      g.font = "11px " + FONT;
      const half = g.measureText(text).width / 2, x = Math.min(Math.max(SIDE + mm * this.px, SIDE + half), width - half);
      if (x - half < free) continue; // no room beside the last one
      this.write(g, text, x, base, "faint", "center", 11);
      free = x + half + 8;
    }
  }

  drawRule(g, y, width) {
    const one = this.inches ? INCH : 1, px = one * this.px, steps = this.inches ? [1, 2, 5, 10, 20, 50] : [10, 20, 50, 100, 200, 500, 1000];
    const step = steps.find(s => s * px >= 52) || 2 * steps[steps.length - 1];
    g.strokeStyle = this.ink.faint; g.lineWidth = 1; g.beginPath();
    for (let at = 0; at * one <= this.rule + 0.01; at += step / 5) {
      const long = Math.abs(at / step - Math.round(at / step)) < 1e-6, x = SIDE + at * px;
      g.moveTo(x, y); g.lineTo(x, y + (long ? 8 : 4));
      if (long && x < width - 48) this.write(g, String(Math.round(at)), x, y + 21, "faint", "center", 11);
    }
    g.stroke();
    this.write(g, this.inches ? "in" : "mm", width - EDGE, y + 21, "faint", "right", 11);
  }

  drawMap(angle, name) {
    const d = this.d, top = 8, tall = this.map.clientWidth < 420 ? 220 : 300, px = this.px;
    const g = this.fit(this.map, top + tall + 10), right = SIDE + this.rule * px;
    const y = a => top + (a - d.crank[0]) / (d.crank[1] - d.crank[0]) * tall;
    this.maps[name] ??= picture(d, this.table, this.waves[name], d.nPlace, d.nAngle, 0);
    this.mapTop = top; this.mapTall = tall;
    g.drawImage(this.maps[name], SIDE + d.place[0] * px, top, (d.place[1] - d.place[0]) * px, tall);
    if (!this.plain) for (let a = 0; a <= 720; a += 90) this.write(g, a + "°", 32, y(a) + 4, "faint", "right", 11);
    for (const [valve, tone, x] of [["exhaust", "after", 38], ["intake", "before", 50]]) {
      for (const round of [-720, 0, 720]) {
        const a = Math.max(d[valve][0] + round, d.crank[0]), b = Math.min(d[valve][1] + round, d.crank[1]);
        if (b <= a) continue;
        g.fillStyle = this.ink[tone]; g.fillRect(x, y(a), 11, y(b) - y(a));
        if (b - a < 160) continue;
        g.save(); g.translate(x + 9, (y(a) + y(b)) / 2); g.rotate(-Math.PI / 2);
        this.write(g, this.said[valve + "Short"], 0, 0, "card", "center", 9.5); g.restore();
      }
    }
    g.strokeStyle = this.ink.faint; g.lineWidth = 1; g.strokeRect(SIDE, top, this.rule * px, tall);
    g.beginPath(); g.moveTo(SIDE + d.end * px, top); g.lineTo(SIDE + d.end * px, top + tall); g.stroke();
    if (d.arrival !== null) {
      const at = y(d.arrival);
      g.fillStyle = this.ink.ink; g.beginPath(); g.moveTo(SIDE - 3, at); g.lineTo(SIDE + 11, at - 7); g.lineTo(SIDE + 11, at + 7); g.fill();
      this.write(g, this.said.echo, SIDE + 16, at - 6, "ink", "left", 11, true); // above the line of the crank
    }
    g.strokeStyle = this.ink.ink; g.lineWidth = 2; g.beginPath(); g.moveTo(SIDE, y(angle)); g.lineTo(right, y(angle)); g.stroke();
  }

  value(name, angle, place) {
    const d = this.d, part = (place - d.place[0]) / (d.place[1] - d.place[0]);
    return this.waves[name][this.row(angle) * d.nPlace + Math.max(0, Math.min(d.nPlace - 1, Math.round(part * (d.nPlace - 1))))];
  }

  point(event, canvas, tell) {
    if (!this.d || this.plain) return;
    const place = (event.offsetX - SIDE) / this.px, d = this.d;
    if (place < 0 || place > d.end) { tell(""); return; }
    let angle = this.angle, name = "total";
    if (canvas === this.map) {
      name = this.name;
      angle = d.crank[0] + (event.offsetY - this.mapTop) / this.mapTall * (d.crank[1] - d.crank[0]);
      if (angle < d.crank[0] || angle > d.crank[1]) { tell(""); return; }
    }
    const where = this.inches ? number(place / INCH, 1, this.comma) + "\u202fin" : Math.round(place) + "\u202fmm";
    tell(`${where}, ${Math.round(angle)}°: ${number(this.value(name, angle, place), 1, this.comma, true)}\u202fkPa`);
  }

  show(angle, name) { this.angle = angle; this.name = name; this.drawPipe(angle); this.drawMap(angle, name); }
}

const inside = (window, a) => [-720, 0, 720].some(round => a >= window[0] + round && a <= window[1] + round);

// The stage: one pipe, or the machine as it is beside it; one crank for both.
export class Echo {
  constructor(box, said) {
    this.said = said; this.angle = 0; this.playing = false; this.plain = false; this.beside = false; this.frames = 0;
    this.hover = box.querySelector("[data-hover]"); this.state = box.querySelector("[data-state]");
    const tell = text => { this.hover.textContent = text || said.hover; };
    this.now = new Pipe(said, tell); this.before = new Pipe(said, tell);
    box.querySelector("[data-stage]").replaceChildren(this.before.box, this.now.box);
    this.before.box.hidden = true;
    this.control = Object.fromEntries([...box.querySelectorAll("[data-do]")].map(e => [e.dataset.do, e]));
    const c = this.control;
    c.play.addEventListener("click", () => this.playing ? this.stop() : this.play());
    c.less.addEventListener("click", () => this.step(-2)); c.more.addEventListener("click", () => this.step(2));
    c.echo.addEventListener("click", () => this.toEcho());
    c.angle.addEventListener("input", () => { this.stop(); this.go(Number(c.angle.value)); });
    c.which.addEventListener("change", () => this.show());
    c.beside.addEventListener("change", () => { this.beside = c.beside.checked; this.before.box.hidden = !this.beside; this.lay(); this.show(); });
    c.plain.addEventListener("change", () => { this.plain = c.plain.checked; box.classList.toggle("plain", this.plain); this.lay(); this.show(); });
    box.addEventListener("keydown", event => this.key(event));
    new ResizeObserver(() => { this.lay(); this.show(); }).observe(box);
    onTheme(() => { this.lay(); this.show(); });
  }

  get pipes() { return this.beside && this.before.d ? [this.before, this.now] : [this.now]; }

  take(data, before) {
    const first = !this.now.d, scale = Math.max(data.scale, before ? before.scale : 0);
    this.now.take(data, scale);
    if (before && this.besideOf !== before) { this.before.take(before, scale); this.besideOf = before; }
    this.lay();
    if (first) { this.angle = data.arrival === null ? 0 : data.arrival; }
    this.show();
    if (first && !calm.matches) this.play();
  }

  title(now, before) { this.now.title.textContent = now; this.before.title.textContent = before; }

  lay() {
    const rule = Math.max(...this.pipes.map(p => p.d ? p.d.rule : 0));
    if (rule) for (const pipe of this.pipes) { pipe.comma = this.said.comma; pipe.inches = this.said.inches; pipe.measure(this.plain, rule); }
  }

  show() {
    if (!this.now.d) return;
    for (const pipe of this.pipes) pipe.show(this.angle, this.control.which.value);
    this.frames += 1;
    this.tell();
  }

  tell() {
    const p = this.now, d = p.d, a = this.angle, e = inside(d.exhaust, a), i = inside(d.intake, a), said = this.said;
    const valves = e && i ? said.both : e ? said.exhaust : i ? said.intake : said.shut;
    const here = d.arrival !== null && Math.abs(a - d.arrival) <= 8 ? ", " + said.echo : "";
    const kPa = value => number(value, 1, said.comma, true) + "\u202fkPa";
    const numbers = `${said.valve} ${kPa(p.value("total", a, d.place[0]))}; ${said.back} ${kPa(p.value("back", a, d.place[0]))}.`;
    this.state.textContent = this.plain ? valves + here + "." : `${Math.round(a)}°: ${valves}${here}. ${numbers}`;
    this.control.angle.value = a;
    this.control.angle.setAttribute("aria-valuetext", `${Math.round(a)}°, ${valves}${here}`);
  }

  go(angle) { this.angle = ((angle % 720) + 720) % 720; this.show(); }
  step(by) { this.stop(); this.go(2 * Math.round(this.angle / 2) + by); }
  toEcho() { if (this.now.d && this.now.d.arrival !== null) { this.stop(); this.go(this.now.d.arrival); } }
  stop() { this.playing = false; this.control.play.textContent = this.said.play; }
  play() {
    this.playing = true; this.control.play.textContent = this.said.pause; this.last = performance.now();
    requestAnimationFrame(now => this.frame(now));
  }
  frame(now) {
    if (!this.playing) return;
    this.go(this.angle + Math.min(now - this.last, 100) * 0.001 * 720 * Number(this.control.pace.value));
    this.last = now;
    requestAnimationFrame(next => this.frame(next));
  }
  key(event) {
    if (event.altKey || event.ctrlKey || event.metaKey || event.target.matches("input, select")) return;
    const keys = { ArrowLeft: () => this.step(-2), ArrowRight: () => this.step(2), PageUp: () => this.step(-30), PageDown: () => this.step(30), e: () => this.toEcho() };
    if (keys[event.key]) { event.preventDefault(); keys[event.key](); }
  }
}
