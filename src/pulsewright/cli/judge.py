"""`pulsewright judge SESSION`: did the new pulls come out as expected, and what do they say of the cause."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.explain import FITS, no_fit_option, say
from pulsewright.cli.json_output import STANDARD_OUTPUT, json_option, write_json
from pulsewright.cli.run_state import state_of
from pulsewright.errors import InputError

if TYPE_CHECKING:
    from pulsewright.bench.session import Session
    from pulsewright.fit.fit import Fit
    from pulsewright.pulls.session_pulls import SessionPulls
    from pulsewright.remedies.expected_pull import ExpectedPull
    from pulsewright.remedies.judgement import Agreement, Judgement

EXPECTED = "expected"  # folder of the record store
NEW_SETUP = "new pull"


@click.command(name="judge")
@click.argument("session", type=click.Path(path_type=Path))
@click.option("--setup", "name", metavar="NAME", help="Setup of the new pulls; else every setup that has a forecast.")
@click.option(
    "--pull", "files", type=click.Path(path_type=Path), multiple=True, metavar="FILE",
    help="A new pull that the session does not list yet, made with the change of the forecast. May be repeated.",
)  # fmt: skip
@click.option(
    "--expected", "forecast", type=click.Path(path_type=Path), metavar="FILE",
    help="The forecast to judge by; else the one kept in the store for this machine.",
)  # fmt: skip
@no_fit_option
@json_option
@click.pass_context
def command(
    ctx: click.Context, session: Path, name: str | None, files: tuple[Path, ...], forecast: Path | None, no_fit: bool,
    json_to: str | None,
) -> None:  # fmt: skip
    """Hold new pulls of a SESSION folder against what was written down before them, then fit the model to them too.

    The exit code does not judge the model.
    """
    from pulsewright.bench.session import read_session
    from pulsewright.pulls.session_pulls import read_session_pulls
    from pulsewright.records.folders import store_folder
    from pulsewright.remedies.judgement import FORMAT, judge

    store = store_folder(state_of(ctx).store)
    day = read_session(session)
    if files:
        expected = _given_or_latest(day, forecast, store / EXPECTED)
        day = with_pulls(day, expected, files)
        chosen = [(NEW_SETUP, expected)]
    else:
        chosen = _forecasts(day, name, forecast, store / EXPECTED)
    pulls = read_session_pulls(day)
    missing = [setup for setup, _ in chosen if setup not in pulls.setups]
    if missing:
        raise InputError(f"setup '{missing[0]}' has no pulls yet", where=str(session), hint="pull it, then judge")
    judged = [judge(expected, pulls.setups[setup]) for setup, expected in chosen]
    fit = None if no_fit else _fitted(day, pulls, store)
    if json_to:
        rows = [j.as_json() for j in judged]
        write_json({"format": FORMAT, "judged": rows, "fit": fit and _fit_json(fit)}, json_to)
    if json_to != STANDARD_OUTPUT:
        for line in in_lines(judged, fit):
            click.echo(line)


def with_pulls(session: Session, expected: ExpectedPull, files: tuple[Path, ...]) -> Session:
    """The session with pulls of a forecast's machine added at its end."""
    from dataclasses import replace

    from pulsewright.bench.session import PullEntry, SessionSetup
    from pulsewright.bench.sheet import setup_from_text

    setup = SessionSetup(
        name=NEW_SETUP,
        setup=setup_from_text(expected.sheet_text, "the forecast's sheet", name=NEW_SETUP, lines=False),
        changes=expected.changes, note=expected.do, based_on=expected.before_setup, text=expected.sheet_text,
    )  # fmt: skip
    air = session.pulls[-1].air if session.pulls else None
    entries = [PullEntry(file=f, setup=NEW_SETUP, kind="sweep", air=air, head_temperature=None, note="") for f in files]
    return replace(session, setups=(*session.setups, setup), pulls=(*session.pulls, *entries))


def in_lines(judged: list[Judgement], fit: Fit | None) -> list[str]:
    """Judgements as text."""
    lines: list[str] = []
    for j in judged:
        lines += [*([""] if lines else []), f"Setup {j.setup}, {j.do}: {j.text}.", *_curve("torque", j.torque, "%")]
        lines += _curve("lambda", j.mixture, "") if j.mixture else ["  - lambda: nothing was expected or measured"]
        odds = sorted(j.odds.items(), key=lambda row: -row[1])
        lines += [f"  - {cause}: {value:+.1f} log10 odds, now {j.chances[cause]:.0%}" for cause, value in odds]
    if fit is not None:
        followed = ", ".join(f"{f.name} {f.torque_rms:.1%}" for f in fit.setups)
        lines += ["", f"The fit now holds these pulls too; torque rms by setup: {followed}."]
    return lines


def _curve(what: str, a: Agreement, unit: str) -> list[str]:
    off = f"{a.mean_off:+.1f} {unit}" if unit else f"{a.mean_off:+.3f}"
    rows = [f"  - {what}: {a.inside:.0%} of the riding band inside the 80 % band, mean {off.strip()} off"]
    rows += [f"      {side} the band from {low:.0f} to {high:.0f} rpm" for low, high, side in a.outside]
    return rows


def _forecasts(
    session: Session, name: str | None, forecast: Path | None, folder: Path
) -> list[tuple[str, ExpectedPull]]:
    """Setups to judge, each with its forecast."""
    from pulsewright.records.expected_pulls import expected_of_sheet, read_expected
    from pulsewright.remedies.candidates import setup_hash

    setups = [session.setup(name)] if name else list(session.setups)
    if forecast is not None:
        expected = read_expected(forecast)
        fitting = [s.name for s in setups if setup_hash(s.setup) == expected.sheet] or ([name] if name else [])
        found = [(each, expected) for each in fitting]
    else:
        rows = [(s.name, expected_of_sheet(folder, setup_hash(s.setup))) for s in setups]
        found = [(each, kept[0][1]) for each, kept in rows if kept]
    if not found:
        raise InputError(
            f"no forecast is kept for {f'setup {name!r}' if name else 'a setup of this session'}",
            where=str(folder),
            hint="run `pulsewright advise` before the pull, and make the pull with the change that it prints",
        )
    return found


def _given_or_latest(session: Session, forecast: Path | None, folder: Path) -> ExpectedPull:
    from pulsewright.records.expected_pulls import latest_of_session, read_expected

    if forecast is not None:
        return read_expected(forecast)
    found = latest_of_session(folder, session.folder.resolve().name)
    if found is None:
        raise InputError(
            "no forecast is kept for this session", where=str(folder), hint="run `pulsewright advise` before the pull"
        )
    return found


def _fitted(session: Session, pulls: SessionPulls, store: Path) -> Fit:
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.many.stop_signals import stop_signals
    from pulsewright.remedies.model_of_session import fit_of_session

    tell_first_start()
    with stop_signals() as stop:
        return fit_of_session(session, pulls, store=store / FITS, say=say, stopped=stop.is_set)


def _fit_json(fit: Fit) -> dict[str, Any]:
    import dataclasses

    return {
        "identity": dataclasses.asdict(fit.identity),
        "torque_rms": {f.name: round(f.torque_rms, 4) for f in fit.setups},
    }
