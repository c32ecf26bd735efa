// The picture that came with the page, which answers to a pointer until the chart library is there: a line at a speed.
const SVG = "http://www.w3.org/2000/svg";
const NUMBERS = 44; // px under the lowest panel for the numbers of its axis; what follows is told by the readout line

export class Still {
  constructor(figure, onSpeed) {
    this.figure = figure;
    this.pictures = [...figure.querySelectorAll("svg[data-speeds]")].map(svg => new Picture(svg));
    for (const picture of this.pictures) {
      for (const kind of ["pointerdown", "pointermove"]) picture.svg.addEventListener(kind, event => {
        const rpm = picture.speedAt(event.clientX);
        if (rpm !== null) onSpeed(rpm);
      });
    }
  }

  show(rpm) { for (const picture of this.pictures) picture.show(rpm); }
}

// One drawing; it says itself between which places it has which speeds, and from where to where its axes reach.
class Picture {
  constructor(svg) {
    this.svg = svg;
    [this.low, this.high, this.left, this.right, this.top, this.bottom] = svg.dataset.speeds.split(" ").map(Number);
    this.line = document.createElementNS(SVG, "line");
    this.line.setAttribute("class", "cursor"); this.line.setAttribute("y1", this.top); this.line.setAttribute("y2", this.bottom);
    svg.append(this.line);
    svg.viewBox.baseVal.height = this.bottom + NUMBERS;
  }

  speedAt(clientX) {
    const box = this.svg.getBoundingClientRect(), x = (clientX - box.left) * this.svg.viewBox.baseVal.width / box.width;
    const part = (x - this.left) / (this.right - this.left);
    return part < 0 || part > 1 ? null : this.low + part * (this.high - this.low);
  }

  show(rpm) {
    const x = this.left + (rpm - this.low) / (this.high - this.low) * (this.right - this.left);
    this.line.setAttribute("x1", x); this.line.setAttribute("x2", x);
  }
}
