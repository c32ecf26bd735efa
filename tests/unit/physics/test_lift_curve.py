"""The lift passes through the cam card, rests on the seat and never passes its top."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pulsewright.physics.lift_curve import seat_timing, valve_lift

timings = st.tuples(st.floats(0.0, 719.0), st.floats(150.0, 340.0), st.floats(0.0, 2e-3), st.floats(5e-3, 14e-3))


@settings(max_examples=100, deadline=None)
@given(timings)
def test_lift_at_the_cards_timing_is_the_check_lift(case):
    opens, duration, check, top = case
    seat = seat_timing(opens, (opens + duration) % 720.0, check, top)
    assert valve_lift(opens + 1e-9, *seat, top) == pytest.approx(check, abs=1e-8)
    assert valve_lift(opens + duration - 1e-9, *seat, top) == pytest.approx(check, abs=1e-8)
    assert valve_lift(opens + 0.5 * duration, *seat, top) == pytest.approx(top, rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(timings, st.floats(-720.0, 1440.0))
def test_lift_repeats_every_cycle_and_stays_between_seat_and_top(case, angle):
    opens, duration, check, top = case
    seat = seat_timing(opens, (opens + duration) % 720.0, check, top)
    lift = valve_lift(angle, *seat, top)
    assert 0.0 <= lift <= top
    assert valve_lift(angle + 720.0, *seat, top) == pytest.approx(lift, abs=1e-9)


def test_the_seat_is_shut_outside():
    seat = seat_timing(338.0, 594.0, 1.27e-3, 11.2e-3)
    assert seat[0] < 338.0
    assert seat[1] > 594.0
    assert valve_lift(seat[0] - 1.0, *seat, 11.2e-3) == 0.0
    assert valve_lift(seat[1] + 1.0, *seat, 11.2e-3) == 0.0
    assert seat_timing(338.0, 594.0, 0.0, 11.2e-3) == pytest.approx((338.0, 594.0))
