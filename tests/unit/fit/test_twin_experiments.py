"""Twin experiments: pulls made by another model than the one that is fitted, and what the fit makes of them.

The other model rubs by another law, its ports flow otherwise along the speed, its cells are finer, and the pulls
are noisy. What the pulls tell must lie in its 80 % interval about that often; unseen changes must be predicted.
"""

import numpy as np
import pytest
from tests.unit.fit.invented_single import fires_well, pulls_made_by, setup_named

from pulsewright.fit.fit_session import fit_observations
from pulsewright.fit.machine import Draw, FittedMachine
from pulsewright.fit.observations import Observations
from pulsewright.fit.unknowns import NAMES, UNKNOWNS, calibration_of, prior_draws, values_of
from pulsewright.network.calibration import Calibration
from pulsewright.network.options import Options
from pulsewright.simulate.fidelity import FINAL
from pulsewright.simulate.sweep import sweep

SPEEDS = np.linspace(2400.0, 6000.0, 9)
TWINS = 15  # of five, whose ninety values of an unseen pipe go together by the curve, 0.94 to 0.97 lay inside by chance
KNOWN = ("main_jet", "pipe_heat", "wall_warmth", "exhaust_flow", "intake_flow", "bleed", "column", "nozzle_suction",
         "intermediate_jet", "burn", "kept_fuel", "exhaust_way")  # fmt: skip  # the perturbation takes no part in these
pytestmark = pytest.mark.slow


def other_law(rpm: np.ndarray, torque: np.ndarray) -> np.ndarray:
    """Friction that grows with the square of speed on top of ours, and ports that choke a little on top. [N m]"""
    return (torque - 0.6 * (rpm / 3000.0) ** 2) * (1.0 - 0.02 * ((rpm - 2400.0) / 3600.0) ** 2)


def truth(random: np.random.Generator) -> dict[str, float]:
    return values_of(0.8 * np.clip(random.standard_normal(len(UNKNOWNS)), -1.5, 1.5))


def twin(seed: int) -> tuple[dict[str, float], Calibration, Observations]:
    """A machine that fires at every speed of both its setups, and its pulls.

    One that misses at half of them leaves no curve to learn from, and is leaned before any pipe is asked about.
    """
    random = np.random.default_rng(900 + seed)
    for drawn in range(1, 4):
        values = truth(random)
        calibration = calibration_of(values, (SPEEDS[0], SPEEDS[-1]))
        seen = pulls_made_by(
            calibration, "AB", SPEEDS, random=random, noise=0.006, gain=values["gain"],
            bias=values["lambda_bias"], grid=FINAL.grid, distorted=other_law,
        )  # fmt: skip
        if all(np.isfinite(o.torque).all() for o in seen.setups):
            print(f"twin {seed}: machine {drawn} of its row")
            return values, calibration, seen
    raise AssertionError(f"three machines of row {seed} miss")


@pytest.fixture(scope="module")
def twins():
    made = []
    for seed in range(TWINS):
        values, calibration, seen = twin(seed)
        made.append((values, calibration, fit_observations(seen, draws=10, seed=seed)))
    return made


def test_unknowns_lie_in_their_intervals_about_as_often_as_said(twins):
    inside = [
        row.low <= values[row.name] <= row.high for values, _, fit in twins for row in fit.learned if row.name in KNOWN
    ]
    assert set(KNOWN) < set(NAMES)
    print(f"unknowns inside {np.mean(inside):.2f} of {len(inside)}")
    assert 0.65 <= np.mean(inside) <= 0.95, f"{np.mean(inside):.2f} of {len(inside)}"


def test_the_pulls_do_tell_something(twins):
    """Three quarters of the doubt about the mixture's level and half of that about one unknown must go.

    What sets the level, jets, suction and trim, goes together: none of them need be told from the others.
    """
    before = levels(FittedMachine(draws=tuple(map(unpulled, prior_draws(12, 1)))))
    for _, _, fit in twins:
        assert max(row.shrinkage for row in fit.learned) > 0.5
        after = levels(fit.machine)
        print(f"spread of the mixture's level {after:.4f}, before the pulls {before:.4f}")
        assert after < 0.25 * before


def unpulled(z: np.ndarray) -> Draw:
    return Draw(calibration=calibration_of(values_of(z), (SPEEDS[0], SPEEDS[-1])))


def levels(machine: FittedMachine) -> float:
    """Spread over the draws of the mean of log lambda over the speeds."""
    mixture = machine.sweep(setup_named("A"), list(SPEEDS)).lambda_trapped
    return float(np.std(np.mean(np.log(mixture), axis=1), ddof=1))


def test_an_unseen_pipe_lies_where_the_machine_says(twins):
    """Both setups of a twin have one exhaust, and the pipe that is asked about is a quarter shorter.

    Best draw within 4 % rms of torque; torque and lambda inside the 80 % interval of the draws at about that rate, and
    no less often where it is widened by what the fit says of setups never pulled. That further doubt stands for what a
    model gets wrong of a real machine: a twin has none of it, so that it must not hide draws too wide or too narrow.
    """
    inside, widened = [], []
    for values, calibration, fit in twins:
        points = sweep(setup_named("C"), list(SPEEDS), Options(grid=FINAL.grid, calibration=calibration))
        sound = np.array([p.outcome == "converged" for p in points]) & fires_well(points)
        assert np.count_nonzero(sound) >= 3
        torque = values["gain"] * other_law(SPEEDS, np.array([p.torque for p in points]))
        mixture = np.array([p.lambda_sensor["1"] for p in points])
        curves = fit.machine.sweep(setup_named("C"), list(SPEEDS))
        ratios = (curves.reading / torque - 1.0)[:, sound], (curves.lambda_sensor / mixture - 1.0)[:, sound]
        rms = [float(np.sqrt(np.mean(r[0] ** 2))) for r in ratios]
        print(f"unseen pipe: torque {rms[0]:.3f}, lambda {rms[1]:.3f} of itself")
        assert rms[0] < 0.04
        for ratio, elsewhere in zip(ratios, fit.elsewhere, strict=True):
            off, spread = np.abs(ratio.mean(axis=0)), ratio.std(axis=0, ddof=1)
            inside += (off < 1.2816 * spread).tolist()
            widened += (off < 1.2816 * np.hypot(spread, elsewhere)).tolist()
    print(f"inside {np.mean(inside):.2f} of {len(inside)}, widened {np.mean(widened):.2f}")
    assert 0.65 <= np.mean(inside) <= 0.95
    assert np.mean(widened) >= 0.8
