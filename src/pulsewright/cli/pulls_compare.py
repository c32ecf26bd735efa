"""`pulsewright pulls compare`: two setups of a session; the answer first, then numbers, then the picture."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pulsewright.cli.json_output import json_option, write_json
from pulsewright.errors import InputError, UsageError

if TYPE_CHECKING:
    from pulsewright.pulls.session_comparison import SetupComparison

FORMAT = "pulsewright comparison 1"
LEAST_BAND, LOWEST, HIGHEST = 200.0, 100.0, 20_000.0  # [rpm]


@click.command()
@click.argument("session", type=click.Path(path_type=Path))
@click.argument("first", metavar="A")
@click.argument("second", metavar="B")
@click.option("--band", metavar="LOW:HIGH", help="Engine speeds to judge by; the riding band if not given.")
@click.option(
    "--resolve",
    type=click.FloatRange(0.05, 50.0),
    default=1.0,
    show_default=True,
    metavar="PERCENT",
    help="Say how many more pulls would show a change of this size.",
)
@click.option(
    "--within",
    type=click.FloatRange(0.05, 50.0),
    metavar="PERCENT",
    help="Ask that no change anywhere in the band is larger than this; exit code 1 where it is not shown.",
)
@click.option("-o", "output", type=click.Path(path_type=Path), metavar="FILE.svg", help="Draw the curve and its band.")
@json_option
def compare(
    session: Path,
    first: str,
    second: str,
    band: str | None,
    resolve: float,
    within: float | None,
    output: Path | None,
    json_to: str | None,
) -> int:
    """Compare setup B with setup A of SESSION.

    Whole pulls are the unit; heat and drift are taken out. The band holds the whole curve, not one speed.
    """
    limits = parse_band(band) if band else None
    _check_output(output)
    from pulsewright.bench.session import read_session
    from pulsewright.pulls.session_comparison import compare_setups
    from pulsewright.pulls.session_pulls import read_session_pulls

    read = read_session(session)
    found = compare_setups(read, read_session_pulls(read), first, second, band=limits, resolve_percent=resolve)
    held = None if within is None else _holds(found, within)
    if json_to:
        asked = {} if within is None else {"within_percent": within, "within_shown": held}
        write_json({"format": FORMAT, **found.as_json(), **asked}, json_to)
    else:
        _print(found, within, held)
    if output is not None:
        from pulsewright.figures.difference_chart import difference_chart

        output.write_text(difference_chart(found.comparison), encoding="utf-8")
        click.echo(f"drawn: {output}", err=True)
    return 1 if held is False else 0


def parse_band(text: str) -> tuple[float, float]:
    """`2200:3800` as two engine speeds. [rpm] Raises UsageError."""
    low, mark, high = text.partition(":")
    try:
        band = float(low), float(high)
    except ValueError:
        band = None
    if not mark or band is None:
        raise UsageError(f"'{text}' is no band of speeds", where="--band", hint="as in --band 2200:3800")
    if band[0] < LOWEST or band[1] > HIGHEST or band[1] - band[0] < LEAST_BAND:
        raise UsageError(
            f"the band {text} is no use", where="--band",
            hint=f"the lower speed first, at least {LEAST_BAND:.0f} rpm wide, {LOWEST:.0f} to {HIGHEST:.0f}",
        )  # fmt: skip
    return band


def _check_output(output: Path | None) -> None:
    if output is None:
        return
    if output.suffix.lower() != ".svg":
        raise UsageError(f"cannot tell what to draw from the ending of '{output}'", hint="end it in .svg")
    if not output.parent.is_dir():
        raise InputError(f"there is no folder '{output.parent}'", hint="make it first, or name another one")


def _holds(found: "SetupComparison", within: float) -> bool:
    ruled_out = found.comparison.equivalence
    return ruled_out is not None and ruled_out.holds(within)


def _print(found: "SetupComparison", within: float | None, held: bool | None) -> None:
    c = found.comparison
    text = c.text[:1].upper() + c.text[1:]
    click.echo(f"{text}.\n")
    _print_numbers(found)
    if within is not None:
        shown = "shown" if held else "not shown by these pulls"
        click.echo(f"within {within:g} %: no change larger than that anywhere in the band: {shown}")
    _print_order(found)
    click.echo(f"more pulls: {found.more_pulls.text}")
    for note in found.notes:
        click.echo(f"note: {note}")


def _print_order(found: "SetupComparison") -> None:
    order, level = found.order, found.comparison.level
    if not order.balanced:
        taken = f"taken out, at the price of an interval {order.wider:.1f} times as wide as A-B-B-A gives"
        click.echo(
            f"order {order.order}: a drift of 0.1 % a pull would add {0.1 * order.bias_pulls:+.2f} % to plain means"
            + (f"; {taken}" if level.drift_free else "")
        )
    if level.drift_free:
        click.echo(f"drift: {100.0 * level.drift:+.2f} % a pull (standard deviation {100.0 * level.drift_sd:.2f})")


def _print_numbers(found: "SetupComparison") -> None:
    c = found.comparison
    mean = _interval(c.mean_percent, c.mean_low, c.mean_high)
    click.echo(f"mean of {c.band[0]:.0f} to {c.band[1]:.0f} rpm: {mean}")
    if c.bottom_percent is not None and c.bottom_low is not None and c.bottom_high is not None:
        text = _interval(c.bottom_percent, c.bottom_low, c.bottom_high)
        click.echo(f"in the hole of {c.first}, {c.bottom_rpm:.0f} rpm: {text}")
    if c.curve is not None:
        worst, best = c.curve.worst, c.curve.best
        click.echo(f"worst, {worst.rpm:.0f} rpm: {_interval(worst.percent, worst.low, worst.high)}, whole-curve band")
        click.echo(f"best, {best.rpm:.0f} rpm: {_interval(best.percent, best.low, best.high)}, whole-curve band")
        click.echo(f"differs for certain: {_where(c.curve.differs)}{_KINDS[c.curve.kind]}")
    if c.top is not None:
        click.echo(f"top end, from {c.top.rpm:.0f} rpm: {_interval(c.top.percent, c.top.low, c.top.high)}")
    if c.equivalence is not None:
        click.echo(f"ruled out: {c.equivalence.text}")
    repeat = found.repeatability_percent
    alone = f"; pulls of one setup repeat within {repeat:.2f} % (one standard deviation)" if repeat else ""
    click.echo(f"pulls: {found.pulls[0]} of {c.first}, {found.pulls[1]} of {c.second}{alone}")


_KINDS = {
    "none": "",
    "broad": " (a broad change, the whole band moves)",
    "local": " (a local change, the band does not move as a whole)",
}


def _where(spans: tuple[tuple[float, float], ...]) -> str:
    return ", ".join(f"{a:.0f} to {b:.0f} rpm" for a, b in spans) or "at no single speed"


def _interval(middle: float, low: float, high: float) -> str:
    return f"{middle:+.1f} % ({low:+.1f} to {high:+.1f})"
