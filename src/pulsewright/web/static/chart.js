// Curves over engine speed: torque above, lambda below on the same axis, one readout line for all of them.
// A curve that moves under a hand is one line over the chart: to draw the whole chart anew takes many times as long.
import { Moving } from "./moving_curve.js";
import { colour, element, number, onTheme, narrow } from "./page.js";
import { Still } from "./still_picture.js";

const THIN = 1.7, THICK = 4, FAINT = 0.68, SHORTEST_LAMBDA = 0.16;
const FONT = '"DejaVu Sans", Verdana, sans-serif';
export const faded = (hex, opacity) => {
  const [r, g, b] = [1, 3, 5].map(k => parseInt(hex.slice(k, k + 2), 16));
  return `rgba(${r},${g},${b},${opacity})`;
};
const known = values => Boolean(values) && values.some(v => v !== null);

// Value of a curve at a speed, straight between its neighbours; null outside and in gaps.
export function at(curve, values, rpm) {
  const xs = curve.rpm;
  if (!known(values) || rpm < xs[0] || rpm > xs[xs.length - 1]) return null;
  let k = xs.findIndex(x => x >= rpm);
  if (k <= 0) return values[0];
  const a = values[k - 1], b = values[k];
  return a === null || b === null ? null : a + (b - a) * (rpm - xs[k - 1]) / (xs[k] - xs[k - 1]);
}

export class Chart {
  constructor(box, words, { height = "", readout = null } = {}) {
    this.box = box; this.words = words; this.ranges = {};
    this.plot = element("div", { class: "plot " + height, role: "img", "aria-label": words.label });
    this.slider = element("input", { type: "range", step: "10", "aria-label": words.speed });
    this.readout = element("div", { class: "readout" });
    const figure = box.querySelector("figure.still");
    this.still = figure && new Still(figure, rpm => this.point(rpm));
    box.replaceChildren(figure || this.plot, this.slider);
    (readout || box).append(this.readout);
    this.slider.addEventListener("input", () => this.show(Number(this.slider.value)));
    for (const kind of ["pointerdown", "pointermove"]) this.plot.addEventListener(kind, event => this.touch(event), true);
    onTheme(() => this.ground && this.draw(this.ground, this.over));
  }

  // A finger on the curves takes the readout with it; a mouse does so by pointing.
  touch(event) {
    const area = this.plot.querySelector(".nsewdrag");
    if (event.pointerType === "mouse" || !area) return;
    const box = area.getBoundingClientRect(), [low, high] = this.plot.layout.xaxis.range;
    const part = (event.clientX - box.left) / box.width;
    if (part < 0 || part > 1) return;
    this.point(low + part * (high - low));
  }

  point(rpm) {
    this.slider.value = Math.round(rpm / 10) * 10;
    this.show(this.rpm);
  }

  get rpm() { return Number(this.slider.value); }

  // Until the chart library is there, the picture that came with the page answers.
  begin(data) {
    this.data = data;
    this.reach(data);
    this.show(this.rpm);
  }

  // `over`: the curve that moves. While `data` is the one that is drawn and the axes have room, it alone is drawn.
  draw(data, over = null, theme = colour("card")) {
    const whole = over ? { ...data, curves: [...data.curves, over] } : data;
    const axes = JSON.stringify([this.torqueRange(whole), this.lambdaRange(whole)]);
    const same = over && this.ground === data && this.axes === axes && this.theme === theme;
    Object.assign(this, { data: whole, ground: data, over, axes, theme });
    if (!same) this.drawAll(data);
    this.layOver();
    this.tell(this.rpm);
  }

  layOver() {
    const over = this.over;
    if (over) this.moving.draw(over, this.plot.layout, { tone: colour(over.tone), width: THICK, opacity: FAINT });
    else this.moving.clear();
  }

  // Lowest and highest speed of all curves; the slider follows them.
  reach(data) {
    const low = Math.min(...data.curves.map(c => c.rpm[0]));
    const high = Math.max(...data.curves.map(c => c.rpm[c.rpm.length - 1]));
    const first = this.slider.max === "" || this.lastLow !== low || this.lastHigh !== high;
    if (first) {
      Object.assign(this.slider, { min: Math.ceil(low / 10) * 10, max: Math.floor(high / 10) * 10 });
      const start = this.at ?? (data.hole ? data.hole[2] : (low + high) / 2);
      this.slider.value = Math.round(start / 10) * 10;
      this.lastLow = low; this.lastHigh = high;
    }
    return [low, high];
  }

  drawAll(data) {
    const [low, high] = this.reach(data);
    if (this.still) { this.still.figure.replaceWith(this.plot); this.still = null; }
    Plotly.react(this.plot, this.traces(data), this.layout(data, low, high), { displayModeBar: false, responsive: true, doubleClick: "reset" });
    if (!this.listening) {
      this.listening = true;
      this.moving = new Moving(this.plot);
      this.plot.on("plotly_afterplot", () => this.layOver());
      this.plot.on("plotly_hover", event => this.point(event.xvals[0]));
    }
  }

