"""What every shop knows of pipes, found again by the model with the mixture held at its best."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.sheet import read_setup
from pulsewright.network.calibration import NOMINAL, Calibration
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.simulate.fidelity import DRAG
from pulsewright.simulate.sweep import sweep

TWIN = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
SPEEDS = [float(rpm) for rpm in range(2750, 4626, 125)]
BEST = 0.85  # lambda
COLD_PIPE = replace(NOMINAL, pipe_heat=1.5, wall_warmth=0.3)
TO_COLLECTOR = '[ { piece = "pipe", length = "%s", bore = "44 mm" }, { piece = "join", into = "collector 1" } ]'
AFTER = '[ { piece = "pipe", length = "%s", bore = "50 mm" }, { piece = "end", kind = "open" } ]'


def what_the_echo_leaves(calibration: Calibration, *changes: tuple[str, object]) -> tuple[np.ndarray, float]:
    """Torque over that without an echo, by speed, and the mean temperature of the gas in the first pipe. [-], [K]"""
    setup, temperatures = read_setup(TWIN, list(changes)), []

    def torque(ends: str) -> np.ndarray:
        options = Options(grid=DRAG.grid, calibration=calibration, exhaust_ends=ends)
        points = sweep(setup, SPEEDS, options, mixture=lambda _: BEST, within=DRAG.within, threads=1, seen=seen)
        return np.array([p.torque for p in points])

    def seen(case, rpm: float) -> None:
        slots = [slot for slot, *_ in case.exhaust.lines[1].cells]
        c = case.arrays["cells"]
        volume = 1.0 / c["inverse_volume"][0, slots]
        temperatures.append(float(np.sum(volume * c["mean_T"][0, slots]) / np.sum(volume)) * rpm / 120.0)

    with_echo = torque("as built")
    warmth = float(np.mean(temperatures))
    return with_echo / torque(NON_REFLECTING), warmth


def bottom(left: np.ndarray) -> float:
    """Speed of the lowest point. [rpm]"""
    k = min(max(int(np.argmin(left)), 1), left.size - 2)
    around = slice(k - 1, k + 2)
    a, b, _ = np.polyfit(SPEEDS[around], left[around], 2)
    return float(-0.5 * b / a)


@pytest.fixture(scope="module")
def separate() -> tuple[np.ndarray, float]:
    return what_the_echo_leaves(NOMINAL)


def test_hotter_gas_moves_the_hole_up_by_half_as_much(separate):
    """Sound runs as the root of temperature [K], so a tenth more moves the hole up by about 5 % (common practice,
    no published source): an exponent of a half, less what valves and firing leave where they are."""
    left, hot = separate
    colder, cold = what_the_echo_leaves(COLD_PIPE)
    assert hot > 1.1 * cold
    exponent = np.log(bottom(left) / bottom(colder)) / np.log(hot / cold)
    assert 0.3 < exponent < 0.65


def test_a_collector_softens_the_hole_of_separate_pipes(separate):
    """Part of the pulse goes on into the other pipe and the tail (common practice, no published source)."""
    import tomlkit

    routes = tomlkit.parse(f"a = {TO_COLLECTOR % '600 mm'}\nb = {AFTER % '300 mm'}").unwrap()
    joined, _ = what_the_echo_leaves(
        NOMINAL,
        ("exhaust.route.1", routes["a"]),
        ("exhaust.route.2", routes["a"]),
        ("exhaust.after.collector 1", routes["b"]),
    )
    left, _ = separate
    assert 1.0 - np.min(joined) < 0.95 * (1.0 - np.min(left))
