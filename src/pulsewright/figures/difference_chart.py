"""Torque of one setup over another in per cent: the curve, the band that holds all of it, the worst point."""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass, field

import numpy as np

from pulsewright.figures import svg, words
from pulsewright.figures.numbers import nice_ticks, number, signed
from pulsewright.pulls.comparison import Comparison

WIDTH = 720.0  # [px]
LEFT, RIGHT, TOP, BOTTOM = 56.0, 700.0, 84.0, 374.0
LEAST_SPAN = 4.0  # [%] keeps scatter from looking like a change
LINE_LETTERS = 84
UNDER_AXIS = 62.0


def difference_chart(comparison: Comparison, *, sentence: str = "") -> str:
    """The comparison as a standalone `<svg>`, with its sentence on top."""
    return _Drawing(comparison, sentence or comparison.text).svg()


@dataclass
class _Drawing:
    comparison: Comparison
    sentence: str
    parts: list[str] = field(default_factory=list)

    def svg(self) -> str:
        self._lay_out()
        self._frame()
        self._curves()
        self._worst()
        height = self._legend(BOTTOM + UNDER_AXIS)
        back = svg.box(0.0, 0.0, WIDTH, height, fill="card")
        return svg.document(WIDTH, height, self.sentence, [back, *self.parts], "pw-chart")

    def _lay_out(self) -> None:
        c = self.comparison
        known = np.isfinite(c.curve_percent)
        self.x = svg.scale(float(c.rpm[known][0]), float(c.rpm[known][-1]), LEFT, RIGHT)
        shown = [c.curve_percent[known], *((c.curve.low, c.curve.high) if c.curve else ()), np.zeros(1)]
        low, high = (float(f(np.concatenate(shown))) for f in (np.min, np.max))
        short = max(0.0, LEAST_SPAN - (high - low)) / 2.0
        room = 0.06 * max(high - low, LEAST_SPAN)
        self.low, self.high = low - short - room, high + short + room
        self.y = svg.scale(self.low, self.high, BOTTOM, TOP)
        self.known = known

    def _frame(self) -> None:
        c = self.comparison
        for k, line in enumerate(textwrap.wrap(self.sentence, LINE_LETTERS)[:2]):
            self.parts.append(svg.text(12, 22 + 18 * k, line, size=14, bold=True))
        start, end = (min(max(self.x(b), LEFT), RIGHT) for b in c.band)
        self.parts.append(svg.box(start, TOP, end, BOTTOM, fill="band"))
        title = words.DIFFERENCE.format(second=c.second, first=c.first)
        self.parts.append(svg.text(4, TOP - 12, title, fill="faint"))
        for value in nice_ticks(self.low, self.high, 6):
            y = self.y(value)
            self.parts.append(svg.line(LEFT, y, RIGHT, y, width=1.0))
            label = signed(value, 0 if value == int(value) else 1)
            self.parts.append(svg.text(LEFT - 6, y + 4, label, anchor="end", fill="faint", size=12))
        self.parts.append(svg.line(LEFT, self.y(0.0), RIGHT, self.y(0.0), stroke="ink", width=1.4))
        rpm = c.rpm[self.known]
        for value in nice_ticks(float(rpm[0]), float(rpm[-1]), 7):
            x = self.x(value)
            self.parts.append(svg.line(x, BOTTOM, x, BOTTOM + 5, stroke="faint"))
            self.parts.append(svg.text(x, BOTTOM + 18, number(value), anchor="middle", fill="faint", size=12))
        self.parts.append(svg.text(RIGHT, BOTTOM + 36, words.SPEED, anchor="end", fill="faint"))

    def _curves(self) -> None:
        c = self.comparison
        ys = [self.y(v) if math.isfinite(v) else math.nan for v in c.curve_percent]
        xs = [self.x(v) for v in c.rpm]
        if c.curve is not None:
            within = [self.x(v) for v in c.curve.rpm]
            low, high, middle = ([self.y(v) for v in each] for each in (c.curve.low, c.curve.high, c.curve.percent))
            self.parts.append(svg.band(within, low, high, fill="after", opacity=0.2))
            self.parts.append(svg.curve(within, middle, stroke="after", width=3.0))
        self.parts.append(svg.curve(xs, ys, stroke="ink", width=1.1, opacity=0.75))

    def _worst(self) -> None:
        if self.comparison.curve is None:
            return
        worst = self.comparison.curve.worst
        x, y = self.x(worst.rpm), self.y(worst.percent)
        self.parts.append(svg.line(x, y, x, y + 16, stroke="ink", width=1.4))
        label = f"{words.DIFFERENCE_WORST} {signed(worst.percent, 1)} %, {number(worst.rpm)} rpm"
        anchor = "start" if x < (LEFT + RIGHT) / 2 else "end"
        self.parts.append(svg.text(x, min(y + 30, BOTTOM - 6), label, anchor=anchor, size=12, halo=True))

    def _legend(self, y: float) -> float:
        """The three things drawn, one a line. Returns where the drawing ends."""
        entries = [(words.DIFFERENCE_RAW, "ink", 1.1, 0.75)]
        if self.comparison.curve is not None:
            entries.append((words.DIFFERENCE_TREND, "after", 3.0, 1.0))
            entries.append((words.DIFFERENCE_BAND, "after", 12.0, 0.2))
        for name, tone, width, opacity in entries:
            sample = ([LEFT, LEFT + 34.0], [y - 4.0, y - 4.0])
            self.parts.append(svg.curve(*sample, stroke=tone, width=width, opacity=opacity))
            self.parts.append(svg.text(LEFT + 44.0, y, name, size=12.5))
            y += 19.0
        return y
