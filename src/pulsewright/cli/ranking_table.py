"""What every unknown of a sheet costs in certainty, as a person reads it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from pulsewright.cli.json_output import write_json

if TYPE_CHECKING:
    from pulsewright.new.ranking import Cost, Ranking

SHOWN = 0.0015  # [-] of torque; what costs less is counted, not listed
WIDE = 110
FIRST = 3  # things to find out


def rank_sheet(sheet: str, changes: Sequence[str], band: str | None, json_to: str | None) -> None:
    """Rank the unknowns of a sheet, or of a session's baseline, and say or write it."""
    from pulsewright.bench.session import RIDING_BAND, read_session
    from pulsewright.cli.pulls_compare import parse_band
    from pulsewright.cli.sheet_argument import is_session, text_of

    low_high = parse_band(band) if band else read_session(sheet).riding_band if is_session(sheet) else RIDING_BAND
    text, where = text_of(sheet, changes)
    ranking = ranked(text, low_high)
    if json_to:
        write_json({**ranking.as_json(), "file": where}, json_to)
    else:
        click.echo(f"{where}: what every unknown costs")
        print_ranking(ranking)


def ranked(text: str, band: tuple[float, float]) -> Ranking:
    """The ranking, with progress on a terminal."""
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.new.ranking import rank

    tell_first_start()
    import sys

    if not sys.stderr.isatty():
        return rank(text, band=band)
    from rich.console import Console

    with Console(stderr=True).status("moving every unknown by its doubt") as status:
        return rank(text, band=band, step=lambda done, count, what: status.update(f"{done} of {count}: {what}"))


def print_ranking(ranking: Ranking) -> None:
    """The answer, the table, and what to find out first."""
    low, high = ranking.band
    hole = f"; the hole, at {ranking.hole:.0f} rpm, within {ranking.hole_rpm:.0f} rpm" if ranking.hole > 0 else ""
    click.echo(
        f"All unknowns together: torque between {low:.0f} and {high:.0f} rpm within {ranking.torque_rms:.1%}{hole}"
        " (one standard deviation, before any pull)."
    )
    _print_table(ranking)
    rest = [cost for cost in ranking.costs if not cost.torque_rms >= SHOWN]
    if rest:
        click.echo(f"next to nothing: {', '.join(sorted({cost.unsure.what for cost in rest}))}")
    if ranking.hole > 0 and any(cost.hole_rpm != cost.hole_rpm for cost in ranking.costs):
        click.echo("hole '-': there is none any more where this moves")
    _print_first(ranking)


def _print_table(ranking: Ranking) -> None:
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False)
    if not console.is_terminal:
        console = Console(highlight=False, width=WIDE)
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for heading in ("unknown", "known by", "value", "doubt ±", "torque", "hole", "share"):
        table.add_column(heading, justify="left" if heading in ("unknown", "known by") else "right")
    for cost in ranking.costs:
        if cost.torque_rms >= SHOWN:
            table.add_row(*_cells(ranking, cost))
    console.print(table)


def _cells(ranking: Ranking, cost: Cost) -> tuple[str, ...]:
    from pulsewright.new.ranking import PULLS

    hole = f"{cost.hole_rpm:.0f} rpm" if cost.hole_rpm == cost.hole_rpm else "-"
    u = cost.unsure
    value = "" if u.known_by == PULLS else u.value
    return (u.what, u.known_by, value, u.doubt, f"{cost.torque_rms:.1%}", hole, f"{ranking.share(cost):.0%}")


def _print_first(ranking: Ranking) -> None:
    from pulsewright.new.ranking import PULLS

    findable = [cost for cost in ranking.costs if cost.unsure.known_by != PULLS and cost.torque_rms >= SHOWN]
    ways: dict[str, list[str]] = {}
    for cost in findable:
        ways.setdefault(cost.unsure.how, []).append(cost.unsure.what)
    click.echo("to find out first, with a tool in the hand:" if ways else "nothing is left to measure")
    for how, what in list(ways.items())[:FIRST]:
        click.echo(f"  {', '.join(dict.fromkeys(what))}: {how}")
    pulls = sum(ranking.share(cost) for cost in ranking.costs if cost.unsure.known_by == PULLS)
    click.echo(f"{pulls:.0%} of the doubt about torque is in what only pulls tell.")
