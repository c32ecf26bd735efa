"""The echo of the example twin: what the field must agree with, whatever the numbers of the engine are."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.changes import changed_text
from pulsewright.bench.sheet import read_setup, setup_from_text
from pulsewright.simulate.echo import compute_echo
from pulsewright.simulate.echo_field import EchoField
from pulsewright.simulate.echo_outline import outline_of
from pulsewright.simulate.echo_sentence import PastValves, echo_sentence
from pulsewright.simulate.outcome import CONVERGED, SWINGS

TWIN = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
ROUTE = """[
  { piece = "pipe", length = "500 mm", bore = "43 mm" },
  { piece = "cross-bolt", diameter = "8 mm", from_end = "50 mm" },
  { piece = "crossover", to = 2, at = "200 mm", bore = "30 mm", length = "150 mm" },
  { piece = "muffler", body_length = "300 mm", body_bore = "90 mm", core_bore = "40 mm", core = "baffled" },
  { piece = "pipe", length = "100 mm", bore = "40 mm" },
  { piece = "insert", length = "60 mm", bore = "30 mm" },
  { piece = "end", kind = "turn-out" } ]"""


@pytest.fixture(scope="module")
def built() -> EchoField:
    return compute_echo(read_setup(TWIN), rpm=3500.0)


@pytest.fixture(scope="module")
def no_echo() -> EchoField:
    return compute_echo(read_setup(TWIN), rpm=3500.0, ends="non-reflecting")


def test_the_route_is_as_long_as_port_and_pipe(built):
    assert built.place[0] == 0.0
    assert built.place[-1] == pytest.approx(0.972, abs=1e-6)
    assert built.outline[-1].end == pytest.approx(built.place[-1])


def test_the_cycle_closes_and_the_parts_add_up(built):
    np.testing.assert_array_equal(built.pressure[:, 0], built.pressure[:, -1])
    gauge = built.pressure - built.ambient
    rest = gauge - built.forward - built.returning
    low = (np.abs(built.forward) < 10e3) & (np.abs(built.returning) < 10e3)
    assert low.any()
    assert np.abs(rest[low]).max() < 1e3  # what is left is of second order in the height of the waves


def test_a_pulse_comes_back_after_twice_the_length_over_the_speed_of_sound(built):
    """Hot gas of 500 to 800 m/s over 2 x 0.972 m, and an end correction of 0.6 radii: 2.4 to 4.0 ms."""
    milliseconds = float(built.sentence.split("takes ")[1].split("\u202f")[0])
    assert 2.4 <= milliseconds <= 4.0


def test_an_open_end_sends_blow_down_back_as_suction(built):
    out = built.forward[-1]
    back = built.returning[-1]
    assert back[np.argmax(out)] < -0.5 * out.max()


def test_a_non_reflecting_end_sends_nothing_back(built, no_echo):
    assert np.abs(no_echo.returning[-1]).max() < 0.02 * no_echo.forward[-1].max()
    assert np.ptp(no_echo.returning[0]) < 0.35 * np.ptp(built.returning[0])
    assert no_echo.echo_arrival_deg is None
    assert "no clear echo" in no_echo.sentence
    assert no_echo.outline[-1].label == "non-reflecting"


def test_windows_are_seat_to_seat_and_hold_the_arrival(built):
    lifted = built.crank_deg[built.lift_exhaust > 0.0]
    assert lifted[0] == pytest.approx(built.exhaust_window[0], abs=1.0)
    assert lifted[-1] == pytest.approx(built.exhaust_window[1], abs=1.0)
    assert built.overlap is not None
    assert built.overlap[0] <= built.echo_arrival_deg <= built.overlap[1]


def test_the_second_cylinder_is_seen_from_its_own_firing(built):
    """Both pipes are alike, so that blow-down stands at nearly the same angle in both."""
    second = compute_echo(read_setup(TWIN), rpm=3500.0, cylinder=2)
    first_peak, second_peak = (f.crank_deg[np.argmax(f.forward[0])] for f in (built, second))
    assert second_peak == pytest.approx(first_peak, abs=12.0)


def test_the_outline_names_every_piece_in_place():
    text = changed_text(TWIN, [("exhaust.route.1", ROUTE)])
    setup = setup_from_text(text, "test")
    parts = outline_of(setup, 1, 3000.0)
    found = [(p.kind, round(1e3 * p.start), round(1e3 * p.end)) for p in parts]
    assert found == [
        ("port", 0, 72), ("pipe", 72, 572), ("crossover", 272, 272), ("cross-bolt", 522, 522),
        ("muffler", 572, 872), ("pipe", 872, 972), ("insert", 912, 972), ("end", 972, 972),
    ]  # fmt: skip
    assert [p.kind for p in outline_of(setup, 2, 3000.0)].count("crossover") == 1


@pytest.mark.parametrize(
    ("flow", "said"),
    [
        (PastValves(0.02, 0.0, 0.03, 0.0), "back into the cylinder and on into the intake"),
        (PastValves(0.006, 0.03, 0.03, 0.0), "drives burned gas from the cylinder out into the intake"),
        (PastValves(0.001, 0.0, 0.001, 0.0), "hardly any gas flows back"),
    ],
)
def test_the_sentence_claims_what_flowed(built, flow, said):
    pressure = replace(built, echo_sign="pressure", echo_pressure=9e3)
    assert said in echo_sentence(pressure, 74.0, flow, CONVERGED)


def test_the_sentence_owns_up_to_an_unsteady_engine(built):
    assert "one cycle of many" in echo_sentence(built, None, PastValves(0.0, 0.0, 0.0, 0.0), SWINGS)
