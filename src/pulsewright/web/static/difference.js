// Two setups over engine speed, and below on the same axis what lies between them: torque with its band, mixture.
import { Chart, at, faded } from "./chart.js";
import { colour, element, number } from "./page.js";

export class Difference extends Chart {
  constructor(box, words) { super(box, words, { height: "tall" }); }

  traces(data) {
    const torque = super.traces({ ...data, curves: data.curves.map(c => ({ ...c, lambda: null })) });
    const d = data.difference, trend = d.trend, after = colour("after");
    const line = { mode: "lines", hoverinfo: "none", showlegend: false, xaxis: "x" };
    const out = [...torque];
    if (trend.rpm.length) {
      out.push({ ...line, x: [...trend.rpm, ...trend.rpm.slice().reverse()], y: [...trend.high, ...trend.low.slice().reverse()],
        yaxis: "y2", fill: "toself", fillcolor: faded(after, 0.2), line: { width: 0 }, hoverinfo: "skip" });
      out.push({ ...line, x: trend.rpm, y: trend.torque, yaxis: "y2", line: { color: after, width: 3 } });
    }
    out.push({ ...line, x: d.rpm, y: d.torque, yaxis: "y2", line: { color: colour("ink"), width: 1.1 }, opacity: 0.75 });
    if (d.lambda) out.push({ ...line, x: d.rpm, y: d.lambda, yaxis: "y3", line: { color: colour("ink"), width: 1.8 } });
    return out;
  }

  layout(data, low, high) {
    const d = data.difference, base = super.layout({ ...data, curves: data.curves.map(c => ({ ...c, lambda: null })) }, low, high);
    const between = `${data.second} \u2212 ${data.first}`, title = text => ({ text, font: base.xaxis.title.font });
    const named = unit => between.length > 12 ? unit : `${between}, ${unit}`; // a long name has no room beside an axis
    const zero = { zeroline: true, zerolinecolor: colour("ink"), zerolinewidth: 1.2 }, three = Boolean(d.lambda);
    const axis = (values, least, domain, text) => ({ ...base.yaxis, ...zero, domain, title: title(text), range: span(values, least), nticks: 5 });
    return {
      ...base,
      xaxis: { ...base.xaxis, anchor: three ? "y3" : "y2" },
      yaxis: { ...base.yaxis, domain: three ? [0.62, 1] : [0.5, 1] },
      yaxis2: axis([...d.torque, ...d.trend.low, ...d.trend.high], data.least[0], three ? [0.27, 0.57] : [0, 0.44], named(data.torqueUnit)),
      ...(three ? { yaxis3: axis(d.lambda, data.least[1], [0, 0.22], named(data.mixtureUnit)) } : {}),
    };
  }

  rows(rpm) {
    const data = this.data, d = data.difference, on = { rpm: d.rpm };
    const torque = at(on, d.torque, rpm), percent = at(on, d.percent, rpm), mixture = at(on, d.lambda, rpm);
    const low = at(d.trend, d.trend.low, rpm), high = at(d.trend, d.trend.high, rpm);
    const say = (value, digits) => number(value, digits, data.comma, true);
    const band = low === null ? "" : `${this.words.band} ${say(low, 1)} – ${say(high, 1)}`;
    return [...super.rows(rpm), element("tr", { class: "between" },
      element("th", { scope: "row" }, `${data.second} \u2212 ${data.first}`, element("small", { text: band })),
      element("td", { class: "value" }, `${say(torque, 1)}\u202f${data.torqueUnit}`, element("small", { text: `${say(percent, 1)}\u202f%` })),
      element("td", { class: "value", text: d.lambda ? say(mixture, data.mixtureDigits) : "" }))];
  }
}

// An axis that holds all values and zero, and is no shorter than `least`.
function span(values, least) {
  const known = values.filter(v => v !== null), low = Math.min(0, ...known), high = Math.max(0, ...known);
  const room = Math.max(0.06 * (high - low), 0.5 * (least - (high - low)));
  return [low - room, high + room];
}
