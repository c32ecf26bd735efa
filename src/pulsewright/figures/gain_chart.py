"""Changes by what they gain in the riding band and what they do at the top end, with the front marked.

Disc: may be recommended, larger the longer it takes. Cross: refused. The line joins the recommended ones.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field

from pulsewright.figures import svg, words
from pulsewright.figures.numbers import nice_ticks, signed
from pulsewright.remedies.ranking import FRONT, REFUSED, Judged

WIDTH = 720.0  # [px]
LEFT, RIGHT, TOP, BOTTOM = 56.0, 560.0, 84.0, 420.0
LINE_LETTERS = 84
LEAST_SPAN = 4.0  # [%]
SHOWN_LOSS = -15.0  # [%] what loses more at either end is drawn at the edge
SMALL, LARGE, LONG = 4.0, 9.0, 60.0  # [px] radius at no and at 60 minutes


def gain_chart(judged: Sequence[Judged], *, sentence: str) -> str:
    """The changes as a standalone `<svg>` with a sentence on top."""
    return _Drawing(judged, sentence).svg()


@dataclass
class _Drawing:
    judged: Sequence[Judged]
    sentence: str
    parts: list[str] = field(default_factory=list)

    def svg(self) -> str:
        points = [(max(j.forecast.top.value, SHOWN_LOSS), max(j.forecast.gain.value, SHOWN_LOSS)) for j in self.judged]
        self._lay_out(points)
        self._frame()
        for (top, gain), j in zip(points, self.judged, strict=True):
            self._mark(self.x(top), self.y(gain), j)
        self._front([(p, j) for p, j in zip(points, self.judged, strict=True) if j.standing == FRONT])
        height = self._legend()
        back = svg.box(0.0, 0.0, WIDTH, height, fill="card")
        return svg.document(WIDTH, height, self.sentence, [back, *self.parts], "pw-chart")

    def _lay_out(self, points: Sequence[tuple[float, float]]) -> None:
        tops, gains = [0.0, *(p[0] for p in points)], [0.0, *(p[1] for p in points)]
        self.tops, self.gains = _roomy(tops), _roomy(gains)
        self.x = svg.scale(*self.tops, LEFT, RIGHT)
        self.y = svg.scale(*self.gains, BOTTOM, TOP)

    def _frame(self) -> None:
        for k, line in enumerate(textwrap.wrap(self.sentence, LINE_LETTERS)[:3]):
            self.parts.append(svg.text(12, 20 + 17 * k, line, size=13.5, bold=True))
        self.parts.append(svg.text(4, TOP - 10, words.GAIN_AXIS, fill="faint", size=12))
        for value in nice_ticks(*self.gains, 6):
            y = self.y(value)
            self.parts.append(svg.line(LEFT, y, RIGHT, y))
            self.parts.append(svg.text(LEFT - 6, y + 4, signed(value), anchor="end", fill="faint", size=12))
        for value in nice_ticks(*self.tops, 7):
            x = self.x(value)
            self.parts.append(svg.line(x, BOTTOM, x, BOTTOM + 5, stroke="faint"))
            self.parts.append(svg.text(x, BOTTOM + 18, signed(value), anchor="middle", fill="faint", size=12))
        self.parts.append(svg.line(LEFT, self.y(0.0), RIGHT, self.y(0.0), stroke="ink", width=1.2))
        self.parts.append(svg.line(self.x(0.0), TOP, self.x(0.0), BOTTOM, stroke="ink", width=1.2))
        self.parts.append(svg.text(RIGHT, BOTTOM + 36, words.TOP_AXIS, anchor="end", fill="faint", size=12))

    def _mark(self, x: float, y: float, j: Judged) -> None:
        if j.standing == REFUSED:
            self.parts.append(svg.line(x - 4, y - 4, x + 4, y + 4, stroke="before", width=1.6))
            self.parts.append(svg.line(x - 4, y + 4, x + 4, y - 4, stroke="before", width=1.6))
            return
        radius = SMALL + (LARGE - SMALL) * min(j.candidate.minutes / LONG, 1.0)
        tone, opacity = ("after", 0.9) if j.standing == FRONT else ("faint", 0.45)
        self.parts.append(svg.disc(x, y, radius, fill=tone, opacity=opacity))

    def _front(self, rows: list[tuple[tuple[float, float], Judged]]) -> None:
        ordered = sorted(rows, key=lambda row: row[0])
        xs, ys = [self.x(p[0]) for p, _ in ordered], [self.y(p[1]) for p, _ in ordered]
        if len(ordered) > 1:
            self.parts.append(svg.curve(xs, ys, stroke="after", width=1.4, dashes="4 3"))
        best = sorted(rows, key=lambda row: -row[1].merit)
        for number, (point, _) in enumerate(best, 1):
            self.parts.append(svg.text(self.x(point[0]) + 11, self.y(point[1]) + 4, str(number), bold=True, halo=True))
        self.best = [j for _, j in best]

    def _legend(self) -> float:
        y = BOTTOM + 62.0
        for number, j in enumerate(self.best, 1):
            for k, line in enumerate(textwrap.wrap(f"{number}  {j.candidate.words}", LINE_LETTERS + 8)):
                self.parts.append(svg.text(LEFT + (14.0 if k else 0.0), y, line, size=12.5))
                y += 17.0
        x = RIGHT + 20.0
        self.parts.append(svg.disc(x, TOP + 10, 6.0, fill="after", opacity=0.9))
        self.parts.append(svg.text(x + 14, TOP + 14, words.GAIN_CHOSEN, size=12))
        self.parts.append(svg.disc(x, TOP + 32, 6.0, fill="faint", opacity=0.45))
        self.parts.append(svg.text(x + 14, TOP + 36, words.GAIN_OTHER, size=12))
        self.parts.append(svg.text(x - 5, TOP + 59, "×", fill="before", size=16))
        self.parts.append(svg.text(x + 14, TOP + 58, words.GAIN_REFUSED, size=12))
        self.parts.append(svg.text(x - 5, TOP + 80, words.GAIN_SIZE, fill="faint", size=12))
        return y + 8.0


def _roomy(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    room = max(0.08 * (high - low), (LEAST_SPAN - (high - low)) / 2.0)
    return low - room, high + room
