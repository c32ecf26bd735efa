"""Names propose, numbers overrule, doubts are refused or asked."""

import numpy as np
import pytest

from pulsewright.errors import InputError
from pulsewright.pulls.read_pull import pull_from_bytes
from pulsewright.pulls.reading import Reading

RPM = np.linspace(1800.0, 6000.0, 200)
TORQUE = 100.0 - 20.0 * ((RPM - 3800.0) / 2000.0) ** 2  # [N m]
POWER = TORQUE * RPM * np.pi / 30.0  # [W]
TIME = (RPM - 1800.0) / 450.0
# Factors written out here on their own: NIST SP 811 (2008) appendix B.8.
LBF_FT, HP, PS = 1.355818, 745.6999, 735.4988


def _pull(columns: dict[str, np.ndarray], reading: Reading | None = None):
    lines = [";".join(columns)] + [";".join(f"{v:.5f}" for v in row) for row in zip(*columns.values(), strict=True)]
    return pull_from_bytes("\n".join(lines).encode(), "log.csv", reading=reading)


def _decision(pull, quantity):
    return next(c for c in pull.channels if c.quantity == quantity)


@pytest.mark.parametrize(
    ("torque_name", "torque_in", "power_name", "power_in"),
    [
        ("Torque (lbf ft)", LBF_FT, "Power (hp)", HP),
        ("Drehmoment [Nm]", 1.0, "Leistung [PS]", PS),
        ("koppel Nm", 1.0, "vermogen kW", 1000.0),
        ("Couple (Nm)", 1.0, "Puissance (ch)", PS),
        ("M/Nm", 1.0, "P/kW", 1000.0),
    ],
)
def test_named_units_that_agree_are_kept(torque_name, torque_in, power_name, power_in):
    pull = _pull({"t (s)": TIME, "rpm": RPM, torque_name: TORQUE / torque_in, power_name: POWER / power_in})
    np.testing.assert_allclose(pull.torque, TORQUE, rtol=1e-4)
    assert not any(c.overruled for c in pull.channels)


@pytest.mark.parametrize(
    ("torque_name", "torque_in", "power_name", "power_in", "overruled"),
    [
        (
            "Torque (Nm)",
            LBF_FT,
            "Power (kW)",
            1000.0,
            None,
        ),  # Nm with PS differs by 0.3 % only: cannot be told
        ("Torque (Nm)", LBF_FT, "Power (hp)", HP, "torque"),
        ("Torque (Nm)", 1.0, "Power (kW)", HP, "power"),
        ("Torque (lb-ft)", 1.0, "Power (kW)", 1000.0, "torque"),
        ("Torque (Nm)", 1.0, "Power (hp)", PS, "power"),
    ],
)
def test_power_is_torque_times_speed_whatever_the_heading_says(torque_name, torque_in, power_name, power_in, overruled):
    columns = {"t (s)": TIME, "rpm": RPM, torque_name: TORQUE / torque_in, power_name: POWER / power_in}
    if overruled is None:
        with pytest.raises(InputError, match="cannot be told"):
            _pull(columns)
        return
    pull = _pull(columns)
    np.testing.assert_allclose(pull.torque, TORQUE, rtol=4e-3)
    assert _decision(pull, overruled).overruled
    assert "holds" in _decision(pull, overruled).reason


def test_a_newton_metre_column_of_eight_thousand_is_refused():
    with pytest.raises(InputError, match="gives a torque of 8"):
        _pull({"t (s)": TIME, "rpm": RPM, "Torque (Nm)": TORQUE * 81.0})


def test_torque_without_a_unit_is_refused_and_can_be_named():
    columns = {"t (s)": TIME, "rpm": RPM, "Torque": TORQUE}
    with pytest.raises(InputError, match="no unit"):
        _pull(columns)
    assert _pull(columns, Reading(units={"torque": "Nm"})).torque == pytest.approx(TORQUE, rel=1e-5)


def test_torque_comes_from_power_alone():
    pull = _pull({"t (s)": TIME, "rpm": RPM, "P [hp]": POWER / HP})
    np.testing.assert_allclose(pull.torque, TORQUE, rtol=1e-4)
    assert any("torque = power" in note for note in pull.notes)


def test_torque_behind_a_gear_ratio_gives_way_to_power():
    pull = _pull({"t (s)": TIME, "rpm": RPM, "Torque (Nm)": TORQUE * 4.3, "Power (kW)": POWER / 1e3})
    np.testing.assert_allclose(pull.torque, TORQUE, rtol=1e-4)
    assert any("gear ratio of 4.30" in note for note in pull.notes)


def test_columns_that_contradict_each_other_are_refused():
    with pytest.raises(InputError, match="contradict"):
        _pull({"t (s)": TIME, "rpm": RPM, "Torque (Nm)": TORQUE[::-1] * RPM, "Power (kW)": POWER / 1e3})


