"""The echo made visible: the pipe to scale over a millimetre rule, pressure over place and time beneath.

Time runs down the page and the distance from the valve runs to the right, so a pulse on its way out leans to
the right and its echo leans back to the left. The pipe and the large map share one scale; across the pipe the
same scale holds.
"""

from __future__ import annotations

import io
import re
import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pulsewright.figures import words
from pulsewright.figures.palette import THEMES, Theme, full_scale, pressure_colours
from pulsewright.figures.pipe_outline import Shape, labels, outline_shapes, route_length, widest
from pulsewright.simulate.echo_field import EchoField

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARGIN_OF_RULE = 1.03  # the rule runs on a little past the pipe end
FONT = ["DejaVu Sans", "Verdana", "sans-serif"]
CRANK_TICKS = [0, 90, 180, 270, 360, 450, 540, 630, 720]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Sizes of the sheet. [inch], font size [pt]"""

    width: float
    left: float = 1.18  # crank angle ticks and valve windows
    right: float = 0.30
    map_height: float = 3.3
    crank_label: bool = True  # room for the long name of the crank axis
    pixels: tuple[int, int] = (160, 360)  # places, angles in an embedded image
    side_by_side: bool = True  # away and back beside each other
    font: float = 9.5
    wrap: int = 88  # characters of the sentence to a line

    @property
    def map_width(self) -> float:
        """Of the large map and the pipe above it. [inch]"""
        return self.width - self.left - self.right


LAYOUTS = {
    "wide": Layout(width=8.3, map_height=3.0, wrap=78),
    "narrow": Layout(
        width=3.6,
        left=0.92,
        right=0.16,
        map_height=2.5,
        side_by_side=False,
        font=8.8,
        wrap=35,
        crank_label=False,
        pixels=(120, 240),
    ),
}


def draw_echo(field: EchoField, path: str | Path, *, theme: str = "paper", layout: str = "wide") -> Path:
    """Draw the echo picture into a file; the ending says how, .svg or .png.

    Parameters
    ----------
    theme : "paper" or "slate".
    layout : "wide" for a page, "narrow" for a phone.
    """
    path = Path(path)
    smoothing = "none" if path.suffix.lower() == ".svg" else "bilinear"
    figure = echo_figure(field, theme=theme, layout=layout, smoothing=smoothing)
    with _settings(LAYOUTS[layout]):
        figure.savefig(path, dpi=160, facecolor=figure.get_facecolor(), metadata=_metadata(path, field))
    return path


def echo_svg(field: EchoField, *, layout: str = "wide", name: str = "echo") -> str:
    """The picture as an `<svg>` element to set into a page; its colours follow the page's `--pw-` variables.

    `name` keeps the ids of two pictures on one page apart.
    """
    figure = echo_figure(field, theme="paper", layout=layout, smoothing="none")
    figure.patch.set_alpha(0.0)
    buffer = io.StringIO()
    with _settings(LAYOUTS[layout], salt=name):
        figure.savefig(buffer, format="svg", dpi=110, metadata={"Date": None, "Creator": None})
    return _for_a_page(buffer.getvalue(), THEMES["paper"], name, words.picture_description(field))


def echo_figure(field: EchoField, *, theme: str = "paper", layout: str = "wide", smoothing: str = "bilinear") -> Figure:
    """The same as a matplotlib figure. Axes carry labels: "pipe", "total", "away", "back", ...

    `smoothing="none"` keeps the pixels of the maps as they are, which is small in an svg: the viewer smooths.
    """
    from matplotlib.figure import Figure

    sheet, colours = LAYOUTS[layout], THEMES[theme]
    with _settings(sheet):
        figure = Figure(figsize=(sheet.width, 1.0), facecolor=colours.card)
        _Page(figure, sheet, colours, field, smoothing).draw()
    return figure


def _settings(sheet: Layout, salt: str = "pulsewright") -> Any:
    import matplotlib as mpl

    return mpl.rc_context(
        {
            "svg.fonttype": "none",
            "svg.hashsalt": salt,
            "font.family": "sans-serif",
            "font.sans-serif": FONT,
            "font.size": sheet.font,
            "axes.linewidth": 0.8,
            "axes.unicode_minus": True,
            "text.parse_math": False,  # a dollar sign in a label is a dollar sign
        }
    )


def _metadata(path: Path, field: EchoField) -> dict[str, Any]:
    if path.suffix.lower() == ".svg":
        told = words.picture_description(field)
        return {"Date": None, "Title": words.echo_sentence(field), "Description": told}
    return {"Title": words.echo_sentence(field)}


class _Page:
    """Rows laid out from the top of the sheet down; the height of the sheet follows from them."""

    def __init__(self, figure: Figure, sheet: Layout, colours: Theme, field: EchoField, smoothing: str) -> None:
        self.figure, self.sheet, self.colours, self.field = figure, sheet, colours, field
        self.smoothing = smoothing
        self.rule_length = MARGIN_OF_RULE * max(route_length(field.outline), 1e3 * float(field.place[-1]))
        self.inch_per_mm = sheet.map_width / self.rule_length
        self.scale = full_scale(field.pressure - field.ambient, field.forward, field.returning)
        self.sentence = textwrap.wrap(words.echo_sentence(field), sheet.wrap)
        self.subtitle = textwrap.wrap(words.picture_subtitle(field), int(1.3 * sheet.wrap))

    def draw(self) -> None:
        top = 0.14
        rows = []
        for height, draw in self._rows():
            rows.append((top, height, draw))
            top += height
        self.figure.set_size_inches(self.sheet.width, top + 0.12)
        for start, height, draw in rows:
            draw(start, height)

    def _rows(self) -> list[tuple[float, Any]]:
        line = 1.5 * self.sheet.font / 72.0
        panel = self.sheet.map_height + 0.55
        rows: list[tuple[float, Any]] = [
            (line * (1.25 * len(self.sentence) + 0.4), self._sentence),
            (line * (0.4 + len(self.subtitle)), self._subtitle),
            (self._pipe_height(), self._pipe),
            (0.60 + self.sheet.map_height + 0.24, self._total),
        ]
        if self.sheet.side_by_side:
            rows.append((panel, self._away_and_back))
        else:
            rows += [(panel, self._away), (panel, self._back)]
        return [*rows, (0.78, self._colour_bar)]

    # rows ------------------------------------------------------------------------------------------------
    def _sentence(self, top: float, height: float) -> None:
        self._text(0.16, top, "\n".join(self.sentence), size=1.32, weight="bold", linespacing=1.35)

    def _subtitle(self, top: float, height: float) -> None:
        self._text(0.16, top, "\n".join(self.subtitle), colour=self.colours.faint, linespacing=1.3)

    def _pipe_height(self) -> float:
        label_rows = 1 + max((row for _, _, row in self._label_rows()), default=-1)
        return (1.12 * self._tallest() * self.inch_per_mm) + label_rows * self._label_height() + 0.12

    def _tallest(self) -> float:
        """Height of the drawing from the lowest to the highest wall, at least a finger's breadth. [mm]"""
        reach = [abs(y) for shape in outline_shapes(self.field.outline) for _, y in shape.points]
        return 2.0 * max([*reach, 0.5 * widest(self.field.outline)])

    def _label_height(self) -> float:
        return 1.45 * self.sheet.font / 72.0

    def _label_rows(self) -> list[tuple[float, str, int]]:
        """Each label with its place [mm] and the first row in which it does not run into another."""
        free_from: list[float] = []
        placed = []
        for place, text in labels(self.field.outline):
            half = 0.31 * self.sheet.font / 72.0 * len(text) / self.inch_per_mm
            middle = min(max(place, half), max(self.rule_length - half, half))
            row = next((k for k, right in enumerate(free_from) if middle - half > right), len(free_from))
            if row == len(free_from):
                free_from.append(0.0)
            free_from[row] = middle + half + 6.0 / self.inch_per_mm / 72.0
            placed.append((middle, text, row))
        return placed

    def _pipe(self, top: float, height: float) -> None:
        axes = self._axes("pipe", self.sheet.left, top, self.sheet.map_width, height)
        axes.set_xlim(0.0, self.rule_length)
        below = 0.56 * self._tallest() + 0.06 / self.inch_per_mm
        axes.set_ylim(-below, height / self.inch_per_mm - below)
        axes.axis("off")
        for shape in outline_shapes(self.field.outline):
            self._shape(axes, shape)
        first = widest(self.field.outline[:1])
        axes.plot(
            [0.0, 0.0],
            [-0.62 * first, 0.62 * first],
            lw=4,
            color=self.colours.ink,
            clip_on=False,
            solid_capstyle="butt",
        )
        for place, text, row in self._label_rows():
            above = (0.56 * self._tallest()) + (row * self._label_height() + 0.04) / self.inch_per_mm
            axes.text(
                place,
                above,
                text,
                ha="center",
                va="bottom",
                color=self.colours.ink,
                size=0.9 * self.sheet.font,
            )

    def _shape(self, axes: Axes, shape: Shape) -> None:
        x, y = zip(*shape.points, strict=True)
        c = self.colours
        if shape.role in ("wall", "core"):
            dashes = (0, (2, 2)) if shape.role == "core" else "-"
            axes.plot(x, y, color=c.metal, lw=1.6, ls=dashes, clip_on=False, solid_capstyle="butt")
        else:
            fill = {"gas": c.hole, "solid": c.ink, "packing": c.line}[shape.role]
            axes.fill(x, y, facecolor=fill, lw=0, clip_on=False)

    def _total(self, top: float, height: float) -> None:
        start = top + 0.60
        pressure = self.field.pressure - self.field.ambient
        axes = self._map("total", pressure, self.sheet.left, start, self.sheet.map_width)
        axes.xaxis.tick_top()
        axes.xaxis.set_label_position("top")
        axes.set_xlabel(words.PLACE, color=self.colours.faint)
        axes.tick_params(axis="x", which="major", length=7)
        axes.tick_params(axis="x", which="minor", length=3.5, top=True)
        self._strip(start)
        axes.text(
            0.012,
            0.03,
            words.TOTAL,
            transform=axes.transAxes,
            va="bottom",
            color=self.colours.ink,
            weight="bold",
            bbox=self._pad(),
        )

    def _away_and_back(self, top: float, height: float) -> None:
        gap = 0.24
        width = (self.sheet.map_width - gap) / 2
        self._small("away", self.field.forward, self.sheet.left, top, width, words.AWAY)
        self._small("back", self.field.returning, self.sheet.left + width + gap, top, width, words.BACK)
        self._strip(top + self._line())

    def _away(self, top: float, height: float) -> None:
        self._small("away", self.field.forward, self.sheet.left, top, self.sheet.map_width, words.AWAY)
        self._strip(top + self._line())

    def _back(self, top: float, height: float) -> None:
        self._small("back", self.field.returning, self.sheet.left, top, self.sheet.map_width, words.BACK)
        self._strip(top + self._line())

    def _small(self, name: str, values: Any, left: float, top: float, width: float, caption: str) -> None:
        self._map(name, values, left, top + self._line(), width)
        self._text(left, top, caption, weight="bold")

    def _line(self) -> float:
        """Height of a caption with its air. [inch]"""
        return 1.7 * self.sheet.font / 72.0

    # pieces ----------------------------------------------------------------------------------------------
    def _axes(self, name: str, left: float, top: float, width: float, height: float) -> Axes:
        w, h = self.figure.get_size_inches()
        return self.figure.add_axes((left / w, 1 - (top + height) / h, width / w, height / h), label=name)

    def _text(self, left: float, top: float, text: str, *, size: float = 1.0, colour: str = "", **more: Any) -> None:
        w, h = self.figure.get_size_inches()
        style = {"verticalalignment": "top", "color": colour or self.colours.ink, **more}
        self.figure.text(left / w, 1 - top / h, text, size=size * self.sheet.font, **style)

    def _map(self, name: str, values: Any, left: float, top: float, width: float) -> Axes:
        f = self.field
        axes = self._axes(name, left, top, width, self.sheet.map_height)
        extent = (1e3 * f.place[0], 1e3 * f.place[-1], f.crank_deg[-1], f.crank_deg[0])
        n_place, n_angle = self.sheet.pixels
        even = resample(f, values, n_place, n_angle)
        axes.imshow(pressure_colours(even.T / self.scale), extent=extent, aspect="auto", interpolation=self.smoothing)
        axes.set_xlim(0.0, self.rule_length)
        axes.set_ylim(720.0, 0.0)
        axes.set_yticks([])
        axes.set_facecolor("none")
        _rule(axes, width, self.rule_length, self.sheet.font)
        axes.tick_params(which="both", colors=self.colours.faint)
        axes.spines[["right", "top", "bottom", "left"]].set_color(self.colours.faint)
        end = route_length(f.outline) or 1e3 * f.place[-1]
        axes.axvline(end, color=self.colours.ink, lw=1.0)
        self._moments(axes, name)
        return axes

    def _beside_arrival(self, overlap: tuple[float, float]) -> float:
        """Middle of the larger part of the overlap that the line of the arrival leaves free. [deg]"""
        arrival = self.field.echo_arrival_deg
        if arrival is None or not overlap[0] < arrival < overlap[1]:
            return sum(overlap) / 2
        return 0.5 * (arrival + max(overlap, key=lambda edge: abs(edge - arrival)))

    def _moments(self, axes: Axes, name: str) -> None:
        if self.field.overlap is not None:
            for angle in self.field.overlap:
                axes.axhline(angle, color=self.colours.ink, lw=0.7, ls=(0, (1, 2)))
            if name == "total":
                middle, small = self._beside_arrival(self.field.overlap), 0.84 * self.sheet.font
                axes.text(
                    0.93 * self.rule_length,
                    middle,
                    words.BOTH_OPEN,
                    ha="right",
                    va="center_baseline",
                    size=small,
                    color=self.colours.ink,
                )
        arrival = self.field.echo_arrival_deg
        if arrival is None:
            return
        axes.axhline(arrival, color=self.colours.ink, lw=1.1)
        if name != "away":
            axes.plot([0.0], [arrival], marker="<", ms=9, color=self.colours.ink, clip_on=False, zorder=5)
        if name == "back":
            top_or_bottom = 0.97 if arrival > 240.0 else 0.10
            label = words.arrival_label(self.field)
            axes.annotate(
                label.replace(": ", ":\n"),
                (0.012 * self.rule_length, arrival),
                textcoords="axes fraction",
                xytext=(0.97, top_or_bottom),
                ha="right",
                va="top",
                color=self.colours.ink,
                weight="bold",
                bbox=self._pad(),
                arrowprops={"arrowstyle": "-", "color": self.colours.ink, "lw": 0.8, "relpos": (0.0, 0.5)},
            )

    def _pad(self) -> dict[str, Any]:
        return {"fc": self.colours.card, "ec": "none", "alpha": 0.86, "pad": 1.5}

    def _strip(self, top: float) -> None:
        """The valve windows at the side of a map, on the crank angle axis."""
        axes = self._axes("valves", self.sheet.left - 0.50, top, 0.44, self.sheet.map_height)
        axes.set_xlim(0.0, 2.0)
        axes.set_ylim(720.0, 0.0)
        for column, (window, text, colour) in enumerate(
            (
                (self.field.exhaust_window, words.EXHAUST_OPEN, self.colours.after),
                (self.field.intake_window, words.INTAKE_OPEN, self.colours.before),
            )
        ):
            for opens, closes in _within_cycle(window):
                axes.fill_between([column + 0.06, column + 0.94], opens, closes, color=colour, lw=0)
                if closes - opens > 150.0:
                    axes.text(
                        column + 0.5,
                        (opens + closes) / 2,
                        text,
                        rotation=90,
                        ha="center",
                        va="center",
                        color=self.colours.card,
                        size=0.84 * self.sheet.font,
                    )
        axes.set_xticks([])
        axes.set_yticks(CRANK_TICKS, [f"{tick}°" for tick in CRANK_TICKS])
        axes.tick_params(axis="y", colors=self.colours.faint, length=3)
        axes.set_facecolor("none")
        axes.spines[["right", "top", "bottom", "left"]].set_visible(False)
        if self.sheet.crank_label:
            self._text(
                0.13,
                top + self.sheet.map_height / 2,
                words.CRANK,
                size=0.84,
                colour=self.colours.faint,
                rotation=90,
                verticalalignment="center",
            )
        else:
            self._text(0.09, top - 0.26, words.CRANK_SHORT, size=0.9, colour=self.colours.faint)

    def _colour_bar(self, top: float, height: float) -> None:
        width = min(self.sheet.map_width, 4.2)
        axes = self._axes("colours", self.sheet.left, top + 0.06, width, 0.16)
        ramp = np.linspace(-1.0, 1.0, 256)[None, :]
        kpa = self.scale / 1e3
        axes.imshow(pressure_colours(ramp), extent=(-kpa, kpa, 0, 1), aspect="auto")
        axes.set_yticks([])
        axes.set_facecolor("none")
        axes.tick_params(colors=self.colours.faint)
        axes.set_xlabel(words.SCALE, color=self.colours.faint)
        axes.spines[["right", "top", "bottom", "left"]].set_color(self.colours.faint)


