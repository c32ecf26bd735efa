"""Jets by bore, by number and by flow."""

import pytest

from pulsewright.bench.jets import FLOW, HUNDREDTHS, STANDARD_GRAVITY, THOUSANDTHS, Jet, flow_number_bore
from pulsewright.bench.place import Place
from pulsewright.errors import InputError

MAIN = Jet(0.2e-3, 6e-3)
BLEED = Jet(0.2e-3, 6e-3, zero=True)


def place() -> Place:
    return Place("jets.toml", path=("carburettor", "1", "main_jet"))


@pytest.mark.parametrize(
    ("value", "bore_mm"),
    [
        ("1.85 mm", 1.85),
        ("1,85 mm", 1.85),
        ("0.072 in", 1.8288),
        ({"number": 185, "means": HUNDREDTHS}, 1.85),
        ({"number": "172,5", "means": HUNDREDTHS}, 1.725),
        ({"number": 72, "means": THOUSANDTHS}, 1.8288),
    ],
)
def test_a_bore_and_a_bore_number_are_the_same_jet(value, bore_mm: float):
    here = place()
    assert MAIN.read(value, here) == pytest.approx(bore_mm * 1e-3, rel=1e-12)
    assert not here.assumptions


def test_flow_number_against_a_textbook_jet():
    """Worked solution to a textbook example: 0.4 kg/min of 780 kg/m³ fuel, Cd 0.6, 5436.29 Pa: 2.204 mm."""
    head = 5436.29 / (780.0 * STANDARD_GRAVITY)
    assert flow_number_bore(0.4 / 60.0 / 780.0, head, 0.6) == pytest.approx(2.204e-3, abs=0.0005e-3)


def test_a_flow_number_without_its_calibration_is_an_assumption():
    here = place()
    # 400 cm³/min at Cd 0.78 under 0.5 m: 6.667e-6 / (0.78 * 3.1316) = 2.7293e-6 m², worked by hand
    assert MAIN.read({"number": 400, "means": FLOW}, here) == pytest.approx(1.8642e-3, rel=1e-4)
    (assumed,) = here.assumptions
    assert assumed.key == "carburettor.1.main_jet"
    assert "500 mm" in assumed.why
    assert "0.78" in assumed.why


def test_a_flow_number_with_its_calibration_is_none():
    here = place()
    MAIN.read({"number": 400, "means": FLOW, "head": "300 mm", "discharge_coefficient": 0.8}, here)
    assert not here.assumptions


@pytest.mark.parametrize("value", [0, "0 mm", {"number": 0, "means": HUNDREDTHS}, {"number": 0, "means": FLOW}])
def test_zero_is_no_jet_where_there_may_be_none(value):
    assert BLEED.read(value, place()) == 0.0
    with pytest.raises(InputError, match="allowed"):
        MAIN.read(value, place())


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (185, "bare number 185"),
        ({"number": 1850, "means": HUNDREDTHS}, "18.5 mm"),
        ({"number": 185, "means": THOUSANDTHS}, None),
        ({"number": 90000, "means": FLOW}, "allowed"),
        ({"number": 185}, "means is missing"),
        ({"number": 185, "means": "hundreds"}, "means is 'hundreds'"),
        ({"number": 185, "means": HUNDREDTHS, "head": "0.5 m"}, "only for 'cc per minute'"),
        ({"number": 185, "mean": HUNDREDTHS}, "unknown key 'mean'"),
        (True, "True"),
        ([185], "185"),
    ],
)
def test_what_is_no_jet_is_refused(value, words: str | None):
    if words is None:  # 185 thousandths of an inch are 4.7 mm: wide, but believed
        assert MAIN.read(value, place()) == pytest.approx(4.699e-3)
        return
    with pytest.raises(InputError) as refused:
        MAIN.read(value, place())
    assert words in refused.value.what
    assert refused.value.hint
