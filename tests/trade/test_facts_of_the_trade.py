"""What every tuner of carburetted engines knows, on a generic engine of the tests' own.

Common practice, no published source, unless a test says otherwise. A hole is measured on a grid of
250 rpm, 125 rpm around its bottom, as 1 - torque at the bottom over the lower shoulder; a shoulder is the
highest torque within 1500 rpm on its side.
"""

from collections.abc import Callable

import numpy as np
import pytest
from tests.trade.generic_twin import twin
from tests.trade.variants import EXHAUSTS, JETS, OPTIONS, Curve, hole

from pulsewright.bench.sheet import setup_from_text
from pulsewright.kernel.carburettor import GRAVITY, well_suction
from pulsewright.network.case import build_case
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.physics.power_versus_mixture import torque_of_mixture
from pulsewright.simulate.outcome import CONVERGED
from pulsewright.simulate.sweep import sweep

Curves = Callable[[str], Curve]
TOP = 5000.0  # [rpm] where the cost on top is read: the highest power lies there
FILLERS = ["cross-bolt", "plate 45", "plate 90"]


def lost_on_top(curve: Curves, name: str) -> float:
    """Share of the open pipes' torque that a variant loses at the top."""
    base, other = curve("open"), curve(name)
    return 1.0 - other.at(other.torque, TOP) / base.at(base.torque, TOP)


def at_the_bottom(curve: Curves, name: str) -> float:
    """Torque of a variant at the speed where the open pipes have the bottom of their hole. [N m]"""
    other = curve(name)
    return other.at(other.torque, hole(curve("open")).lowest)


def test_open_pipes_dig_a_hole_that_goes_with_their_echo(curve: Curves):
    """Common practice, no published source: at least 5 % deep, below 2 % with non-reflecting ends."""
    assert hole(curve("open")).depth >= 0.05
    assert hole(curve("non-reflecting")).depth < 0.02


def test_longer_pipes_move_the_hole_down(curve: Curves):
    """Common practice, no published source: 20 % more pipe moves it down by 6 to 18 %."""
    moved = hole(curve("20 % more pipe")).rpm / hole(curve("open")).rpm - 1.0
    assert -0.18 <= moved <= -0.06


def test_the_mixture_is_richer_in_the_hole_than_beside_it(curve: Curves):
    """Common practice, no published source: against the mean at 600 rpm to either side."""
    c = curve("open")
    bottom = hole(c).rpm
    beside = 0.5 * (c.at(c.mixture, bottom - 600.0) + c.at(c.mixture, bottom + 600.0))
    assert c.at(c.mixture, bottom) < 0.97 * beside


def test_the_echo_makes_the_mixture_in_the_hole_richer(curve: Curves):
    """Common practice, no published source: against non-reflecting ends at the same speed."""
    c, quiet = curve("open"), curve("non-reflecting")
    bottom = hole(c).rpm
    assert c.at(c.mixture, bottom) < 0.97 * quiet.at(quiet.mixture, bottom)


def test_the_hole_stays_with_a_premixed_charge(curve: Curves):
    """Common practice, no published source: it is a wave, not a jet."""
    carburetted, premixed = hole(curve("open")), hole(curve("premixed"))
    assert premixed.depth >= 0.05
    assert premixed.rpm == pytest.approx(carburetted.rpm, abs=150.0)
    assert hole(curve("premixed, non-reflecting")).depth < 0.02


@pytest.mark.parametrize(("leaner", "richer"), [("main jet 1.70", "main jet 1.90"), ("main jet 1.65", "main jet 1.70")])
def test_a_smaller_main_jet_leans_the_whole_curve(curve: Curves, leaner: str, richer: str):
    """Common practice, no published source; at every speed by more than a third of the jet's area."""
    sizes = [JETS[name]["main_jet"] for name in (leaner, richer)]
    share = (sizes[1] / sizes[0]) ** 2 - 1.0
    assert np.all(curve(leaner).mixture > curve(richer).mixture * (1.0 + share / 3.0))


@pytest.mark.parametrize("change", sorted(JETS))
def test_no_jet_or_bleed_fills_the_hole(curve: Curves, change: str):
    """Common practice, no published source: at most a fifth of what non-reflecting ends give."""
    here = at_the_bottom(curve, "open")
    cured = at_the_bottom(curve, "non-reflecting") - here
    assert cured > 0.05 * here
    assert at_the_bottom(curve, change) - here < 0.2 * cured


def onset_suction(bleed_mm: float) -> float:
    """Venturi suction that just lifts still fuel to the lip of the main nozzle. [Pa]"""
    setup = setup_from_text(twin(main_air_bleed=bleed_mm), "generic twin")
    row = build_case(setup, Options(), 3000.0).arrays["carburettors"][0]
    main, fuel, air = row["circuit"][0], float(row["fuel_density"]), float(row["air_density"])
    low, high = 0.0, 1e4
    for _ in range(60):
        middle = 0.5 * (low + high)
        at_outlet = middle * float(main["suction_share"])
        in_well, _air = well_suction(at_outlet, 0.0, float(main["bleed"]), float(main["outlet"]), fuel, air)
        low, high = (middle, high) if in_well < fuel * GRAVITY * float(main["lip"]) else (low, middle)
    return high


