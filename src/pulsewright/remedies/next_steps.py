"""What to do next by the words of the catalogue: the test that tells the suspects apart, and the safe step after it.

Expected effects are runs of the unfitted model at the hole; a rejet is offered only where the leanest trusted
lambda leaves room for it. `pulsewright advise` does the same with the fitted machine and all of the catalogue.
"""

from __future__ import annotations

from pulsewright.bench.session import Session, SessionSetup
from pulsewright.bench.setup import Setup
from pulsewright.cause.causes import (
    CANNOT_TELL,
    EXHAUST_WAVE,
    IGNITION,
    INTAKE_WAVE,
    MEASUREMENT,
    MIXTURE_RICH,
)
from pulsewright.cause.evidence import doubted_sensor, exhaust_only, jets_only
from pulsewright.cause.explanation import NextTest
from pulsewright.cause.safety import SENSOR_MARGIN, LeanPoint, lean_gate
from pulsewright.network.options import Options
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.remedies.candidates import Candidate, Machine, candidate
from pulsewright.remedies.catalogue import Catalogue, Test, general_catalogue
from pulsewright.remedies.change_rows import options_of
from pulsewright.simulate.sweep import sweep

WAVE_CHANGES = (("plate", 1), ("slip-on-length", 1))  # catalogue entry, and which of its options
STEP_LEANER = 1.03  # what one main jet step does to lambda at most, common practice
LEAN_ROOM = 2  # steps that must fit under the gate


def next_tests(
    session: Session,
    pulls: SessionPulls,
    verdict: str,
    *,
    bottom: float | None,
    mixture: float | None,
    lean: LeanPoint | None,
    catalogue: Catalogue | None = None,
) -> list[NextTest]:
    """The next steps for a verdict, cheapest and most telling first.

    bottom : speed at which the model is asked [rpm]; mixture : lambda imposed there, None = carburettor.
    """
    book = catalogue or general_catalogue()
    if verdict in (EXHAUST_WAVE, INTAKE_WAVE, CANNOT_TELL) and bottom is not None:
        return _wave_tests(session, pulls, verdict, bottom, mixture, book)
    if verdict == MIXTURE_RICH:
        return [*_kept_jets(session, pulls), _leaner(lean, book)]
    if verdict == MEASUREMENT:
        return _measuring(pulls, book)
    return _fixed(verdict, book)


def wave_candidates(setup: SessionSetup, catalogue: Catalogue) -> list[Candidate]:
    """The quick changes of a pipe end that move or damp an echo, as far as the machine takes them."""
    machine = Machine(name=setup.name, text=setup.text, setup=setup.setup)
    found = []
    for name, number in WAVE_CHANGES:
        entry = catalogue.change(name)
        options = options_of(entry, setup.setup, catalogue) if entry else []
        made = candidate(machine, options[min(number, len(options) - 1) :][:1]) if options else None
        if made is not None:
            found.append(made)
    return found


def as_next(test: Test) -> NextTest:
    """A test of the catalogue, as an explanation lists it."""
    return NextTest(do=test.do, expect=test.expect, tells_apart=test.tells_apart, minutes=test.minutes)


def _fixed(verdict: str, book: Catalogue) -> list[NextTest]:
    return [as_next(t) for t in book.tests if verdict in t.verdicts] or [as_next(book.test("repeat"))]


