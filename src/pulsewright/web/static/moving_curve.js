// One curve over a finished chart, as two lines of an own drawing: torque above, lambda below.
const SVG = "http://www.w3.org/2000/svg";

export class Moving {
  constructor(plot) {
    this.plot = plot; this.box = document.createElementNS(SVG, "svg"); this.box.setAttribute("class", "moving");
    this.box.setAttribute("aria-hidden", "true");
    this.lines = ["yaxis", "yaxis2"].map(axis => {
      const window = document.createElementNS(SVG, "svg"), line = document.createElementNS(SVG, "path");
      window.append(line); this.box.append(window);
      return { axis, window, line };
    });
  }

  clear() { this.box.remove(); }

  // Margins, domains and ranges are those that the chart was asked for, or that a person zoomed to.
  draw(curve, layout, { tone, width, opacity }) {
    const { l, r, t, b } = layout.margin, room = this.plot.clientWidth - l - r, tall = this.plot.clientHeight - t - b;
    const [from, to] = layout.xaxis.range, x = rpm => (rpm - from) / (to - from) * room;
    for (const { axis, window, line } of this.lines) {
      const values = axis === "yaxis" ? curve.torque : curve.lambda, on = layout[axis];
      if (!on || !values) { line.removeAttribute("d"); continue; }
      const [low, high] = on.range, deep = (on.domain[1] - on.domain[0]) * tall, y = v => (high - v) / (high - low) * deep;
      const place = { x: l, y: t + (1 - on.domain[1]) * tall, width: room, height: deep };
      for (const [name, value] of Object.entries(place)) window.setAttribute(name, value);
      line.setAttribute("d", path(curve.rpm, values, x, y));
      line.setAttribute("stroke", tone); line.setAttribute("stroke-width", width); line.setAttribute("opacity", opacity);
    }
    if (!this.box.isConnected) this.plot.append(this.box);
  }
}

function path(rpm, values, x, y) {
  let text = "", pen = "M";
  values.forEach((v, k) => {
    if (v === null) { pen = "M"; return; }
    text += `${pen}${x(rpm[k]).toFixed(1)} ${y(v).toFixed(1)}`; pen = "L";
  });
  return text;
}