def test_a_larger_main_bleed_delays_the_main_system(curve: Curves):
    """Common practice, no published source: it starts at more suction, and the whole curve is leaner."""
    sizes = (1.1, 1.4, 1.6)
    onsets = [onset_suction(size) for size in sizes]
    assert onsets[1] > 1.005 * onsets[0]
    assert onsets[2] > 1.005 * onsets[1]
    base, larger, largest = curve("open"), curve("main bleed 1.4"), curve("main bleed 1.6")
    at_few = np.interp(larger.rpm, base.rpm, base.mixture)
    assert np.all(larger.mixture > 1.02 * at_few)
    assert np.all(largest.mixture > 1.02 * larger.mixture)


def test_bolt_and_plates_fill_the_hole_in_order(curve: Curves):
    """Common practice, no published source: bolt, plate at 45 degrees, plate at 90 degrees."""
    torque = [at_the_bottom(curve, name) for name in ("open", *FILLERS)]
    assert np.all(np.diff(torque) > 0.005 * torque[0])
    depth = [hole(curve(name)).depth for name in ("open", *FILLERS[:2])]
    assert depth[0] > depth[1] > depth[2]


@pytest.mark.parametrize("name", ["cross-bolt", "plate 45"])
def test_bolt_and_slanted_plate_cost_little_on_top(curve: Curves, name: str):
    """Common practice, no published source: under 3 %."""
    assert lost_on_top(curve, name) < 0.03


def test_a_baffled_muffler_takes_most_of_the_hole_away(curve: Curves):
    """Common practice, no published source: less than half is left of it."""
    assert hole(curve("baffled muffler")).depth < 0.5 * hole(curve("open")).depth
    here, cured = at_the_bottom(curve, "open"), at_the_bottom(curve, "non-reflecting")
    assert at_the_bottom(curve, "baffled muffler") - here > 0.5 * (cured - here)


def test_a_small_packed_insert_strangles_the_engine(curve: Curves):
    """Common practice, no published source: it costs the most, runs rich, and falls off early."""
    others = [*FILLERS, "baffled muffler"]
    assert lost_on_top(curve, "small packed insert") > max(lost_on_top(curve, n) for n in others)
    strangled, base = curve("small packed insert"), curve("open")
    assert strangled.at(strangled.mixture, TOP) < 0.8
    assert strangled.at(strangled.mixture, TOP) < 0.85 * base.at(base.mixture, TOP)
    assert falls_off(strangled) < min(falls_off(curve(name)) for name in others)
    assert falls_off(strangled) < falls_off(base) - 1000.0


def falls_off(c: Curve) -> float:
    """The speed past the highest torque from which less than nine tenths of it are left. [1/min]"""
    enough = c.torque > 0.9 * c.torque.max()
    return float(c.rpm[enough].max())


def test_torque_follows_the_published_curve_of_mixture():
    """Stone, Introduction to Internal Combustion Engines: curve read second hand, within 2 %."""
    mixtures = np.array([0.70, 0.75, 0.80, 0.85, 0.90, 0.95, 1.00, 1.05, 1.10])
    setup = setup_from_text(twin(), "generic twin")
    torque = np.array(
        [sweep(setup, [3000.0], Options(mixture=float(m), exhaust_ends=NON_REFLECTING))[0].torque for m in mixtures]
    )
    published = np.array([torque_of_mixture(float(m)) for m in mixtures])
    assert np.abs(torque / torque.max() - published).max() < 0.02


@pytest.mark.parametrize("name", [*EXHAUSTS, *OPTIONS, *JETS])
def test_every_speed_settles(curve: Curves, name: str):
    """No published source: every variant here is a healthy or at most a badly set engine."""
    assert set(curve(name).outcome) == {CONVERGED}
    assert np.all((curve(name).mixture > 0.6) & (curve(name).mixture < 1.25))


@pytest.mark.parametrize("name", ["open", "cross-bolt"])
def test_the_cylinders_share_the_fuel(curve: Curves, name: str):
    """Common practice, no published source: 5 to 15 % of split is normal behind one carburettor of an
    uneven twin; more than 20 % would be a fault. Up to the speed of the highest power."""
    assert 0.02 < split(curve(name)).max() < 0.20


@pytest.mark.parametrize("name", [*EXHAUSTS, "non-reflecting"])
def test_the_cylinders_share_the_fuel_with_any_exhaust(curve: Curves, name: str):
    """Common practice, no published source: 5 to 15 % over most of the range, here on the mean of it."""
    assert 0.02 < split(curve(name)).mean() < 0.17


def split(c: Curve) -> np.ndarray:
    """Difference of trapped lambda between the cylinders over its mean, up to the highest power. (speeds)"""
    used = c.by_cylinder[c.rpm <= TOP]
    return np.ptp(used, axis=1) / used.mean(axis=1)