def _wave_tests(
    session: Session, pulls: SessionPulls, verdict: str, bottom: float, mixture: float | None, book: Catalogue
) -> list[NextTest]:
    tried = [s for s in session.setups if s.name != pulls.baseline and exhaust_only(s)]
    good = [c for c in pulls.comparisons if c.second in {s.name for s in tried} and (c.bottom_percent or 0.0) > 3.0]
    if verdict == EXHAUST_WAVE and good:
        best = max(good, key=lambda c: c.bottom_percent or 0.0)
        return [
            NextTest(
                do=f"put the exhaust of setup {best.second} back and prove it: three pulls with, three without, three "
                "with again, head at the same temperature",
                expect=f"torque at {best.bottom_rpm:.0f} rpm {best.bottom_percent:+.0f} % as before, within its "
                "interval",
                tells_apart=(EXHAUST_WAVE, MEASUREMENT),
                minutes=45.0,
            ),
            as_next(book.test("after-exhaust")),
        ]
    setup = session.setup(pulls.baseline)
    tests = _asked_of_the_model(setup.setup, wave_candidates(setup, book), bottom, mixture)
    repeat = as_next(book.test("repeat"))
    return [*tests, repeat] if tests else [as_next(book.test("soft-end")), repeat]


def _asked_of_the_model(
    machine: Setup, candidates: list[Candidate], bottom: float, mixture: float | None
) -> list[NextTest]:
    if not candidates:
        return []
    options = Options(mixture=mixture)
    before = sweep(machine, [bottom], options)[0].torque
    tests = []
    for each in candidates:
        change = sweep(each.setup, [bottom], options)[0].torque / before - 1.0
        tests.append(
            NextTest(
                do=each.words,
                expect=f"about {100.0 * change:+.0f} % of torque near {bottom:.0f} rpm by the unfitted model if the "
                "exhaust wave is to blame; nothing if it is not",
                tells_apart=(EXHAUST_WAVE, MIXTURE_RICH, IGNITION),
                minutes=each.minutes,
            )
        )
    return tests


def _kept_jets(session: Session, pulls: SessionPulls) -> list[NextTest]:
    """Jets already pulled that gained torque and stay under the lean gate: keep the best of them."""
    safe = []
    for comparison in pulls.comparisons:
        name = comparison.second
        mixture = pulls.setups[name].mixture
        known = mixture[mixture == mixture]
        gain = comparison.proven and comparison.mean_percent > 0.0
        if not jets_only(session.setup(name)) or not gain or not known.size or doubted_sensor(pulls, name):
            continue
        if known.max() + SENSOR_MARGIN < lean_gate(session, name):
            safe.append((comparison, float(known.max())))
    if not safe:
        return []
    best, highest = max(safe, key=lambda row: row[0].mean_percent)
    return [
        NextTest(
            do=f"keep the jets of setup {best.second} and prove them in the order "
            f"{best.first}-{best.second}-{best.first}",
            expect=f"{best.mean_percent:+.1f} % of torque in the riding band again, lambda no higher than "
            f"{highest:.2f}",
            tells_apart=(MIXTURE_RICH, MEASUREMENT),
            minutes=30.0,
        )
    ]


def _leaner(lean: LeanPoint | None, book: Catalogue) -> NextTest:
    if lean is None or not lean.trusted:
        return as_next(book.test("true-mixture"))
    if lean.value * STEP_LEANER**LEAN_ROOM > lean.gate:
        return NextTest(
            do=f"go no leaner: setup {lean.setup} already reads lambda {lean.value:.2f} at {lean.rpm:.0f} rpm, "
            f"{LEAN_ROOM} more steps could pass the lean gate of {lean.gate:.2f}",
            expect="the jets of the pull with most torque in the riding band stay in",
            tells_apart=(),
            minutes=0.0,
        )
    jets = book.change("main-jet")
    return NextTest(
        do="go one main jet step leaner, and one step only between pulls",
        expect=f"lambda up by about 0.03 everywhere, highest about {lean.value * STEP_LEANER:.2f}; stop at "
        f"{lean.gate:.2f}",
        tells_apart=(MIXTURE_RICH, EXHAUST_WAVE),
        minutes=jets.minutes if jets else 15.0,
    )


def _measuring(pulls: SessionPulls, book: Catalogue) -> list[NextTest]:
    kinds = {f.kind for f in pulls.findings}
    tests = [as_next(t) for t in book.tests if t.finding and t.finding in kinds]
    return tests or [as_next(book.test("repeat"))]
