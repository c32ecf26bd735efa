"""A slide or constant velocity carburettor whose sizes nobody knows runs like one that somebody has set up.

The engines are invented. The usual sizes were chosen on two others (`bench.fill_slide`); the limits are common
practice, no published source: an engine runs from lambda 0.7 to 1.15, and one speed may lie in a hole.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.simulate.outcome import CONVERGED
from pulsewright.simulate.throttle_map import ThrottleMap, throttle_map

SLIDE, SUCTION = "slide", "constant velocity"
OPENINGS = (0.05, 0.09, 0.13, 0.18, 0.25, 0.4, 0.6, 0.8, 1.0)
ENGINE = """
[engine]
cylinders = {cylinders}
bore = "{bore} mm"
stroke = "{stroke} mm"
compression_ratio = 9.5
[engine.intake_valve]
opens = "22 deg BTDC"
closes = "52 deg ABDC"
[engine.exhaust_valve]
opens = "52 deg BBDC"
closes = "22 deg ATDC"
"""
ROUTE = 'route.{n} = [ {{ piece = "pipe", length = "{length} mm", bore = "{pipe} mm" }} ]\n'
SPEEDS = {"small single": (4500.0, 7000.0), "four in a row": (5000.0, 8500.0)}


def machine(name: str, kind: str) -> Setup:
    """A small single, or a four with a carburettor each."""
    small = name == "small single"
    cylinders, pipe, length, venturi = (1, 28, 700, 22) if small else (4, 33, 650, 36)
    text = ENGINE.format(cylinders=cylinders, bore=57 if small else 67, stroke=49 if small else 42.5)
    text += f'[[carburettor]]\nkind = "{kind}"\nventuri = "{venturi} mm"\n' * cylinders + "[exhaust]\n"
    text += "".join(ROUTE.format(n=n, length=length, pipe=pipe) for n in range(1, cylinders + 1))
    return setup_from_text(text, name)


@cache
def mapped(name: str, kind: str) -> ThrottleMap:
    from pulsewright.simulate.fidelity import SHOW

    return throttle_map(machine(name, kind), OPENINGS, SPEEDS[name], level=SHOW, threads=1)


@pytest.mark.parametrize("kind", [SLIDE, SUCTION])
@pytest.mark.parametrize("name", SPEEDS)
def test_it_runs_at_every_opening(name: str, kind: str):
    mixture = mapped(name, kind).curves["lambda_delivered"]
    print(name, kind, mixture.round(2).tolist())
    assert 0.72 < np.exp(np.mean(np.log(mixture))) < 1.0
    assert np.all((mixture > 0.63) & (mixture < 1.2))
    over_throttle = np.exp(np.mean(np.log(mixture), axis=1))
    assert np.max(np.abs(np.diff(np.log(over_throttle)))) < 0.25  # no step from one opening to the next


@pytest.mark.parametrize("kind", [SLIDE, SUCTION])
@pytest.mark.parametrize("name", SPEEDS)
def test_small_openings_arrive(name: str, kind: str):
    """Nine in ten: an engine that fires and misfires by turns does not."""
    found = [outcome for row in mapped(name, kind).outcome[:5] for outcome in row]
    assert sum(outcome == CONVERGED for outcome in found) >= 8, found


@pytest.mark.parametrize("jet", ["1.60 mm", "2.40 mm"])
@pytest.mark.parametrize("kind", [SLIDE, SUCTION])
def test_another_main_jet_is_no_other_needle_jet(kind: str, jet: str):
    text = ENGINE.format(cylinders=1, bore=90, stroke=80) + f'[[carburettor]]\nkind = "{kind}"\nventuri = "38 mm"\n'
    route = "[exhaust]\n" + ROUTE.format(n=1, length=900, pipe=42)
    usual = setup_from_text(text + route, "x").carburettors[0]
    other = setup_from_text(text + f'main_jet = "{jet}"\n' + route, "x").carburettors[0]
    assert other.main_jet != usual.main_jet
    assert other.needle == usual.needle
    assert other.intermediate_jet == usual.intermediate_jet
