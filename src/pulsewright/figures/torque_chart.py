"""Torque over engine speed with lambda below on the same axis: measured thin, model thick, before dashed."""

from __future__ import annotations

import itertools
import math
import textwrap
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from pulsewright.figures import svg, words
from pulsewright.figures.curves import HoleSpan, MeasuredCurve, ModelCurve, Numbers
from pulsewright.figures.numbers import nice_ticks, number

FULL, WIDE, NARROW = 1200.0, 720.0, 360.0  # [px] one drawing for a whole screen, one for a page, one for a phone
THIN, THICK = 1.7, 4.0
DASHES = {"before": "7 4"}
NO_ECHO_DASHES = "1.5 4"
REST = ("fourth", "fifth", "other", "ink")
SHORTEST_TORQUE_SPAN = 0.25  # of the highest torque: keeps scatter from looking like a hole
SHORTEST_LAMBDA_SPAN = 0.16


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """All that goes into one chart."""

    measured: Sequence[MeasuredCurve]
    model: Sequence[ModelCurve] = ()
    riding_band: tuple[float, float] | None = None  # [1/min]
    hole: HoleSpan | None = None
    target_lambda: tuple[float, float] | None = None
    lean_limit: float | None = None
    rpm_range: tuple[float, float] | None = None  # [1/min] what to show; all that was measured if not given
    torque_range: tuple[float, float] | None = None  # [N m] to lock the axes of two charts together
    torque_words: str = words.TORQUE  # with the unit that the curves are in
    mixture_words: str = words.LAMBDA
    mixture_scale: float = 1.0  # what lambda 1 is in the unit of the mixture
    say: Callable[[float, int], str] = number  # writes a number of an axis with so many digits

    @property
    def is_empty(self) -> bool:
        return not any(len(c.rpm) for c in (*self.measured, *self.model))

    @property
    def has_lambda(self) -> bool:
        return any(_any_number(c.lambda_) for c in (*self.measured, *self.model))


def in_units(
    chart: Chart, torque: tuple[str, float], mixture: tuple[str, float], say: Callable[[float, int], str]
) -> Chart:
    """A chart of what was measured in other units: the name of each, and what one newton metre and lambda 1 are."""

    def scaled(curve: MeasuredCurve) -> MeasuredCurve:
        low, middle, high = ([v * torque[1] for v in each] for each in (curve.low, curve.torque, curve.high))
        return replace(curve, torque=middle, low=low, high=high, lambda_=[v * mixture[1] for v in curve.lambda_])

    target = chart.target_lambda
    return replace(
        chart, measured=[scaled(c) for c in chart.measured],
        target_lambda=target and (target[0] * mixture[1], target[1] * mixture[1]),
        torque_words=f"{words.TORQUE_WORD}, {torque[0]}", mixture_words=mixture[0], mixture_scale=mixture[1],
        say=say,
    )  # fmt: skip


def torque_chart(chart: Chart, *, width: float = WIDE, title: str = "") -> str:
    """The chart as an inline `<svg>`; colours follow the page's `--pw-` variables."""
    return _Drawing(chart, width, title).svg()


def colour_names(chart: Chart) -> dict[tuple[str, str], str]:
    """The theme colour of each (setup, role), one for what was measured and what was computed."""
    rest = itertools.cycle(REST)
    names: dict[tuple[str, str], str] = {}
    for curve in (*chart.measured, *chart.model):
        key = (curve.setup, curve.role)
        if key not in names:
            names[key] = curve.role if curve.role in ("before", "after") else next(rest)
    return names


def in_the_band(chart: Chart) -> tuple[float, float] | None:
    """The riding band and as much again on either side, for the customer's picture. [1/min]"""
    if chart.riding_band is None:
        return None
    low, high = chart.riding_band
    room = 0.35 * (high - low)
    return low - room, high + room


def _any_number(values: Iterable[float]) -> bool:
    return any(math.isfinite(v) for v in values)


