"""Torque of one setup less another's with its band, and lambda below on the same axis: the still picture."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from pulsewright.figures import svg, words
from pulsewright.figures.numbers import nice_ticks, number, signed
from pulsewright.figures.setup_difference import SetupDifference

WIDE = 720.0  # [px]
LETTER = 7.4  # [px] of a legend

Say = Callable[[float, int], str]


def setup_difference_chart(
    difference: SetupDifference,
    units: tuple[str, str],
    *,
    width: float = WIDE,
    least: tuple[float, float] = (4.0, 0.04),
    say: Say = signed,
) -> str:
    """The picture as an inline `<svg>`.

    units : of torque and mixture, as the difference holds them. least : shortest axes in these units, which keep
    scatter from looking like a change. say : writes a signed number with so many digits.
    """
    return _Drawing(difference, units, width, least, say).svg()


@dataclass
class _Drawing:
    d: SetupDifference
    units: tuple[str, str]
    width: float
    least: tuple[float, float]
    say: Say
    parts: list[str] = field(default_factory=list)

    def svg(self) -> str:
        d, wide = self.d, self.width > 500
        self.left, self.right = 58.0, self.width - (20.0 if wide else 10.0)
        known = d.rpm[np.isfinite(d.torque)]
        speeds = svg.SpeedAxis(float(known[0]), float(known[-1]), self.left, self.right, 34.0, 0.0)
        self.x = svg.scale(speeds.low, speeds.high, self.left, self.right)
        top, tall, low_tall = speeds.top, 230.0 if wide else 190.0, 110.0 if wide else 95.0
        bottom = top + tall
        self._torque(top, bottom)
        if d.has_mixture:
            top, bottom = bottom + 40.0, bottom + 40.0 + low_tall
            self._mixture(top, bottom)
        self._speeds(bottom, speeds.low, speeds.high)
        height = self._legend(bottom + 62.0)
        return svg.document(self.width, height, d.sentence, self.parts, "pw-chart", replace(speeds, bottom=bottom))

    def _panel(self, top: float, bottom: float, title: str, shown: Sequence[np.ndarray], least: float) -> svg.Scale:
        """Riding band, lines and numbers of one axis with zero on it."""
        values = np.concatenate([*shown, np.zeros(1)])
        low, high = float(np.nanmin(values)), float(np.nanmax(values))
        room = max(0.06 * (high - low), 0.5 * (least - (high - low)), 1e-9)
        y = svg.scale(low - room, high + room, bottom, top)
        start, end = (min(max(self.x(b), self.left), self.right) for b in self.d.riding_band)
        self.parts.append(svg.box(start, top, end, bottom, fill="band"))
        self.parts.append(svg.text(4, top - 12, title, fill="faint"))
        ticks = nice_ticks(low - room, high + room, 4)
        digits = next((n for n in range(3) if all(abs(v - round(v, n)) < 1e-6 for v in ticks)), 3)
        for value in ticks:
            self.parts.append(svg.line(self.left, y(value), self.right, y(value)))
            label = self.say(value, digits)
            self.parts.append(svg.text(self.left - 6, y(value) + 4, label, anchor="end", fill="faint", size=12))
        self.parts.append(svg.line(self.left, y(0.0), self.right, y(0.0), stroke="ink", width=1.4))
        return y

    def _torque(self, top: float, bottom: float) -> None:
        d = self.d
        title = f"{words.TORQUE_WORD}, {d.second} \u2212 {d.first}, {self.units[0]}"
        y = self._panel(top, bottom, title, (d.torque, d.low, d.high), self.least[0])
        within = [self.x(v) for v in d.band_rpm]
        if within:
            low, high, middle = ([y(v) for v in each] for each in (d.low, d.high, d.trend))
            self.parts.append(svg.band(within, low, high, fill="after", opacity=0.2))
            self.parts.append(svg.curve(within, middle, stroke="after", width=3.0))
        self.parts.append(
            svg.curve([self.x(v) for v in d.rpm], [y(v) for v in d.torque], stroke="ink", width=1.1, opacity=0.75)
        )

    def _mixture(self, top: float, bottom: float) -> None:
        d = self.d
        title = f"{self.units[1]}, {d.second} \u2212 {d.first}"
        y = self._panel(top, bottom, title, (d.mixture,), self.least[1])
        leaner = svg.text(self.right, top - 12, f"\u2191 {words.LEANER}", anchor="end", fill="faint", size=12)
        self.parts.append(leaner)
        xs, ys = [self.x(v) for v in d.rpm], [y(v) for v in d.mixture]
        self.parts.append(svg.curve(xs, ys, stroke="ink", width=1.8))

    def _speeds(self, bottom: float, low: float, high: float) -> None:
        self.parts.append(svg.line(self.left, bottom, self.right, bottom, stroke="faint"))
        for value in nice_ticks(low, high, 7 if self.width > 500 else 4):
            x = self.x(value)
            self.parts.append(svg.line(x, bottom, x, bottom + 5, stroke="faint"))
            self.parts.append(svg.text(x, bottom + 18, number(value), anchor="middle", fill="faint", size=12))
        self.parts.append(svg.text(self.right, bottom + 36, words.SPEED, anchor="end", fill="faint"))

    def _legend(self, y: float) -> float:
        """What is drawn, one a line. Returns where the drawing ends."""
        entries = [(words.DIFFERENCE_RAW, "ink", 1.1, 0.75)]
        if self.d.band_rpm.size:
            entries.append((words.DIFFERENCE_TREND, "after", 3.0, 1.0))
            entries.append((words.DIFFERENCE_BAND, "after", 12.0, 0.2))
        for name, tone, thick, opacity in entries:
            sample = ([4.0, 38.0], [y - 4.0, y - 4.0])
            self.parts.append(svg.curve(*sample, stroke=tone, width=thick, opacity=opacity))
            for line in textwrap.wrap(name, int((self.width - 56.0) / LETTER)):
                self.parts.append(svg.text(46.0, y, line, size=12.5))
                y += 18.0
        return y
