"""Pick-up faults, the start transient, held steps."""

import numpy as np
import pytest
from tests.pull_logs import Log, smooth_torque, write_log

from pulsewright.errors import InputError
from pulsewright.pulls.pickup import pickup_faults
from pulsewright.pulls.read_pull import read_pull
from pulsewright.pulls.start_mask import START_SPAN, step_mask, sweep_mask


@pytest.mark.parametrize("roller", [True, False])
@pytest.mark.parametrize("fault", [0.0, 0.5, 2.0])
def test_single_pickup_faults_are_flagged_and_nothing_else(roller, fault):
    columns = Log().columns()
    rpm = columns["rpm"].copy()
    bad = np.array([20, 60, 61, 120, 180])
    rpm[bad] *= fault
    assert np.flatnonzero(pickup_faults(rpm, columns["roller"] if roller else None)).tolist() == bad.tolist()


def test_torque_from_power_is_not_spoilt_by_dropped_speed(tmp_path):
    columns = Log(noise=0.0).columns()
    rpm = columns["rpm"].copy()
    rpm[[40, 90]] = 0.0
    pull = read_pull(write_log(tmp_path / "a.csv", columns | {"rpm": rpm}))
    assert pull.pickup_faults == 2
    assert not pull.usable[[40, 90]].any()
    late = pull.usable & (pull.engine_speed > 2600.0)
    np.testing.assert_allclose(pull.torque[late], smooth_torque(pull.engine_speed[late]), rtol=0.004)


def test_a_speed_that_fails_all_the_time_is_refused(tmp_path):
    columns = Log().columns()
    rpm = columns["rpm"].copy()
    rpm[::2] *= 2.0
    with pytest.raises(InputError, match="dropped or doubled"):
        read_pull(write_log(tmp_path / "a.csv", columns | {"rpm": rpm}))


@pytest.mark.parametrize("rate", [450.0, -450.0])
def test_the_first_400_rpm_are_left_out_in_both_directions(rate):
    rpm = Log(rate=rate).columns()["rpm"]
    usable, begins = sweep_mask(rpm, np.ones(rpm.size, dtype=bool))
    edge = 1800.0 + START_SPAN if rate > 0 else 6000.0 - START_SPAN
    assert begins == pytest.approx(edge, abs=15.0)
    assert usable.sum() == pytest.approx(rpm.size * (4200.0 - START_SPAN) / 4200.0, abs=3)


def test_a_sweep_ends_where_the_speed_turns_back():
    rpm = np.concatenate([np.linspace(1800, 6000, 200), np.linspace(5990, 2000, 80)])
    usable, _ = sweep_mask(rpm, np.ones(rpm.size, dtype=bool))
    assert not usable[200:].any()
    assert usable[199]


def test_only_the_second_half_of_a_hold_counts():
    time = np.arange(0.0, 20.0, 0.05)
    rpm = 2000.0 + 250.0 * np.floor(time / 4.0)
    usable = step_mask(time, rpm, np.ones(time.size, dtype=bool))
    inside = (time % 4.0 > 2.4) & (time % 4.0 < 3.4)
    assert usable[inside].all()
    assert not usable[time % 4.0 < 1.5].any()
