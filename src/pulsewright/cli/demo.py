"""`pulsewright demo`: the main job on an invented day on the dyno, up to the report for the customer."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.json_output import STANDARD_OUTPUT, json_option, write_json

if TYPE_CHECKING:
    from pulsewright.bench.session import Session
    from pulsewright.remedies.explain import Answer
    from pulsewright.simulate.echo_field import EchoField

FORMAT = "pulsewright demo 1"
Tell = Callable[[str, str], None]  # step, what came out


@click.command(name="demo")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    default=Path("pulsewright-demo"),
    show_default=True,
    metavar="FOLDER",
    help="A new folder for the session, the pictures and the report.",
)
@json_option
def command(output: Path, json_to: str | None) -> None:
    """Do the whole job on an invented day on the dyno, and say where the report is.

    Nothing in the session was measured: workshop, engine and pulls are invented.
    """
    started = time.perf_counter()

    def tell(step: str, text: str) -> None:
        # with --json, standard output belongs to the object alone
        click.echo(f"{step:<9}{text}", err=json_to == STANDARD_OUTPUT)

    result = run_demo(output, tell)
    if json_to:
        write_json({**result, "seconds": round(time.perf_counter() - started, 1)}, json_to)


def run_demo(folder: Path, tell: Tell) -> dict[str, Any]:
    """Copy the session into `folder` and do the job on it; the result is what `--json` prints."""
    from pulsewright.bench.session import read_session
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.demo.copy_session import copy_session
    from pulsewright.remedies.explain import explain_session

    session = read_session(copy_session(folder))
    tell("invented", f"{session.workshop}: nothing here was measured")
    tell("session", f"{folder}: {session.complaint}")
    for step, text in _checked(session):
        tell(step, text)
    tell_first_start()
    answer = explain_session(session, say=_say, fitted=False)
    for step, text in [*_holes(answer), *_explained(answer)]:
        tell(step, text)
    _say("drawing the echo")
    field, pictures = _draw(answer, folder)
    from pulsewright.figures.words import echo_sentence

    tell("echo", echo_sentence(field))
    tell("", ", ".join(str(picture) for picture in pictures))
    report = _report(answer, field, folder)
    tell("report", f"{report} (open it in a browser)")
    tell(
        "careful",
        "advice is no proof: watch lambda, listen for knock, mind carbon monoxide, noise and rollers",
    )
    return {
        "format": FORMAT, "invented": True, "session": folder, "report": report, "pictures": pictures,
        "explanation": answer.explanation.as_json(),
    }  # fmt: skip


def _say(text: str) -> None:
    click.echo(f"{text} ...", err=True)


def _checked(session: Session) -> list[tuple[str, str]]:
    assumed = len(session.setups[0].setup.assumptions) + len(session.assumptions)
    counts = {each.name: sum(pull.setup == each.name for pull in session.pulls) for each in session.setups}
    return [
        ("check", f"{len(session.pulls)} pulls; {assumed} values that are not on the sheet were assumed"),
        *(("", f"{each.name}: {each.note}, {counts[each.name]} pulls") for each in session.setups),
    ]


def _holes(answer: Answer) -> list[tuple[str, str]]:
    """What the pulls show: the hole, and what each change did to the torque."""
    pulls = answer.pulls
    hole = pulls.hole
    found = "no hole"
    if hole is not None:
        span = f"hole from {hole.rpm_from:.0f} to {hole.rpm_to:.0f} rpm"
        found = f"{span}, bottom {hole.rpm_bottom:.0f} rpm, {hole.depth:.0%} deep"
    lines = [("pulls", found)]
    for c in pulls.comparisons:
        proven = "" if c.proven else ", not proven"
        lines.append(("", f"{c.second} against {c.first}: {c.mean_percent:+.1f} % in the riding band{proven}"))
    return lines


def _explained(answer: Answer) -> list[tuple[str, str]]:
    e = answer.explanation
    lines = [("explain", f"{e.verdict} ({e.confidence:.0%})")]
    if e.split is not None:
        lines += [("", f"{s.cause} {s.share:.0%} ({s.low:.0%} to {s.high:.0%})") for s in e.split.shares]
    lines += [("danger", f"{n.level}: {n.what} (setup {n.setup}, {n.rpm:.0f} rpm)") for n in e.safety]
    return [*lines, *(("next", step.do) for step in e.next[:1])]


def _draw(answer: Answer, folder: Path) -> tuple[EchoField, list[Path]]:
    """The echo at the hole, as a picture and as a page that moves."""
    from pulsewright.figures.echo_page import write_echo_page
    from pulsewright.figures.echo_picture import draw_echo
    from pulsewright.report.echo_of_answer import echo_of

    field = echo_of(answer)
    if field is None:
        raise AssertionError("the demo's session has a hole made by a wave")
    svg, page = folder / "echo.svg", folder / "echo.html"
    draw_echo(field, svg)
    write_echo_page(field, page)
    return field, [svg, page]


def _report(answer: Answer, field: EchoField, folder: Path) -> Path:
    from pulsewright.report.tell import story_of
    from pulsewright.report.write import write_report

    return write_report(story_of(answer, field), folder / "report.html")
