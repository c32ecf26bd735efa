"""Small helpers to write an inline `<svg>`: escaped text, lines with gaps, colours that follow the page."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import astuple, dataclass

from markupsafe import escape

from pulsewright.figures.palette import PAPER

Scale = Callable[[float], float]


def colour(name: str) -> str:
    """`var(--pw-ink, #1e2a32)`: the page's colour, or that of the paper theme where the page sets none."""
    return f"var(--pw-{name}, {getattr(PAPER, name)})"


def scale(low: float, high: float, start: float, end: float) -> Scale:
    """A straight map of [low, high] onto [start, end]."""
    slope = (end - start) / ((high - low) or 1.0)
    return lambda value: start + (value - low) * slope


def text(
    x: float,
    y: float,
    words: str,
    *,
    anchor: str = "start",
    fill: str = "ink",
    size: float = 13,
    bold: bool = False,
    halo: bool = False,
) -> str:
    """One line of text, escaped; with a halo it stays readable on top of curves."""
    more = ";font-weight:600" if bold else ""
    more += f";paint-order:stroke;stroke:{colour('card')};stroke-width:4px;stroke-linejoin:round" if halo else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" '
        f'style="fill:{colour(fill)};font-size:{size:g}px{more}">{escape(words)}</text>'
    )


def line(x0: float, y0: float, x1: float, y1: float, *, stroke: str = "line", width: float = 1.0) -> str:
    """A straight line."""
    return (
        f'<line x1="{x0:.1f}" y1="{y0:.1f}" x2="{x1:.1f}" y2="{y1:.1f}" '
        f'style="stroke:{colour(stroke)};stroke-width:{width:g}"/>'
    )


def box(x0: float, y0: float, x1: float, y1: float, *, fill: str, opacity: float = 1.0) -> str:
    """A filled rectangle between two corners."""
    x, y = min(x0, x1), min(y0, y1)
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{abs(x1 - x0):.1f}" height="{abs(y1 - y0):.1f}" '
        f'style="fill:{colour(fill)};fill-opacity:{opacity:g}"/>'
    )


def disc(x: float, y: float, radius: float, *, fill: str, opacity: float = 1.0) -> str:
    """A filled circle."""
    style = f"fill:{colour(fill)};fill-opacity:{opacity:g}"
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" style="{style}"/>'


def curve(
    xs: Sequence[float],
    ys: Sequence[float],
    *,
    stroke: str,
    width: float,
    dashes: str = "",
    opacity: float = 1.0,
) -> str:
    """A line through the points; where a value is missing the line is broken, not bridged."""
    runs = runs_of_numbers(xs, ys)
    path = " ".join("M" + " L".join(f"{x:.1f},{y:.1f}" for x, y in run) for run in runs if len(run) > 1)
    dash = f";stroke-dasharray:{dashes}" if dashes else ""
    return (
        f'<path d="{path}" style="fill:none;stroke:{colour(stroke)};stroke-width:{width:g};'
        f'stroke-linejoin:round;stroke-opacity:{opacity:g}{dash}"/>'
        if path
        else ""
    )


def band(xs: Sequence[float], lows: Sequence[float], highs: Sequence[float], *, fill: str, opacity: float) -> str:
    """The area between two lines."""
    pieces = []
    middle = [low + high for low, high in zip(lows, highs, strict=True)]
    there = [i for i, m in enumerate(middle) if math.isfinite(m)]
    for run in _neighbours(there):
        out = [f"{xs[i]:.1f},{highs[i]:.1f}" for i in run]
        home = [f"{xs[i]:.1f},{lows[i]:.1f}" for i in reversed(run)]
        pieces.append("M" + " L".join(out + home) + " Z")
    style = f"fill:{colour(fill)};fill-opacity:{opacity:g}"
    return f'<path d="{" ".join(pieces)}" style="{style}"/>' if pieces else ""


def runs_of_numbers(xs: Sequence[float], ys: Sequence[float]) -> list[list[tuple[float, float]]]:
    """The stretches of a curve without gaps."""
    there = [i for i, (x, y) in enumerate(zip(xs, ys, strict=True)) if math.isfinite(x) and math.isfinite(y)]
    return [[(xs[i], ys[i]) for i in run] for run in _neighbours(there)]


def _neighbours(indices: list[int]) -> list[list[int]]:
    runs: list[list[int]] = []
    for i in indices:
        if runs and runs[-1][-1] == i - 1:
            runs[-1].append(i)
        else:
            runs.append([i])
    return runs


@dataclass(frozen=True, slots=True)
class SpeedAxis:
    """Which engine speeds lie where in a drawing, for a script that points at one."""

    low: float  # [1/min] at `left`
    high: float  # [1/min] at `right`
    left: float  # [px]
    right: float
    top: float  # [px] of the uppermost panel
    bottom: float  # [px] of the lowest


def document(
    width: float, height: float, title: str, body: Sequence[str], css_class: str, speeds: SpeedAxis | None = None
) -> str:
    """The `<svg>` element; it scales with the page and is read aloud by its title."""
    places = f'data-speeds="{" ".join(f"{v:g}" for v in astuple(speeds))}" ' if speeds else ""
    return (
        f'<svg class="{css_class}" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:.0f}" {places}'
        f'role="img" aria-label="{escape(title)}" font-family="DejaVu Sans, Verdana, sans-serif">'
        + "".join(body)
        + "</svg>"
    )
