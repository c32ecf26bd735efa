"""Shares of the causes as bars, each with the interval in which it lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pulsewright.figures import svg, words
from pulsewright.figures.numbers import DASH, number

ROW = 50.0  # [px] name above, bar below
LEFT = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One cause; fractions of the torque that came back with everything switched off together."""

    cause: str
    share: float
    low: float | None = None
    high: float | None = None


def cause_bars(bars: Sequence[Bar], *, width: float = 640.0) -> str:
    """The bars as an inline `<svg>`, the largest share first."""
    if not bars:
        return svg.document(width, 40, words.NO_SHARES, [svg.text(LEFT, 26, words.NO_SHARES, fill="faint")], "pw-bars")
    ordered = sorted(bars, key=lambda bar: -bar.share)
    x = svg.scale(*_ends(ordered), LEFT, width - 64.0)
    parts: list[str] = []
    for k, bar in enumerate(ordered):
        parts += _row(bar, 6.0 + ROW * k, x, "after" if k == 0 else "before")
    bottom = 6.0 + ROW * len(ordered)
    parts.append(svg.line(x(0.0), 6.0, x(0.0), bottom, stroke="faint"))
    for part in (0.0, 0.5, 1.0):
        parts.append(svg.line(x(part), bottom, x(part), bottom + 5, stroke="faint"))
        parts.append(svg.text(x(part), bottom + 18, number(100 * part), anchor="middle", fill="faint", size=12))
    parts.append(svg.text(LEFT, bottom + 38, words.SHARE_AXIS, fill="faint", size=12))
    return svg.document(width, bottom + 48, _told(ordered), parts, "pw-bars")


def _ends(bars: Sequence[Bar]) -> tuple[float, float]:
    """The axis reaches from 0 to 1, and farther where an interval does."""
    values = [v for bar in bars for v in (bar.share, bar.low, bar.high) if v is not None]
    return min(0.0, *values), max(1.0, *values)


def _row(bar: Bar, top: float, x: svg.Scale, tone: str) -> list[str]:
    middle = top + 32.0
    parts = [
        svg.text(x(0.0) + 4, top + 15, _text(bar), bold=True),
        svg.box(x(0.0), middle - 9, x(bar.share), middle + 9, fill=tone),
    ]
    if bar.low is not None and bar.high is not None:
        parts.append(svg.line(x(bar.low), middle, x(bar.high), middle, stroke="card", width=4))
        parts.append(svg.line(x(bar.low), middle, x(bar.high), middle, stroke="ink", width=2))
        ends = [svg.line(x(v), middle - 6, x(v), middle + 6, stroke="ink", width=2) for v in (bar.low, bar.high)]
        parts += ends
    return parts


def _text(bar: Bar) -> str:
    size = f"{bar.cause}: {number(100 * bar.share)}\u202f%"
    if bar.low is None or bar.high is None:
        return size
    return f"{size} ({number(100 * bar.low)}{DASH}{number(100 * bar.high)}\u202f%)"


def _told(bars: Sequence[Bar]) -> str:
    return f"Shares of the lost torque. {'; '.join(_text(bar) for bar in bars)}."