def _within_cycle(window: tuple[float, float]) -> list[tuple[float, float]]:
    """A valve window cut into the pieces that lie inside 0 to 720 degrees."""
    opens, closes = window
    pieces = [(opens + turn, closes + turn) for turn in (-720.0, 0.0, 720.0)]
    return [(max(a, 0.0), min(b, 720.0)) for a, b in pieces if b > 0.0 and a < 720.0]


def _rule(axes: Axes, width: float, length: float, font: float) -> None:
    """A millimetre rule: a long mark with its number, short marks between. `width` [inch], `length` [mm]"""
    from matplotlib.ticker import MultipleLocator

    room = length / width * font / 72.0 * 3.4  # what a number with its space takes [mm]
    step = next((s for s in (10, 20, 50, 100, 200, 500, 1000) if s >= room), 2000)
    axes.xaxis.set_major_locator(MultipleLocator(step))
    axes.xaxis.set_minor_locator(MultipleLocator(step / (4 if step in (20, 200, 2000) else 5)))
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:.0f}")


def resample(field: EchoField, values: Any, n_place: int, n_angle: int) -> Any:
    """`values` (n_place, n_angle) at evenly spaced places and angles, straight lines between."""
    places = np.linspace(field.place[0], field.place[-1], n_place)
    angles = np.linspace(field.crank_deg[0], field.crank_deg[-1], n_angle)
    over_angle = np.stack([np.interp(angles, field.crank_deg, row) for row in values])
    return np.stack([np.interp(places, field.place, column) for column in over_angle.T], axis=1)


def _for_a_page(svg: str, theme: Theme, name: str, description: str) -> str:
    """Strip the file heading, keep ids apart, name the picture aloud and let the page choose the colours."""
    from markupsafe import escape

    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<style type=.*?</style>", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', svg)
    svg = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", svg)
    svg = re.sub(r'href="#([^"]+)"', rf'href="#{name}-\1"', svg)
    for variable in ("ink", "faint", "card", "metal", "hole", "line", "before", "after"):
        svg = svg.replace(f": {getattr(theme, variable)}", f": var(--pw-{variable}, {getattr(theme, variable)})")
    head = f'<svg class="pw-echo" role="img" aria-label="{escape(description)}" '
    svg = re.sub(r'(<svg [^>]*?)\bwidth="[^"]*" height="[^"]*"', r"\1", svg, count=1)
    return re.sub(r"^<svg ", lambda _: head, svg.strip())
