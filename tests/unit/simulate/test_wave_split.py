"""Waves that run one way only must show up in one part only.

The simple wave is Earnshaw's closed form (Phil. Trans. R. Soc. 150 (1860) 133): in a wave that runs to the
right into gas at rest, u = 2 (a - a0) / (gamma - 1), with a/a0 = (p/p0)^((gamma-1)/2gamma).
"""

import numpy as np
import pytest

from pulsewright.kernel.layout import CARBURETTOR, CYLINDER_DTYPE, DEGREES, RUN
from pulsewright.kernel.march import march_time
from pulsewright.network.assembly import Assembly, GasState, Segment
from pulsewright.physics.gas_properties import perfect_gas
from pulsewright.simulate.wave_split import split_waves

GAMMA, R, REST, T = 1.4, 287.0, 1.0e5, 300.0
STILL = np.sqrt(GAMMA * R * T)


def simple_wave(pressure: np.ndarray, way: float) -> tuple[np.ndarray, np.ndarray]:
    """Gas speed and sound in a wave that runs one way (+1 to the right) into gas at rest."""
    sound = STILL * (pressure / REST) ** ((GAMMA - 1.0) / (2.0 * GAMMA))
    return way * 2.0 * (sound - STILL) / (GAMMA - 1.0), sound


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_simple_wave_of_any_height_runs_one_way(way):
    pressure = REST * np.array([0.5, 0.8, 0.999, 1.0, 1.001, 1.5, 2.5])
    speed, sound = simple_wave(pressure, way)
    forward, returning = split_waves(pressure, speed, sound, GAMMA, REST)
    there, not_there = (forward, returning) if way > 0.0 else (returning, forward)
    np.testing.assert_allclose(there, pressure - REST, rtol=1e-9, atol=1e-6)
    np.testing.assert_allclose(not_there, 0.0, atol=1e-6)


def test_small_waves_add_up():
    """Acoustics: p' = f + g, u = (f - g) / (rho a)."""
    f, g = 40.0, -25.0
    density = REST / (R * T)
    forward, returning = split_waves(
        np.array([REST + f + g]), np.array([(f - g) / (density * STILL)]), np.array([STILL]), GAMMA, REST
    )
    assert forward[0] == pytest.approx(f, rel=1e-3)
    assert returning[0] == pytest.approx(g, rel=1e-3)


def test_gas_at_rest_below_the_air_outside_is_half_of_each():
    forward, returning = split_waves(np.array([REST - 100.0]), np.zeros(1), np.array([STILL]), GAMMA, REST)
    assert forward[0] == returning[0] == pytest.approx(-50.0, rel=1e-3)


def burst(seconds: float, first: float, second: float) -> tuple[np.ndarray, np.ndarray]:
    """Both parts over place in two joined tubes of 2 m that start at pressures `first` and `second`."""
    assembly = Assembly(gas=perfect_gas(GAMMA, R))
    tube = [Segment(length=2.0, bore_in=0.04, bore_out=0.04, cell=0.01)]
    left, right = (assembly.add_duct(tube, GasState(p=p, T=T)) for p in (first, second))
    assembly.join(left.tail, right.head, left.tail.area, left.tail.area)
    for end in (left.head, right.tail):
        assembly.close(end)
    a = assembly.layout_arrays()
    run = np.zeros(1, dtype=RUN)
    run["courant"], run["longest"], run["slots"] = 0.8, 1.0, assembly.slots + 1
    march_time(
        a["cells"][0], run[0], a["ends"], a["joints"], a["reservoirs"], np.zeros(0, dtype=CYLINDER_DTYPE),
        np.zeros(0, dtype=CARBURETTOR), a["leaks"], np.zeros((1, DEGREES + 2)), seconds,
    )  # fmt: skip
    c = a["cells"][0]
    slots = [*left.cells, *right.cells]
    return split_waves(c["p"][slots], c["u"][slots], c["sound"][slots], GAMMA, REST)


@pytest.mark.parametrize(("first", "second", "part"), [(1.1e5, REST, 0), (REST, 1.1e5, 1)])
def test_a_wave_that_the_solver_sends_down_a_tube_shows_up_in_one_part(first, second, part):
    both = burst(0.003, first, second)
    quiet_half = slice(220, 400) if part == 0 else slice(0, 180)  # the wave runs into it; past what it drags along
    sent, other = both[part][quiet_half], both[1 - part][quiet_half]
    assert sent.max() > 4000.0
    assert np.abs(other).max() < 0.005 * sent.max()
