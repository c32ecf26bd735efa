"""`pulsewright advise SESSION`: what to change, what is refused and why, and the next pull."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pulsewright.cli.explain import answer_for, no_fit_option
from pulsewright.cli.json_output import STANDARD_OUTPUT, json_option, write_json
from pulsewright.cli.run_state import state_of

if TYPE_CHECKING:
    from pulsewright.bench.session import Session
    from pulsewright.fit.machine import FittedMachine
    from pulsewright.pulls.session_pulls import SessionPulls
    from pulsewright.remedies.advise import Advice
    from pulsewright.remedies.next_pull import NextPull
    from pulsewright.remedies.ranking import Judged

TRIALS, EXPECTED = "trials", "expected"  # folders of the record store
SHOWN_REFUSED, SHOWN_OTHERS = 12, 6
Tell = Callable[[str, int, int], None]


@click.command(name="advise")
@click.argument("session", type=click.Path(path_type=Path))
@click.option(
    "--catalogue",
    "own",
    type=click.Path(path_type=Path),
    help="The shop's own catalogue of changes; remembered for the next time.",
)
@click.option(
    "--candidates", "most", type=click.IntRange(1, 2000), default=200, show_default=True, help="Changes to look at."
)
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Of the expected information.")
@click.option(
    "-o", "--output", "picture", type=click.Path(path_type=Path), metavar="FILE.svg", help="Draw gain against cost."
)
@click.option("--quiet", "-q", is_flag=True, help="No progress.")
@no_fit_option
@json_option
@click.pass_context
def command(
    ctx: click.Context, session: Path, own: Path | None, most: int, seed: int, picture: Path | None, quiet: bool,
    no_fit: bool, json_to: str | None,
) -> None:  # fmt: skip
    """Say what to change on the machine of a SESSION folder, what is refused and why, and which pull to make next.

    What the next pull should show is written down before it is made; `pulsewright judge` holds the pull against it.
    Ctrl-C stops within a second; the same command goes on.
    """
    from pulsewright.many.kept_rows import KeptRows
    from pulsewright.many.stop_signals import stop_signals
    from pulsewright.records.expected_pulls import write_expected
    from pulsewright.records.folders import store_folder
    from pulsewright.records.shop_catalogue import shop_catalogue
    from pulsewright.remedies.advise import advise

    store = store_folder(state_of(ctx).store)
    catalogue = shop_catalogue(store, own)
    found = _found(ctx, session, no_fit=no_fit)
    (store / TRIALS).mkdir(exist_ok=True)
    with (
        stop_signals() as stop,
        _progress(quiet) as tell,
        KeptRows(store / TRIALS / f"{_run_name(found.session.folder)}.log") as keep,
    ):
        advice = advise(
            found.session, found.pulls, found.machine, found.verdict, found.chances, catalogue, most=most, seed=seed,
            keep=keep, progress=tell, stopped=stop.is_set,
        )  # fmt: skip
    written = write_expected(advice.expected, store / EXPECTED) if advice.expected else None
    if picture is not None:
        from pulsewright.figures.gain_chart import gain_chart

        picture.write_text(gain_chart(advice.judged, sentence=advice.text), encoding="utf-8")
    if json_to:
        write_json({**advice.as_json(), "expected_pull": written, "picture": picture}, json_to)
    if json_to != STANDARD_OUTPUT:
        for line in in_lines(advice, written):
            click.echo(line)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    """What advice starts from."""

    session: Session
    pulls: SessionPulls
    machine: FittedMachine | None
    verdict: str
    chances: Mapping[str, float]


def _found(ctx: click.Context, folder: Path, *, no_fit: bool) -> _Found:
    """The explanation of a session; of one that the pulls alone show to be healthy without a fit."""
    from pulsewright.bench.session import read_session
    from pulsewright.cause.causes import NO_HOLE
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.pulls.session_pulls import read_session_pulls
    from pulsewright.remedies.explain import healthy_by_pulls

    session = read_session(folder)
    tell_first_start()
    pulls = read_session_pulls(session)
    chances = healthy_by_pulls(session, pulls)
    if chances is not None:
        return _Found(session=session, pulls=pulls, machine=None, verdict=NO_HOLE, chances=chances)
    answer = answer_for(ctx, folder, no_fit=no_fit)
    told = answer.explanation
    return _Found(
        session=answer.session, pulls=answer.pulls, machine=answer.machine, verdict=told.verdict, chances=told.chances
    )


def in_lines(advice: Advice, written: Path | None) -> list[str]:
    """Advice as text: the sentence, what is recommended, the next pull, what is refused, cautions."""
    from pulsewright.remedies.advice_words import CAUTIONS

    verdict = f"Verdict: {advice.verdict}" + ("" if advice.fitted or not advice.searched else " (model not fitted)")
    others = [j for j in advice.judged if j.standing not in ("recommended", "refused")]
    return [
        advice.text,
        verdict,
        *_table("Recommended, best first (80 % intervals)", advice.recommended),
        *_next(advice, written),
        *_table("Not recommended", others[:SHOWN_OTHERS], standing=True),
        *_more(len(others), SHOWN_OTHERS, "not recommended"),
        *_refused(advice.refused),
        *_section("Cautions", [*CAUTIONS, *_own_cautions(advice.recommended)]),
    ]


def _table(title: str, rows: list[Judged], *, standing: bool = False) -> list[str]:
    if not rows:
        return []
    lines = ["", title]
    for j in rows:
        lines.append(f"  - {j.candidate.words}" + (f" [{j.standing}]" if standing else ""))
        lines.append(f"      {_numbers(j)}")
    return lines


def _numbers(j: Judged) -> str:
    f, c = j.forecast, j.candidate
    hole = f"{100.0 * f.hole.value:.0f} % at {f.hole_rpm:.0f} rpm" if f.hole_rpm else "none of 3 %"
    lean = f"lambda to {f.leanest.value:.2f} ({f.leanest.high:.2f})" if f.leanest else "lambda unknown"
    parts = [
        f"band {_percent(f.gain)}",
        f"bottom {_percent(f.bottom)}" if f.bottom else "",
        f"hole left {hole}",
        f"top {_percent(f.top)}",
        lean,
        f"knock {f.knock.value:+.0f} % ({f.knock.high:+.0f})",
        c.loudness.word,
        f"{c.minutes:.0f} min",
        "" if c.stock == "owned" else c.stock,
        "" if c.reversible else "cannot be put back",
    ]
    return ", ".join(part for part in parts if part)


def _percent(i: object) -> str:
    value, low, high = (getattr(i, name) for name in ("value", "low", "high"))
    return f"{value:+.1f} % ({low:+.1f} to {high:+.1f})"


def _next(advice: Advice, written: Path | None) -> list[str]:
    if not advice.next:
        return ["", "No further pull is worth its time: nothing that may be tried promises more than pulls can show."]
    rows = [_one_next(n) for n in advice.next]
    lines = _section("Next pull, most value a minute first", rows)
    first = advice.next[0]
    if written is not None and first.judged is not None:
        lines += ["", "Add to session.toml before the pull:", *_setup_rows(advice, first)]
        lines.append(f"What it should show is kept in {written}")
    return lines


def _one_next(n: NextPull) -> str:
    apart = f"; tells apart {', '.join(n.tells_apart)}" if n.tells_apart else ""
    worth = f"{n.bits:.2f} bit, {n.gain:+.1f} % expected, about {n.minutes:.0f} min with its pulls"
    return f"{n.do}\n      expect: {n.expect}{apart}\n      {worth}"


def _setup_rows(advice: Advice, first: NextPull) -> list[str]:
    """The setup of the next pull as a session lists it."""
    from pulsewright.bench.changes import toml_value

    assert first.judged is not None
    rows = ", ".join(toml_value(list(row)) for row in first.judged.rows)
    names = {setup.name for setup in advice.session.setups}
    name = next(n for n in (*"BCDEFGHIJKLMNOPQRSTUVWXYZ", "next") if n not in names)
    return [
        "  [[setup]]",
        f'  name = "{name}"',
        f'  based_on = "{first.starts_from or advice.reference.name}"',
        f"  change = [ {rows} ]",
    ]


def _refused(rows: list[Judged]) -> list[str]:
    from pulsewright.remedies.advice_words import refused_reasons

    shown = [f"{j.candidate.words}: {refused_reasons(j)}" for j in rows[:SHOWN_REFUSED]]
    return [*_section("Refused", shown), *_more(len(rows), SHOWN_REFUSED, "refused")]


def _more(count: int, shown: int, what: str) -> list[str]:
    return [f"  - and {count - shown} more {what} (all of them with --json)"] if count > shown else []


def _own_cautions(rows: list[Judged]) -> list[str]:
    return list(dict.fromkeys(f"{j.candidate.words}: {text}" for j in rows for text in j.candidate.cautions))


def _section(title: str, rows: list[str]) -> list[str]:
    return ["", title, *(f"  - {row}" for row in rows)] if rows else []


def _run_name(folder: Path) -> str:
    """A file name for the runs of a session's folder."""
    import hashlib

    path = folder.resolve()
    return f"{path.name}-{hashlib.sha256(str(path).encode()).hexdigest()[:8]}"


@contextmanager
def _progress(quiet: bool) -> Iterator[Tell]:
    """A bar on a terminal, a line a stage elsewhere, nothing where nobody wants it."""
    if quiet:
        yield lambda *_: None
        return
    if not sys.stderr.isatty():
        told: set[str] = set()

        def say(stage: str, _done: int, whole: int) -> None:
            if stage not in told:
                told.add(stage)
                click.echo(f"{stage}: {whole} changes ...", err=True)

        yield say
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("advice", total=None)
        yield lambda stage, done, whole: bar.update(task, description=stage, completed=done, total=whole)
