"""The cause split on machines whose causes are known by formula."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.unit.cause.stub_machine import stub

from pulsewright.bench.sheet import read_setup
from pulsewright.cause.causes import EXHAUST_WAVE, INTAKE_WAVE, MIXTURE, RESTRICTION
from pulsewright.cause.shapley import subsets
from pulsewright.cause.shares import INTERVAL, gains_of, shares_of
from pulsewright.cause.switches import model_bottom, split_causes

SETUP = read_setup(Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml")


def dip(rpm: float, bottom: float = 3200.0) -> float:
    return float(np.exp(-(((rpm - bottom) / 300.0) ** 2)))


def wave_and_mixture(draw: int, rpm: float, echo: bool, intake: bool, mixture: bool, free: bool) -> float:
    """The twin of the format's own example: 81.7 as built, 104.1 without the echo, 91.9 at best mixture, 106.3 both."""
    at = dip(rpm)
    lost = 0.0 if echo and mixture else 2.2 if echo else 14.4 if mixture else 24.6
    return 106.3 - lost * at - (2.0 if intake else 0.0)


def test_shares_are_gains_averaged_over_both_orders():
    found = split_causes(stub(wave_and_mixture), SETUP, 3200.0)
    shares = {s.cause: s.share for s in found.shares}
    # (104.1 - 81.7 + 106.3 - 91.9) / 2 / 24.6 and the rest, by hand
    assert shares[EXHAUST_WAVE] == pytest.approx(0.748, abs=0.03)
    assert shares[MIXTURE] == pytest.approx(0.252, abs=0.03)
    assert sum(shares.values()) == pytest.approx(1.0)
    assert found.gain_fraction == pytest.approx(24.6 / 106.3, rel=1e-6)


def test_an_error_that_one_exhaust_alone_shows_goes_with_its_echo():
    """4 % less torque than the model has, as built: all of it comes back with the echo, none with the mixture."""
    plain, machine = stub(wave_and_mixture), stub(wave_and_mixture)
    less = (("A", ((2000.0, 0.96), (5000.0, 0.96))),)
    machine = replace(machine, draws=tuple(replace(draw, exhaust_error=less) for draw in machine.draws))
    found, before = split_causes(machine, SETUP, 3200.0, pulled_as="A"), split_causes(plain, SETUP, 3200.0)
    assert found.as_built == pytest.approx(0.96 * before.as_built)
    assert found.all_off == pytest.approx(before.all_off)
    echo, mixture = 0.5 * (104.1 - 0.96 * 81.7 + 106.3 - 0.96 * 91.9), 0.5 * (0.96 * (91.9 - 81.7) + 106.3 - 104.1)
    shares = {s.cause: s.share for s in found.shares}
    assert shares[EXHAUST_WAVE] == pytest.approx(echo / (echo + mixture), abs=0.03)
    assert shares[EXHAUST_WAVE] > {s.cause: s.share for s in before.shares}[EXHAUST_WAVE] + 0.02
    other = split_causes(machine, SETUP, 3200.0, pulled_as="B")
    assert other.as_built == pytest.approx(before.as_built)


def test_what_helps_the_engine_is_no_cause_and_is_asked_of_one_draw_only():
    machine = stub(wave_and_mixture)
    found = split_causes(machine, SETUP, 3200.0)
    assert {s.cause for s in found.shares} == {EXHAUST_WAVE, MIXTURE}  # the intake helps, nothing is restricted
    assert found.single[INTAKE_WAVE] < found.as_built
    assert found.single[RESTRICTION] == pytest.approx(found.as_built)


def test_the_bottom_is_the_models_own_between_the_shoulders():
    found = split_causes(stub(wave_and_mixture), SETUP, 3050.0, between=(2500.0, 4000.0))
    assert found.rpm == pytest.approx(3200.0, abs=40.0)
    assert found.measured_rpm == 3050.0


