"""Setups over each other as a file, torque above and lambda below: the workshop's own chart of a session."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from pulsewright.figures import words
from pulsewright.figures.curves import MeasuredCurve, ModelCurve
from pulsewright.figures.palette import THEMES, Theme
from pulsewright.figures.torque_chart import THICK, THIN, Chart, colour_names, legend_name

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def draw_overlay(chart: Chart, path: str | Path, *, theme: str = "paper") -> Path:
    """Draw the chart into an .svg, .png or .pdf file."""
    path = Path(path)
    figure = overlay_figure(chart, theme=theme)
    figure.savefig(path, dpi=150, facecolor=figure.get_facecolor(), bbox_inches="tight")
    return path


def overlay_figure(chart: Chart, *, theme: str = "paper") -> Figure:
    """Torque and, where there is one, lambda on one engine speed axis, with one legend."""
    from matplotlib.figure import Figure

    colours = THEMES[theme]
    figure = Figure(figsize=(8.4, 6.0 if chart.has_lambda else 4.4), facecolor=colours.card)
    if chart.has_lambda:
        above, below = figure.subplots(2, 1, sharex=True, gridspec_kw={"height_ratios": [2.4, 1]})
        overlay_torque(chart, above, colours)
        overlay_lambda(chart, below, colours)
        lowest = below
    else:
        lowest = overlay_torque(chart, figure.subplots(), colours)
    lowest.set_xlabel(words.SPEED)
    entries = [pair for axes in figure.axes for pair in zip(*axes.get_legend_handles_labels(), strict=True)]
    once = {name: handle for handle, name in entries}
    if once:
        place = {"loc": "upper center", "bbox_to_anchor": (0.5, 0.02)}
        figure.legend(once.values(), once.keys(), ncols=2, frameon=False, labelcolor=colours.ink, **place)
    return figure


def overlay_torque(chart: Chart, axes: Axes, colours: Theme) -> Axes:
    """Measured thin with its band, model thick, before dashed. Returns the axes."""
    _dress(axes, colours, words.TORQUE, chart)
    tones = colour_names(chart)
    for curve in chart.model:
        _line(axes, curve, curve.torque, colours, tones, words.MODEL)
    for curve in chart.measured:
        _line(axes, curve, curve.torque, colours, tones, words.MEASURED)
        if len(curve.low) and len(curve.high):
            tone = getattr(colours, tones[curve.setup, curve.role])
            axes.fill_between(curve.rpm, curve.low, curve.high, color=tone, alpha=0.16, lw=0)
    if chart.torque_range:
        axes.set_ylim(*chart.torque_range)
    return axes


def overlay_lambda(chart: Chart, axes: Axes, colours: Theme) -> Axes:
    """Lambda of every curve that has one, the target window shaded. Returns the axes."""
    _dress(axes, colours, words.LAMBDA, chart)
    if chart.target_lambda is not None:
        axes.axhspan(*chart.target_lambda, color=colours.before, alpha=0.10, lw=0, label=words.TARGET_LAMBDA)
    if chart.lean_limit is not None:
        axes.axhline(chart.lean_limit, color=colours.after, lw=1.0, label=words.LEAN_GATE)
    tones = colour_names(chart)
    for curve in (*chart.model, *chart.measured):
        if len(curve.lambda_):
            _line(axes, curve, curve.lambda_, colours, tones, "")
    return axes


def _line(
    axes: Axes,
    curve: MeasuredCurve | ModelCurve,
    values: Any,
    colours: Theme,
    tones: dict[Any, str],
    kind: str,
) -> None:
    is_measured = isinstance(curve, MeasuredCurve)
    axes.plot(
        curve.rpm,
        values,
        color=getattr(colours, tones[curve.setup, curve.role]),
        lw=THIN * 0.75 if is_measured else THICK * 0.75,
        ls="--" if curve.role == "before" else "-",
        alpha=1.0 if is_measured else 0.62,
        label=legend_name(curve, kind) if kind else None,
    )


def _dress(axes: Axes, colours: Theme, name: str, chart: Chart) -> None:
    axes.set_facecolor(colours.card)
    axes.set_ylabel(name)
    axes.grid(visible=True, axis="y", color=colours.line)
    axes.tick_params(colors=colours.faint)
    axes.spines[["top", "right"]].set_visible(False)
    axes.spines[["left", "bottom"]].set_color(colours.faint)
    for label in (axes.xaxis.label, axes.yaxis.label):
        label.set_color(colours.ink)
    if chart.riding_band is not None:
        axes.axvspan(*chart.riding_band, color=colours.band, lw=0, zorder=0, label=words.RIDING_BAND)
    if chart.hole is not None:
        span = (chart.hole.rpm_from, chart.hole.rpm_to)
        axes.axvspan(*span, color=colours.hole, lw=0, zorder=0.5, label=words.HOLE)
    if chart.rpm_range:
        axes.set_xlim(*chart.rpm_range)