@pytest.mark.parametrize(("heading", "scale"), [("lambda", 14.7), ("AFR", 1.0), ("A/F", 14.7), ("Lam", 1.0)])
def test_lambda_and_afr_are_told_by_their_numbers(heading, scale):
    mixture = 0.8 + 0.1 * np.sin(RPM / 500.0)
    pull = _pull({"t (s)": TIME, "rpm": RPM, "M (Nm)": TORQUE, heading: mixture * scale})
    assert pull.mixture == pytest.approx(mixture, abs=2e-3)
    assert _decision(pull, "lambda").overruled == ((heading in ("lambda", "Lam")) == (scale != 1.0))


def test_afr_of_another_fuel_finds_the_scale_that_makes_sense():
    mixture = 0.85 + 0.05 * np.sin(RPM / 500.0)
    e85 = Reading(stoichiometric_afr=9.8, fuel="E85")
    for scale in (14.7, 9.8):
        pull = _pull({"t (s)": TIME, "rpm": RPM, "M (Nm)": TORQUE, "AFR": mixture * scale}, e85)
        assert pull.mixture == pytest.approx(mixture, abs=2e-3)
        assert not pull.questions


def test_an_afr_that_fits_two_scales_is_asked():
    e85 = Reading(stoichiometric_afr=9.8, fuel="E85")
    pull = _pull({"t (s)": TIME, "rpm": RPM, "M (Nm)": TORQUE, "AFR": np.full(RPM.size, 10.5) + TIME / 100}, e85)
    assert "petrol scale" in pull.questions[0].text


def test_an_impossible_mixture_is_refused():
    with pytest.raises(InputError, match="neither a lambda"):
        _pull({"t (s)": TIME, "rpm": RPM, "M (Nm)": TORQUE, "AFR": TORQUE})


def test_thousands_of_rpm_and_milliseconds_are_seen_in_the_numbers():
    pull = _pull({"t (s)": TIME * 1e3, "rpm": RPM / 1e3, "M (Nm)": TORQUE})
    np.testing.assert_allclose(pull.engine_speed, RPM, rtol=1e-4)
    assert pull.time is not None
    assert pull.time[-1] == pytest.approx(TIME[-1], rel=1e-4)
    assert _decision(pull, "engine_speed").overruled
    assert _decision(pull, "time").overruled


@pytest.mark.parametrize(("heading", "value"), [("Baro kPa", 1008.9), ("Baro (hPa)", 100.89), ("Baro", 29.79)])
def test_air_pressure_has_one_unit_that_fits(heading, value):
    pull = _pull({"t (s)": TIME, "rpm": RPM, "M (Nm)": TORQUE, heading: np.full(RPM.size, value)})
    assert pull.air_pressure is not None
    assert pull.air_pressure[0] == pytest.approx(100.89e3, rel=1e-3)


def test_two_torque_columns_that_differ_are_refused_and_can_be_chosen():
    columns = {"t (s)": TIME, "rpm": RPM, "Torque A (Nm)": TORQUE, "Torque B (Nm)": TORQUE * 0.9}
    with pytest.raises(InputError, match="two columns read as torque"):
        _pull(columns)
    pull = _pull(columns, Reading(columns={"torque": "Torque B (Nm)"}))
    np.testing.assert_allclose(pull.torque, TORQUE * 0.9, rtol=1e-5)


def test_no_engine_speed_names_the_columns():
    with pytest.raises(InputError, match=r"no column reads as engine speed; the columns are 'a', 'torque \(Nm\)'"):
        _pull({"a": TIME, "torque (Nm)": TORQUE})


def test_rows_without_time_are_read_and_said():
    pull = _pull({"toeren": RPM, "koppel (Nm)": TORQUE})
    assert pull.time is None
    assert any("sweep rate is unknown" in note for note in pull.notes)


def test_time_out_of_order_is_sorted_and_repeats_are_dropped():
    order = np.array([*range(50), 52, 51, 50, 52, *range(53, 200)])
    pull = _pull({"t (s)": TIME[order], "rpm": RPM[order], "M (Nm)": TORQUE[order]})
    assert pull.engine_speed == pytest.approx(RPM, rel=1e-5)
    assert sum("out of time order" in n or "repeated time" in n for n in pull.notes) == 2


@pytest.mark.parametrize("heading", ["AFR target", "Lambda Soll", "Lambda Sollwert"])
def test_a_target_is_no_reading(heading):
    mixture = 0.8 + 0.1 * np.sin(RPM / 500.0)
    columns = {"t (s)": TIME, "rpm": RPM, "M (Nm)": TORQUE, "lambda": mixture, heading: np.full(RPM.size, 0.9)}
    assert _pull(columns).mixture == pytest.approx(mixture, abs=1e-4)
