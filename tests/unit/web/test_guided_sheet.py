"""The short form: what is answered stands on the sheet, what is not is filled and said."""

import pytest

from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError
from pulsewright.web.guided_sheet import assumed_by_the_form, sheet_from

ANSWERS = {
    "cylinders": "2", "firing": "405", "bore": "94 mm", "stroke": "101 mm", "compression_ratio": "9,0",
    "cooling": "air", "venturi": "37 mm", "pipe_length": "900 mm", "pipe_bore": "1,7 in", "sensor": "280 mm",
}  # fmt: skip


def test_answers_stand_on_the_sheet():
    setup = setup_from_text(sheet_from(ANSWERS, "test"), "the form")
    assert setup.engine.bore == pytest.approx(0.094)
    assert setup.engine.firing == (0.0, 405.0)
    assert setup.exhaust.route[2][0].length == pytest.approx(0.9)  # type: ignore[union-attr]
    assert setup.exhaust.route[2][0].bore_in == pytest.approx(1.7 * 0.0254)  # type: ignore[union-attr]
    assert setup.exhaust.lambda_sensor == {"1": pytest.approx(0.28)}


def test_what_is_left_out_is_said():
    assert {what for what, _, _ in assumed_by_the_form(ANSWERS)} == {
        "Intake opens", "Intake closes", "Exhaust opens", "Exhaust closes", "Figures hold at a lift of",
    }  # fmt: skip
    assert assumed_by_the_form({**ANSWERS, "intake_opens": "16 deg BTDC"})[0][0] == "Intake closes"


@pytest.mark.parametrize(
    ("answer", "complaint"),
    [
        ({"bore": ""}, "Bore is missing"),
        ({"cooling": "oil"}, "cannot be 'oil'"),
        ({"compression_ratio": "x"}, "no number"),
    ],
)
def test_what_cannot_be_is_refused(answer: dict[str, str], complaint: str):
    with pytest.raises(InputError, match=complaint):
        sheet_from({**ANSWERS, **answer}, "test")


def test_a_hostile_name_stays_text():
    name = '"]\n[engine]\nbore = "1 mm'
    assert setup_from_text(sheet_from(ANSWERS, name), "the form").name == name
