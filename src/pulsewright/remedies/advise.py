"""A session that was explained to advice: what to change, what is refused and why, and the next pull.

explained session -> reference curves -> search on the fitted machine -> gates -> Pareto front -> next pull

Where no part is the matter nothing is searched: the machine as it stands is held against the gates, and that is all.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from pulsewright.bench.session import Session
from pulsewright.cause.causes import MEASUREMENT, NO_HOLE
from pulsewright.fit.machine import FIT_LEVEL, FittedMachine
from pulsewright.many.kept_rows import KeptRows
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.remedies.advice_words import sentence
from pulsewright.remedies.as_it_stands import TOO_LEAN, AsItStands, as_it_stands
from pulsewright.remedies.candidates import Machine, setup_hash
from pulsewright.remedies.catalogue import Catalogue
from pulsewright.remedies.expected_pull import ExpectedPull, expected_pull
from pulsewright.remedies.next_pull import NextPull, measuring_tests, next_pulls, richer_first
from pulsewright.remedies.pulled import pulled_setups
from pulsewright.remedies.ranking import FRONT, REFUSED, Judged, placed
from pulsewright.remedies.reference import Reference, model_speeds, reference_of
from pulsewright.remedies.search import Progress, Search
from pulsewright.remedies.trials import Trials
from pulsewright.remedies.trimmed import trimmed_setups
from pulsewright.simulate.fidelity import DRAG

FORMAT = "pulsewright advice 1"
CANDIDATES, SEED = 200, 1
MOST_NEXT = 4
UNSEARCHED = (MEASUREMENT, NO_HOLE)  # verdicts for which no part is the matter


def needs_machine(verdict: str) -> bool:
    """Whether changes are looked for under a verdict; else advice is found without a model."""
    return verdict not in UNSEARCHED


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Advice:
    """What to do with the machine of a session."""

    session: Session
    reference: Reference
    verdict: str
    fitted: bool
    searched: bool  # False where no part is the matter
    judged: tuple[Judged, ...]  # best first; empty where nothing was searched
    stands: AsItStands
    next: tuple[NextPull, ...]  # most value a minute first
    expected: ExpectedPull | None  # of the first test that changes the machine
    money: str
    own_catalogue: str

    @property
    def recommended(self) -> list[Judged]:
        """What may be recommended, best first."""
        return [j for j in self.judged if j.standing == FRONT]

    @property
    def refused(self) -> list[Judged]:
        """What a gate refuses, most promising first."""
        return [j for j in self.judged if j.standing == REFUSED]

    @property
    def text(self) -> str:
        """The advice in a sentence."""
        return sentence(self.verdict, self.reference, self.judged, self.next, self.stands)

    def as_json(self) -> dict[str, Any]:
        """Plain data in the form `pulsewright advice 1`."""
        return {
            "format": FORMAT,
            "session": self.session.folder.resolve().name,
            "setup": self.reference.name,
            "verdict": self.verdict,
            "fitted": self.fitted,
            "searched": self.searched,
            "text": self.text,
            "interval": 0.8,
            "money": self.money,
            "catalogue": self.own_catalogue or "general",
            "candidates": [judged_json(j) for j in self.judged],
            "next": [next_json(n) for n in self.next],
            "expected_pull": self.expected.sheet if self.expected else None,
        }


def advise(
    session: Session,
    pulls: SessionPulls,
    machine: FittedMachine | None,
    verdict: str,
    chances: Mapping[str, float],
    catalogue: Catalogue,
    *,
    most: int = CANDIDATES,
    seed: int = SEED,
    keep: KeptRows | None = None,
    progress: Progress | None = None,
    stopped: Callable[[], bool] | None = None,
) -> Advice:
    """Advice for the baseline of a session.

    machine : None will do where `needs_machine` says no. chances : of every cause. most : candidates to look at.
    keep : where finished runs are kept; with the same one a search that was stopped goes on.

    Raises CancelledError within a second of `stopped` saying True, LimitError where the model cannot compute the
    machine as it is.
    """
    reference = reference_of(session, pulls, pulls.baseline)
    stands = as_it_stands(session, pulls, reference)
    tests = measuring_tests(catalogue, pulls, verdict, chances)
    judged: list[Judged] = []
    searched = needs_machine(verdict)
    if searched:
        assert machine is not None
        search = _search(session, pulls, reference, machine, catalogue, verdict, most, keep, progress, stopped)
        pulled = pulled_setups(session, pulls, search)
        judged = placed([*pulled, *trimmed_setups(session, pulls, search, pulled), *search.run()], verdict)
        tests = sorted([*next_pulls(search, judged, chances, seed), *tests], key=lambda t: -t.value)
    if stands.level == TOO_LEAN:
        tests = richer_first(catalogue, verdict, tests)
    first = next((test for test in tests if test.judged is not None), None)
    expected = None
    if first is not None and machine is not None:
        start = (first.judged and first.judged.start) or reference
        before = setup_hash(session.setup(start.name).setup)
        expected = expected_pull(session, start, before, first, seed=seed, fitted=machine.fitted)
    return Advice(
        session=session, reference=reference, verdict=verdict, fitted=machine is not None and machine.fitted,
        searched=searched, judged=tuple(judged), stands=stands, next=tuple(tests[:MOST_NEXT]), expected=expected,
        money=catalogue.money, own_catalogue=catalogue.own,
    )  # fmt: skip


def _search(
    session: Session, pulls: SessionPulls, reference: Reference, machine: FittedMachine, catalogue: Catalogue,
    verdict: str, most: int, keep: KeptRows | None, progress: Progress | None, stopped: Callable[[], bool] | None,
) -> Search:  # fmt: skip
    setup = session.setup(reference.name)
    final = Trials(
        machine=machine, speeds=model_speeds(reference), level=FIT_LEVEL, keep=KeptRows() if keep is None else keep,
        stopped=stopped or (lambda: False),
    )  # fmt: skip
    return Search(
        machine=Machine(name=setup.name, text=setup.text, setup=setup.setup),
        reference=reference,
        catalogue=catalogue,
        first=replace(final, level=DRAG),
        final=final,
        verdict=verdict,
        pulled=tuple(session.setup(name).setup for name in pulls.setups if name != reference.name),
        most=most,
        progress=progress or (lambda *_: None),
    )


def judged_json(j: Judged) -> dict[str, Any]:
    """One change as plain data."""
    c, f = j.candidate, j.forecast
    return {
        "do": c.words,
        "standing": j.standing,
        "changes": [list(row) for row in j.rows],
        "entries": list(c.entries),
        "pulled_as": j.pulled or None,
        "starts_from": j.starts_from or None,
        "gain_percent": f.gain.as_json(),
        "bottom_percent": f.bottom and f.bottom.as_json(),
        "hole_depth": f.hole.as_json(3),
        "hole_rpm": f.hole_rpm and round(f.hole_rpm),
        "top_percent": f.top.as_json(),
        "leanest": f.leanest and f.leanest.as_json(3),
        "leanest_rpm": f.leanest_rpm and round(f.leanest_rpm),
        "knock_change_percent": f.knock.as_json(1),
        "loudness": c.loudness.word,
        "loudness_why": c.loudness.why,
        "minutes": c.minutes,
        "cost": c.cost,
        "reversible": c.reversible,
        "stock": c.stock,
        "cautions": list(c.cautions),
        "refused": [{"gate": r.gate, "why": r.why, "rpm": r.rpm and round(r.rpm)} for r in j.refusals],
        "draws": f.draws,
    }


def next_json(n: NextPull) -> dict[str, Any]:
    """One test as plain data."""
    return {
        "do": n.do,
        "expect": n.expect,
        "bits": round(n.bits, 3),
        "gain_percent": round(n.gain, 2),
        "minutes": n.minutes,
        "value_per_minute": round(n.value, 4),
        "tells_apart": list(n.tells_apart),
        "starts_from": n.starts_from or None,
        "changes": [list(row) for row in n.judged.rows] if n.judged else [],
    }