@dataclass
class _Drawing:
    chart: Chart
    width: float
    title: str
    parts: list[str] = field(default_factory=list)

    def svg(self) -> str:
        if self.chart.is_empty:
            self.parts.append(svg.text(12, 28, words.NO_CURVES, fill="faint"))
            return svg.document(self.width, 44, self.title or words.NO_CURVES, self.parts, "pw-chart")
        self._lay_out()
        self._shades()
        self._grid()
        self._curves()
        self._lambda()
        bottom = self._legend(self.speed_axis + 46)
        speeds = svg.SpeedAxis(self.rpm_low, self.rpm_high, self.left, self.right, self.top, self.speed_axis)
        return svg.document(self.width, bottom, self.title or self._told(), self.parts, "pw-chart", speeds)

    # layout ----------------------------------------------------------------------------------------------
    def _lay_out(self) -> None:
        is_wide = self.width > 500
        self.left, self.right = (52.0, self.width - 20.0) if is_wide else (44.0, self.width - 10.0)
        self.top, self.bottom = 46.0, 46.0 + (300.0 if is_wide else 230.0)
        self.lambda_top = self.bottom + 44.0
        self.speed_axis = self.lambda_top + ((130.0 if is_wide else 110.0) if self.chart.has_lambda else 0.0)
        low, high = self.chart.rpm_range or self._speeds()
        self.rpm_low, self.rpm_high = low, high
        self.x = svg.scale(low, high, self.left, self.right)
        self.torque_low, self.torque_high = self.chart.torque_range or self._torques()
        self.y = svg.scale(self.torque_low, self.torque_high, self.bottom, self.top)

    def _speeds(self) -> tuple[float, float]:
        source = self.chart.measured if any(len(c.rpm) for c in self.chart.measured) else self.chart.model
        speeds = [s for c in source for s in c.rpm if math.isfinite(s)]
        return min(speeds), max(speeds)

    def _shown(self, speeds: Numbers, values: Numbers) -> list[float]:
        pairs = zip(speeds, values, strict=True) if len(values) else ()
        return [v for s, v in pairs if math.isfinite(v) and self.rpm_low <= s <= self.rpm_high]

    def _torques(self) -> tuple[float, float]:
        values = [v for c in self.chart.measured for ys in (c.torque, c.low, c.high) for v in self._shown(c.rpm, ys)]
        values += [
            v for c in self.chart.model for ys in (c.torque, c.torque_without_echo) for v in self._shown(c.rpm, ys)
        ]
        low, high = (min(values), max(values)) if values else (0.0, 1.0)
        low = min(low, high - SHORTEST_TORQUE_SPAN * high)
        return low - 0.06 * (high - low), high + 0.06 * (high - low)

    # torque ----------------------------------------------------------------------------------------------
    def _shades(self) -> None:
        lowest = self.speed_axis if self.chart.has_lambda else self.bottom
        if self.chart.riding_band is not None:
            self._shade(*self.chart.riding_band, lowest, "band", 1.0, words.RIDING_BAND, self.top - 8)
        if self.chart.hole is not None:
            self._shade(
                self.chart.hole.rpm_from,
                self.chart.hole.rpm_to,
                lowest,
                "hole",
                0.85,
                words.HOLE,
                self.top + 15,
            )

    def _shade(self, low: float, high: float, lowest: float, fill: str, opacity: float, name: str, y: float) -> None:
        start, end = self.x(max(low, self.rpm_low)), self.x(min(high, self.rpm_high))
        if end <= start:
            return
        self.parts.append(svg.box(start, self.top, end, lowest, fill=fill, opacity=opacity))
        self.parts.append(svg.text((start + end) / 2, y, name, anchor="middle", fill="faint", size=12))

    def _grid(self) -> None:
        self.parts.append(svg.text(4, 16, self.chart.torque_words, fill="faint"))
        for value in nice_ticks(self.torque_low, self.torque_high, 5):
            y = self.y(value)
            self.parts.append(svg.line(self.left, y, self.right, y))
            self.parts.append(svg.text(self.left - 6, y + 4, number(value), anchor="end", fill="faint", size=12))
        self._speed_ticks()

    def _speed_ticks(self) -> None:
        y = self.speed_axis if self.chart.has_lambda else self.bottom
        self.speed_axis = y
        self.parts.append(svg.line(self.left, y, self.right, y, stroke="faint"))
        for value in nice_ticks(self.rpm_low, self.rpm_high, 7 if self.width > 500 else 4):
            x = self.x(value)
            self.parts.append(svg.line(x, y, x, y + 5, stroke="faint"))
            if x < self.right - 4 or self.width > 500:
                self.parts.append(svg.text(x, y + 18, number(value), anchor="middle", fill="faint", size=12))
        self.parts.append(svg.text(self.right, y + 36, words.SPEED, anchor="end", fill="faint"))

    def _curves(self) -> None:
        measured, model = self._styles()
        for curve, tone in measured:
            if len(curve.low) and len(curve.high) and curve.role != "other":
                xs, lows = self._points(curve.rpm, curve.low)
                _, highs = self._points(curve.rpm, curve.high)
                self.parts.append(svg.band(xs, lows, highs, fill=tone, opacity=0.18))
        for curve, tone in model:
            xs, ys = self._points(curve.rpm, curve.torque)
            self.parts.append(svg.curve(xs, ys, stroke=tone, width=THICK, dashes=_dashes(curve, 2), opacity=0.62))
            if len(curve.torque_without_echo):
                xs, ys = self._points(curve.rpm, curve.torque_without_echo)
                self.parts.append(svg.curve(xs, ys, stroke="other", width=THICK - 1, dashes=NO_ECHO_DASHES))
        for curve, tone in measured:
            xs, ys = self._points(curve.rpm, curve.torque)
            self.parts.append(svg.curve(xs, ys, stroke=tone, width=THIN, dashes=_dashes(curve, 1)))

    def _points(self, speeds: Numbers, values: Numbers, y: svg.Scale | None = None) -> tuple[list[float], list[float]]:
        """Pixels of a curve; what lies outside the shown speeds becomes a gap."""
        place = y or self.y
        shown = [self.rpm_low <= s <= self.rpm_high and math.isfinite(v) for s, v in zip(speeds, values, strict=True)]
        ys = [place(v) if is_shown else math.nan for v, is_shown in zip(values, shown, strict=True)]
        return [self.x(s) for s in speeds], ys

    def _styles(self) -> tuple[list[tuple[MeasuredCurve, str]], list[tuple[ModelCurve, str]]]:
        """The curves that have points, each with its colour."""
        tones = colour_names(self.chart)
        measured = [(c, tones[c.setup, c.role]) for c in self.chart.measured if len(c.rpm)]
        model = [(c, tones[c.setup, c.role]) for c in self.chart.model if len(c.rpm)]
        return measured, model

    # lambda ----------------------------------------------------------------------------------------------
    def _lambda(self) -> None:
        if not self.chart.has_lambda:
            return
        low, high = self._lambdas()
        y = svg.scale(low, high, self.speed_axis - 4, self.lambda_top)
        self.parts.append(svg.text(4, self.lambda_top - 12, self.chart.mixture_words, fill="faint"))
        self._lambda_shade(y)
        digits = 2 if self.chart.mixture_scale == 1.0 else 1  # an air-fuel ratio has one digit more before the point
        for value in nice_ticks(low, high, 4):
            self.parts.append(svg.line(self.left, y(value), self.right, y(value)))
            tick = svg.text(
                self.left - 6, y(value) + 4, self.chart.say(value, digits), anchor="end", fill="faint", size=12
            )
            self.parts.append(tick)
        side = {"anchor": "end", "fill": "faint", "size": 12}
        self.parts.append(svg.text(self.right, self.lambda_top - 12, f"\u2191 {words.LEANER}", **side))
        measured, model = self._styles()
        for curve, tone in (*model, *measured):
            if not len(curve.lambda_):
                continue
            width, opacity = (THIN, 1.0) if isinstance(curve, MeasuredCurve) else (THICK, 0.62)
            xs, ys = self._points(curve.rpm, curve.lambda_, y)
            dashes = _dashes(curve, 1 if width == THIN else 2)
            self.parts.append(svg.curve(xs, ys, stroke=tone, width=width, dashes=dashes, opacity=opacity))
        self._lambda_names(y)

    def _lambdas(self) -> tuple[float, float]:
        values = [v for c in (*self.chart.measured, *self.chart.model) for v in self._shown(c.rpm, c.lambda_)]
        values += [
            *(self.chart.target_lambda or ()),
            *([self.chart.lean_limit] if self.chart.lean_limit else []),
        ]
        one = self.chart.mixture_scale
        low, high = (min(values), max(values)) if values else (0.8 * one, 1.0 * one)
        room = max(SHORTEST_LAMBDA_SPAN * one - (high - low), 0.04 * one) / 2
        return low - room, high + room

    def _lambda_shade(self, y: svg.Scale) -> None:
        if self.chart.target_lambda is not None:
            a, b = self.chart.target_lambda
            self.parts.append(svg.box(self.left, y(a), self.right, y(b), fill="before", opacity=0.10))
        if self.chart.lean_limit is not None:
            at = y(self.chart.lean_limit)
            self.parts.append(svg.line(self.left, at, self.right, at, stroke="after", width=1.2))

    def _lambda_names(self, y: svg.Scale) -> None:
        if self.chart.target_lambda is not None:
            at = y(sum(self.chart.target_lambda) / 2) + 4
            name = svg.text(self.right - 5, at, words.TARGET, anchor="end", fill="faint", size=12, halo=True)
            self.parts.append(name)
        if self.chart.lean_limit is not None:
            at = y(self.chart.lean_limit) - 4
            name = svg.text(self.right - 5, at, words.LEAN_GATE, anchor="end", fill="after", size=12, halo=True)
            self.parts.append(name)

    # legend ----------------------------------------------------------------------------------------------
    def _legend(self, top: float) -> float:
        """Two entries a line where they fit, else one. Returns where the drawing ends."""
        entries = self._entries()
        half = (self.width - self.left) / 2
        has_room = self.width > 500 and all(len(_fold(name, half - 46)) == 1 for *_, name in entries)
        columns = 2 if has_room else 1
        room = (self.width - self.left) / columns
        bottom, column = top + 12, 0
        for tone, width, dashes, opacity, name in entries:
            x, lines = self.left + room * column, _fold(name, room - 46)
            sample = ([x, x + 34], [bottom - 4, bottom - 4])
            self.parts.append(svg.curve(*sample, stroke=tone, width=width, dashes=dashes, opacity=opacity))
            for k, line in enumerate(lines):
                self.parts.append(svg.text(x + 42, bottom + 16 * k, line, size=12.5))
            column = (column + 1) % columns
            bottom += 0 if column else 4 + 16 * len(lines)
        bottom += 20 if column else 0
        if any(len(c.low) and c.role != "other" for c in self.chart.measured):
            self.parts.append(svg.text(self.left, bottom, words.SPREAD, fill="faint", size=12))
            bottom += 20
        if not self.chart.has_lambda:
            self.parts.append(svg.text(self.left, bottom, words.NO_LAMBDA, fill="faint", size=12.5))
            bottom += 20
        return bottom

    def _entries(self) -> list[tuple[str, float, str, float, str]]:
        measured, model = self._styles()
        entries = [(t, THIN, _dashes(c, 1), 1.0, legend_name(c, words.MEASURED)) for c, t in measured]
        entries += [(t, THICK, _dashes(c, 2), 0.62, legend_name(c, words.MODEL)) for c, t in model]
        if any(len(c.torque_without_echo) for c, _ in model):
            entries.append(("other", THICK - 1, NO_ECHO_DASHES, 1.0, words.NO_ECHO))
        return entries

    def _told(self) -> str:
        names = ", ".join(name for *_, name in self._entries())
        low, high = number(self.rpm_low), number(self.rpm_high)
        what = self.chart.torque_words
        return f"{what[:1].upper()}{what[1:]}, from {low} to {high} rpm: {names}."


def _dashes(curve: MeasuredCurve | ModelCurve, stretch: float) -> str:
    pattern = DASHES.get(curve.role, "")
    return " ".join(f"{float(p) * (1 + 0.3 * (stretch - 1)):g}" for p in pattern.split())


def legend_name(curve: MeasuredCurve | ModelCurve, kind: str) -> str:
    """`measured, A: as it came, 3 pulls`."""
    count = curve.pulls if isinstance(curve, MeasuredCurve) else 0
    pulls = f", {count} pull{'s' if count != 1 else ''}" if count else ""
    said = f": {curve.words}" if curve.words else ""
    return f"{kind}, {curve.setup}{said}{pulls}"


def _fold(name: str, room: float) -> list[str]:
    """A legend text in lines that fit the column. `room` [px]"""
    return textwrap.wrap(name, max(int(room / 7.4), 12)) or [""]
