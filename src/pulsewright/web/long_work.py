"""What long work does: the same calls as on the command line, with their answers kept in the store."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from pulsewright.records.work import Work
from pulsewright.web import words
from pulsewright.web.desk import Desk

if TYPE_CHECKING:
    from pulsewright.web.worker import Progress

EXPLAIN, FIT, ADVISE = "explain", "fit", "advise"
TRIALS = "trials"  # folder of finished runs, the one that the command line uses
STEPS_OF_EXPLAIN = 8  # about how often an explanation says what it does


def explain(desk: Desk, work: Work, progress: Progress) -> None:
    """The cause, with the story that every page tells it by."""
    from pulsewright.bench.session import read_session
    from pulsewright.remedies.explain import explain_session
    from pulsewright.report.echo_of_answer import echo_of
    from pulsewright.report.kept_story import story_as_json
    from pulsewright.report.tell import story_of

    laid = desk.store.laid_out(work.job)
    said = 0

    def say(text: str) -> None:
        nonlocal said
        said += 1
        progress.tell(min(0.95, said / STEPS_OF_EXPLAIN), text)

    fitted = bool(work.arguments.get("fitted", True))
    answer = explain_session(read_session(laid.folder), say, fitted=fitted, store=desk.fits, stopped=progress.stopped)
    story = story_of(answer, echo_of(answer))
    found = {**answer.explanation.as_json(), "fitted": fitted}
    desk.store.keep_answer(work.job, "report", story_as_json(story), made_from=laid.hashes)
    desk.store.keep_answer(work.job, "explain", found, made_from=laid.hashes)


def fit(desk: Desk, work: Work, progress: Progress) -> None:
    """The full fit, then the cause by it."""
    from pulsewright.bench.session import read_session
    from pulsewright.fit.fit import without_nan
    from pulsewright.fit.fit_session import fit_session

    laid = desk.store.laid_out(work.job)

    def tell(share: float, text: str) -> None:
        progress.tell(0.9 * share, text)

    found = fit_session(read_session(laid.folder), store=desk.fits, progress=tell, stopped=progress.stopped)
    desk.store.keep_answer(work.job, "fit", without_nan(found.as_json()), made_from=laid.hashes)
    explain(desk, replace(work, arguments={"fitted": True}), progress)


def advise(desk: Desk, work: Work, progress: Progress) -> None:
    """What to change and which pull to make next, with what it should show."""
    from pulsewright.bench.session import read_session
    from pulsewright.errors import InputError
    from pulsewright.fit.fit import without_nan
    from pulsewright.many.kept_rows import KeptRows
    from pulsewright.pulls.session_pulls import read_session_pulls
    from pulsewright.records.shop_catalogue import shop_catalogue
    from pulsewright.remedies.advise import CANDIDATES, SEED, advise, needs_machine
    from pulsewright.remedies.explain import SPLIT_DRAWS
    from pulsewright.remedies.model_of_session import known_fit, machine_without_fit

    explained = desk.store.newest(work.job, "explain")
    if explained is None:
        raise InputError(words.TEXT["plan_needs_cause"])
    laid = desk.store.laid_out(work.job)
    session = read_session(laid.folder)
    progress.tell(0.02, words.TEXT["work_reads"])
    pulls = read_session_pulls(session)
    machine = None
    if needs_machine(explained.data["verdict"]):
        fits = [known_fit(session, pulls, desk.fits, quick=quick) for quick in (False, True)]
        found = next((f for f in fits if f is not None), None)
        progress.tell(0.05, words.TEXT["work_near"])
        machine = found.machine.few(SPLIT_DRAWS) if found else machine_without_fit(session, pulls, progress.stopped)
    stages: list[str] = []

    def tell(stage: str, done: int, whole: int) -> None:
        if stage not in stages:
            stages.append(stage)
        share = (len(stages) - 1 + done / max(whole, 1)) / 3.0
        progress.tell(min(0.95, 0.1 + 0.85 * share), stage)

    folder = desk.folder / TRIALS
    folder.mkdir(exist_ok=True)
    with KeptRows(folder / f"job-{work.job}.log") as keep:
        advice = advise(
            session, pulls, machine, explained.data["verdict"], explained.data["chances"], shop_catalogue(desk.folder),
            most=int(work.arguments.get("most", CANDIDATES)), keep=keep, progress=tell, stopped=progress.stopped,
        )  # fmt: skip
    if advice.expected is not None:
        desk.store.keep_answer(
            work.job, "expected", without_nan(advice.expected.as_json()), seed=SEED, made_from=laid.hashes
        )
    desk.store.keep_answer(work.job, "advise", without_nan(advice.as_json()), seed=SEED, made_from=laid.hashes)


KINDS: dict[str, Callable[[Desk, Work, Progress], None]] = {EXPLAIN: explain, FIT: fit, ADVISE: advise}