  traces(data) {
    const lambda = data.curves.some(c => known(c.lambda)), out = [];
    for (const c of data.curves) {
      const tone = colour(c.tone), measured = c.kind === "measured";
      const line = { color: tone, width: measured ? THIN : THICK, dash: c.role === "before" ? "dash" : "solid" };
      const common = { x: c.rpm, name: c.name, mode: "lines", hoverinfo: "none", showlegend: false, opacity: measured ? 1 : FAINT };
      if (known(c.low)) out.push({ x: [...c.rpm, ...c.rpm.slice().reverse()], y: [...c.high, ...c.low.slice().reverse()],
        fill: "toself", fillcolor: faded(tone, 0.15), line: { width: 0 }, hoverinfo: "skip", showlegend: false, mode: "lines" });
      out.push({ ...common, y: c.torque, line });
      if (lambda && known(c.lambda)) out.push({ ...common, y: c.lambda, line, yaxis: "y2" });
    }
    return out;
  }

  layout(data, low, high) {
    const lambda = data.curves.some(c => known(c.lambda)), ink = colour("ink"), faint = colour("faint");
    const axis = { gridcolor: colour("line"), linecolor: faint, tickcolor: faint, zeroline: false, fixedrange: narrow.matches };
    const shapes = [];
    const span = (from, to, fill, yref = "paper", y0 = 0, y1 = 1) => shapes.push({ type: "rect", layer: "below", xref: "x", yref, x0: from, x1: to, y0, y1, fillcolor: fill, line: { width: 0 } });
    if (data.band) span(data.band[0], data.band[1], colour("band"));
    if (data.hole) span(data.hole[0], data.hole[1], colour("hole"));
    if (data.target && lambda) shapes.push({ type: "rect", layer: "below", xref: "paper", yref: "y2", x0: 0, x1: 1, y0: data.target[0], y1: data.target[1], fillcolor: faded(colour("before"), 0.12), line: { width: 0 } });
    shapes.push({ type: "line", xref: "x", yref: "paper", x0: this.rpm, x1: this.rpm, y0: 0, y1: 1, line: { color: ink, width: 1.2 } });
    const title = text => ({ text, font: { size: 12, color: faint } });
    return {
      margin: { l: 58, r: 10, t: 8, b: 40 }, paper_bgcolor: colour("card"), plot_bgcolor: colour("card"),
      font: { family: FONT, size: 12, color: ink }, hovermode: "x", dragmode: narrow.matches ? false : "zoom", shapes,
      separators: data.comma ? ", " : ". ", uirevision: "kept",
      xaxis: { ...axis, title: title("rpm"), range: [low, high], anchor: lambda ? "y2" : "y" },
      yaxis: { ...axis, title: title(data.torqueUnit), domain: lambda ? [0.36, 1] : [0, 1], range: this.ranges.torque },
      ...(lambda ? { yaxis2: { ...axis, title: title(data.mixtureUnit), domain: [0, 0.3], range: this.ranges.lambda, nticks: this.plot.clientHeight < 300 ? 3 : 5 } } : {}),
    };
  }

  // Axes stay where they are while something is moved, and grow only where a curve would leave them.
  torqueRange(data) {
    const all = data.curves.flatMap(c => [...c.torque, ...(c.low || []), ...(c.high || [])]).filter(v => v !== null);
    let low = Math.min(...all), high = Math.max(...all);
    const room = Math.max(0.06 * (high - low), (0.25 * high - (high - low)) / 2, 0);
    return this.grown("torque", low, high, room, 0);
  }

  lambdaRange(data) {
    const all = [...data.curves.flatMap(c => c.lambda || []), ...(data.target || [])].filter(v => v !== null);
    if (!all.length) return null;
    const low = Math.min(...all), high = Math.max(...all), unit = data.mixtureUnit === "AFR" ? 14 : 1;
    return this.grown("lambda", low, high, Math.max(0.06 * (high - low), (SHORTEST_LAMBDA * unit - (high - low)) / 2));
  }

  grown(name, low, high, room, floor = -Infinity) {
    const now = this.ranges[name];
    if (!now || low < now[0] || high > now[1]) {
      const wide = [Math.max(floor, low - room), high + room];
      this.ranges[name] = now ? [Math.min(wide[0], now[0]), Math.max(wide[1], now[1])] : wide;
    }
    return this.ranges[name];
  }

  show(rpm) {
    if (!this.data) return;
    if (this.still) { this.still.show(rpm); this.tell(rpm); return; }
    const last = this.plot.layout.shapes.length - 1;
    Plotly.relayout(this.plot, { [`shapes[${last}].x0`]: rpm, [`shapes[${last}].x1`]: rpm });
    this.tell(rpm);
  }

  rows(rpm) {
    const d = this.data;
    return d.curves.map(c => {
      const value = at(c, c.torque, rpm), mixture = at(c, c.lambda, rpm);
      const sample = element("span", { class: `sample ${c.kind} ${c.role}` });
      sample.style.borderColor = colour(c.tone);
      return element("tr", {}, element("th", { scope: "row" }, sample, [c.name, c.words].filter(Boolean).join(": ")),
        element("td", { class: "value", text: number(value, d.torqueDigits, d.comma) + "\u202f" + d.torqueUnit }),
        element("td", { class: "value", text: known(c.lambda) ? number(mixture, d.mixtureDigits, d.comma) : "" }));
    });
  }

  tell(rpm) {
    this.at = rpm;
    const head = element("p", { class: "faint", text: `${this.words.at} ${number(rpm, 0)}\u202frpm` });
    this.readout.replaceChildren(head, element("table", {}, element("tbody", {}, ...this.rows(rpm))));
    this.slider.setAttribute("aria-valuetext", `${rpm} rpm`);
  }

  svg(width = 900, height = 560) {
    if (this.over) this.draw(this.data); // what moves belongs in the picture
    return Plotly.toImage(this.plot, { format: "svg", width, height });
  }
}
