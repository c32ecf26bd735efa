"""Valve timing as cards write it. The angles are arithmetic: dead centres lie at 180, 360 and 540 degrees."""

import pytest

from pulsewright.bench.place import Place
from pulsewright.bench.timing import EXHAUST_CLOSES, EXHAUST_OPENS, INTAKE_CLOSES, INTAKE_OPENS
from pulsewright.errors import InputError

HERE = Place("card.toml", path=("engine", "intake_valve", "opens"))


@pytest.mark.parametrize(
    ("event", "text", "angle"),
    [
        (INTAKE_OPENS, "22 deg BTDC", 338.0),
        (INTAKE_OPENS, "5 deg ATDC", 365.0),
        (INTAKE_OPENS, "-5 deg BTDC", 365.0),
        (INTAKE_OPENS, "22,5° before top dead centre", 337.5),
        (INTAKE_OPENS, "22 BTDC", 338.0),
        (INTAKE_OPENS, "22 degrees before TDC", 338.0),
        (INTAKE_CLOSES, "54 deg ABDC", 594.0),
        (INTAKE_CLOSES, "54 deg after bottom dead center", 594.0),
        (INTAKE_CLOSES, "10 deg bbdc", 530.0),
        (EXHAUST_OPENS, "54 deg BBDC", 126.0),
        (EXHAUST_CLOSES, "22 deg ATDC", 382.0),
        (EXHAUST_CLOSES, "22 deg A.T.D.C.", 382.0),
        (EXHAUST_CLOSES, "3 deg BTDC", 357.0),
    ],
)
def test_a_card_is_read(event, text: str, angle: float):
    assert event.read(text, HERE) == pytest.approx(angle, abs=1e-12)


@pytest.mark.parametrize(
    ("event", "text", "words"),
    [
        (INTAKE_OPENS, "22 deg", "dead centre"),
        (INTAKE_OPENS, 22, "dead centre"),
        (INTAKE_OPENS, "22 deg BBDC", "counted from top dead centre"),
        (INTAKE_CLOSES, "126 deg BTDC", "counted from bottom dead centre"),
        (INTAKE_OPENS, "220 deg BTDC", "100 deg before top dead centre to 60 deg after"),
        (INTAKE_OPENS, "many deg BTDC", "many deg"),
        (INTAKE_OPENS, "22 mm BTDC", "mm"),
    ],
)
def test_what_is_no_timing_is_refused(event, text, words: str):
    with pytest.raises(InputError) as refused:
        event.read(text, HERE)
    assert words in refused.value.what
    assert "22 deg BTDC" in (refused.value.hint or "") or "54 deg ABDC" in (refused.value.hint or "")
