"""A setup that was pulled, with other jets: its pulls count, the model speaks for the jets alone."""

from dataclasses import replace

import numpy as np
import pytest
from tests.cheap_machine import Model, reference
from tests.unit.remedies.test_search import search

from pulsewright.cause.causes import EXHAUST_WAVE
from pulsewright.remedies.candidates import Machine
from pulsewright.remedies.catalogue import PULLED
from pulsewright.remedies.gates import LEAN, refusals
from pulsewright.remedies.interval import Interval, added
from pulsewright.remedies.next_pull import next_pulls
from pulsewright.remedies.ranking import FRONT, Judged, placed
from pulsewright.remedies.reference import Reference
from pulsewright.remedies.search import Search
from pulsewright.remedies.trimmed import MOST_TRIMMED, with_other_jets

GAVE, AT_THE_BOTTOM = Interval(6.0, 5.0, 7.0), Interval(10.0, 8.0, 12.0)


class RichCosts(Model):
    """Jets move torque a little: 0.1 of what they move lambda."""

    def __call__(self, setup, speeds, options, **more):
        points = super().__call__(setup, speeds, options, **more)
        return [replace(p, torque=p.torque * (1.0 + 0.1 * (p.lambda_trapped - 0.84))) for p in points]


class KnocksWithoutThePlate(RichCosts):
    """The end gas comes to 0.9 of self-ignition without a plate, to 0.6 with one, and a fifth further on other jets."""

    def __call__(self, setup, speeds, options, **more):
        plate = any(p.piece == "plate" for p in setup.exhaust.route[1])
        other = setup.carburettors[0].main_jet != 2.0e-3
        integral = (0.6 if plate else 0.9) * (1.2 if other else 1.0)
        return [replace(p, knock_margin=1.0 - integral) for p in super().__call__(setup, speeds, options, **more)]


def plate_was_pulled(mixture: float, model: Model | None = None) -> tuple[Search, Judged, Machine, Reference]:
    """A search at lambda 0.84, whose plate was pulled: it cured the hole, and read this lambda everywhere."""
    one = search(model or RichCosts())
    plate = next(j for j in one.run() if j.candidate.entries == ("plate",)).candidate
    options = [replace(o, entry=replace(o.entry, kind=PULLED, name="setup C")) for o in plate.options]
    own = replace(reference(mixture=mixture, bottom=None), name="C")
    forecast = replace(next(j for j in one.judge_all([plate])).forecast, gain=GAVE, bottom=AT_THE_BOTTOM)
    lean = replace(forecast, lean_high=np.full(own.rpm.shape, mixture + 0.01))
    base = Judged(
        candidate=replace(plate, options=tuple(options)), forecast=forecast, refusals=refusals(own, lean), pulled="C"
    )
    return replace(one, pulled=(plate.setup,)), base, Machine(name="C", text=plate.text, setup=plate.setup), own


def test_a_cure_at_the_lean_gate_passes_with_richer_jets():
    one, base, machine, own = plate_was_pulled(0.91)
    assert [r.gate for r in base.refusals] == [LEAN]
    found = with_other_jets(one, base, machine, own)
    assert len(found) == MOST_TRIMMED
    best = placed([base, *found], EXHAUST_WAVE)[0]
    assert best.standing == FRONT
    assert best.starts_from == "C"
    assert best.candidate.words.startswith("setup C as it was pulled; main jet 2 mm to 2.")
    assert best.forecast.lean_high[own.in_reach].max() < 0.90


def test_what_was_measured_and_what_the_jets_do_are_added():
    one, base, machine, own = plate_was_pulled(0.91)
    for each in with_other_jets(one, base, machine, own):
        mixture = 0.84 * 2.0e-3 / each.candidate.setup.carburettors[0].main_jet
        change = each.forecast.gain.value - GAVE.value
        assert change == pytest.approx(10.0 * (mixture - 0.84), abs=0.02)  # [%] of torque
        assert each.forecast.gain.low < GAVE.low + change
        assert each.forecast.bottom is not None
        assert each.forecast.bottom.value == pytest.approx(AT_THE_BOTTOM.value + change, abs=0.3)


def test_leaner_jets_are_held_against_the_gate_of_what_was_measured():
    one, base, machine, own = plate_was_pulled(0.91)
    richer = with_other_jets(one, base, machine, own)
    assert all("to 1." not in j.candidate.words for j in richer if not j.refusals)
    unknown = replace(own, mixture_known=np.zeros(own.rpm.shape, bool))
    assert all(j.refusals for j in with_other_jets(one, base, machine, unknown))


def test_what_the_machine_stood_of_knock_as_it_came_counts():
    found = with_other_jets(*plate_was_pulled(0.91, KnocksWithoutThePlate()))
    assert any(not j.refusals and "main jet" in j.candidate.words for j in found)


def test_the_next_pull_changes_the_jets_of_the_setup_and_nothing_else():
    one, base, machine, own = plate_was_pulled(0.91)
    judged = placed([base, *with_other_jets(one, base, machine, own)], EXHAUST_WAVE)
    first = next_pulls(one, judged, {EXHAUST_WAVE: 0.6, "ignition": 0.4}, 1)[0]
    assert first.starts_from == "C"
    assert first.judged is not None
    assert first.judged.start is own
    assert {path for path, _ in first.judged.rows} <= {"carburettor.1.main_jet", "carburettor.1.intermediate_jet"}
    assert first.gain == pytest.approx(first.judged.forecast.gain.value)  # nothing pulled passes its gates
    assert len(first.judged.candidate.rows) > len(first.judged.rows)


def test_doubts_add_in_squares():
    whole = added(Interval(1.0, -2.0, 5.0), Interval(2.0, -2.0, 5.0))
    assert (whole.value, whole.low, whole.high) == (3.0, -2.0, 8.0)