@pytest.mark.parametrize("torque", [[1.0, 2.0, 3.0, 4.0], [4.0, 3.0, 2.0, 1.0], [3.0, np.nan, 2.0, 3.0]])
def test_without_a_bottom_inside_the_measured_speed_is_kept(torque: list[float]):
    assert model_bottom(np.linspace(2500.0, 4000.0, 4), np.array(torque), 3050.0) == 3050.0


def test_an_intake_wave_is_found_without_starving_the_carburettor():
    def intake_only(draw, rpm, echo, intake, mixture, free):
        return 100.0 - (0.0 if intake else 12.0 * dip(rpm))

    machine = stub(intake_only)
    found = split_causes(machine, SETUP, 3200.0)
    assert found.shares[0].cause == INTAKE_WAVE
    assert found.shares[0].share > 0.95
    closed = [o for o in machine.asked or [] if o.intake_ends != "as built"]
    assert closed
    assert all(o.mixture is not None for o in closed)  # never metered by a mouth without reflection


def test_draws_that_disagree_widen_the_interval():
    def by_draw(draw, rpm, echo, intake, mixture, free):
        wave, fuel = 10.0 + 8.0 * (draw % 2), 10.0 - 8.0 * (draw % 2)
        return 100.0 - (0.0 if echo else wave * dip(rpm)) - (0.0 if mixture else fuel * dip(rpm))

    def alike(draw, rpm, echo, intake, mixture, free):
        return 100.0 - (0.0 if echo else 14.0 * dip(rpm)) - (0.0 if mixture else 6.0 * dip(rpm))

    wide, narrow = (split_causes(stub(f, 12), SETUP, 3200.0).shares[0] for f in (by_draw, alike))
    assert wide.high - wide.low > 2.0 * (narrow.high - narrow.low)
    assert narrow.high - narrow.low > 0.08  # the model's own doubt is never left out


def test_an_unfitted_machine_is_believed_less():
    widths = [
        (s := split_causes(stub(wave_and_mixture, 16, fitted=fitted), SETUP, 3200.0).shares[0]).high - s.low
        for fitted in (True, False)
    ]
    assert widths[1] > 1.4 * widths[0]


def test_a_model_that_misses_the_bottom_is_believed_less():
    close, off = (split_causes(stub(wave_and_mixture, 16), SETUP, 3200.0, misfit=m).shares[0] for m in (0.0, 0.35))
    assert off.high - off.low > 1.8 * (close.high - close.low)
    assert off.share == pytest.approx(close.share, abs=0.03)


def test_hardly_any_loss_gives_no_shares():
    found = split_causes(stub(lambda *_: 100.0), SETUP, 3200.0)
    assert found.shares == ()


def test_intervals_hold_eight_of_ten_of_what_the_stated_doubt_makes():
    """Truths drawn by the very doubt that the shares claim: the interval must hold INTERVAL of them."""
    random = np.random.default_rng(3)
    members, doubt = (EXHAUST_WAVE, MIXTURE), 0.3
    held, rounds = 0, 300
    for k in range(rounds):
        gains = dict(zip(members, (14.0, 8.0), strict=True))
        table = {g: np.full((24, 1), 80.0 + sum(gains[m] for m in g)) for g in subsets(members)}
        share = shares_of(members, table, doubt=doubt, seed=k)[0]
        true = {m: gains[m] * np.exp(doubt * random.standard_normal()) for m in members}
        held += share.low <= true[share.cause] / sum(true.values()) <= share.high
    assert held / rounds == pytest.approx(INTERVAL[1] - INTERVAL[0], abs=0.08)


def test_a_cause_that_costs_on_one_draw_counts_as_nothing_there():
    values = {frozenset(): 90.0, frozenset({"a"}): 100.0, frozenset({"b"}): 88.0, frozenset({"a", "b"}): 99.0}
    assert gains_of(("a", "b"), values) == pytest.approx([10.0, 0.0])


def test_a_stop_ends_the_split():
    with pytest.raises(KeyboardInterrupt):
        split_causes(stub(wave_and_mixture), SETUP, 3200.0, stopped=lambda: True)
