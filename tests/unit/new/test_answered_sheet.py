"""A sheet from answers: what is answered stands on it, what is not is filled, marked and said."""

import tomllib

import pytest

from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError
from pulsewright.new.answered_sheet import assumed_by_the_answers, sheet_from
from pulsewright.new.questions import asked_of, checked, questions

ANSWERS = {
    "cylinders": "2", "firing": "405", "bore": "94 mm", "stroke": "101 mm", "compression_ratio": "9,0",
    "cooling": "air", "carburettor": "fixed venturi", "carburettors": "one for all", "fuel": "E5",
    "venturi": "37 mm", "pipe_length": "900 mm", "pipe_bore": "1,7 in", "sensor": "280 mm",
}  # fmt: skip


def test_answers_stand_on_the_sheet():
    setup = setup_from_text(sheet_from(ANSWERS, "test"), "the form")
    assert setup.engine.bore == pytest.approx(0.094)
    assert setup.engine.firing == (0.0, 405.0)
    assert setup.exhaust.route[2][0].length == pytest.approx(0.9)  # type: ignore[union-attr]
    assert setup.exhaust.route[2][0].bore_in == pytest.approx(1.7 * 0.0254)  # type: ignore[union-attr]
    assert setup.exhaust.lambda_sensor == {"1": pytest.approx(0.28)}


NEEDLED = {
    "pilot_jet": "0.50 mm", "needle_jet": "2.9 mm", "needle_diameter": "2.82 mm", "needle_clip": "4", "cutaway": "3 mm",
}  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "there"),
    [
        ("fixed venturi", {"intermediate_jet"}),
        ("slide", {"intermediate_jet", "needle_jet", "needle_diameter", "needle_clip", "cutaway"}),
        ("constant velocity", {"intermediate_jet", "needle_jet", "needle_diameter", "needle_clip"}),
    ],
)
def test_a_carburettor_gets_what_its_kind_has(kind: str, there: set[str]):
    """A page without scripts, or an old browser, may send what belongs to another kind."""
    text = sheet_from({**ANSWERS, "carburettor": kind, "intermediate_jet": "0.80 mm", **NEEDLED}, "test")
    (table,) = tomllib.loads(text)["carburettor"]
    assert set(table) == {"kind", "venturi"} | there
    (part,) = setup_from_text(text, "the form").carburettors
    assert part.kind == kind
    assert part.intermediate_jet == pytest.approx(0.80e-3 if kind == "fixed venturi" else 0.50e-3)
    assert part.needle is None if kind == "fixed venturi" else part.needle is not None and part.needle.clip == 4
    assert part.cutaway == pytest.approx(3e-3 if kind == "slide" else 0.0)


def test_a_slide_of_which_little_is_known_is_filled_in():
    setup = setup_from_text(sheet_from({**ANSWERS, "carburettor": "slide"}, "test"), "the form")
    assert {"carburettor.1.needle_jet", "carburettor.1.cutaway"} <= {each.key for each in setup.assumptions}


def test_what_is_left_out_is_said():
    assert {what for what, _, _ in assumed_by_the_answers(ANSWERS)} == {
        "Intake opens", "Intake closes", "Exhaust opens", "Exhaust closes", "Figures hold at a lift of",
    }  # fmt: skip
    assert assumed_by_the_answers({**ANSWERS, "intake_opens": "16 deg BTDC"})[0][0] == "Intake closes"


@pytest.mark.parametrize(
    ("answer", "complaint"),
    [
        ({"bore": ""}, "Bore is missing"),
        ({"cooling": "oil"}, "cannot be 'oil'"),
        ({"compression_ratio": "x"}, "no number"),
        ({"compression_ratio": "90"}, "allowed: 4 to 18"),
        ({"firing": "soon"}, "no number"),
        ({"venturi": "370 mm"}, "allowed: 5 mm to 80 mm"),
        ({"intake_opens": "20 deg BBDC"}, "top dead centre"),
        ({"carburettor": "bucket"}, "cannot be 'bucket'"),
        ({"carburettor": "slide", "needle_clip": "middle"}, "no number"),
    ],
)
def test_what_cannot_be_is_refused(answer: dict[str, str], complaint: str):
    with pytest.raises(InputError, match=complaint):
        sheet_from({**ANSWERS, **answer}, "test")


def test_a_hostile_name_stays_text():
    name = '"]\n[engine]\nbore = "1 mm'
    assert setup_from_text(sheet_from(ANSWERS, name), "the form").name == name


def test_every_question_stands_on_the_sheet_or_is_marked_there():
    """Nothing said: only what is needed stands there, and every usual value bears the mark."""
    needed = {q.name: ANSWERS[q.name] for q in questions() if q.needed}
    text = sheet_from(needed, "test")
    marked = [line for line in text.splitlines() if "# assumed: " in line]
    usual = [q for q in asked_of(needed) if q.usual.strip()]
    assert len(marked) == len(usual) + 1  # the check lift stands at both valves
    setup = setup_from_text(text, "t")
    keys = {a.key for a in setup.assumptions}
    assert {"engine.intake_valve.opens", "engine.exhaust_valve.check_lift", "fuel.kind"} <= keys
    assert "engine.bore" not in keys
    assert all(f"#   {a.key} = " in text for a in setup.assumptions if a.key.startswith(("intake", "ignition")))


def test_a_value_of_ones_own_is_no_assumption_any_more():
    text = sheet_from({**ANSWERS, "intake_opens": "16 deg BTDC", "intake_valve": "46 mm"}, "test")
    keys = {a.key for a in setup_from_text(text, "t").assumptions}
    assert not keys & {"engine.intake_valve.opens", "engine.intake_valve.diameter"}
    assert "engine.intake_valve.closes" in keys


@pytest.mark.parametrize(
    ("answers", "firing", "carburettors"),
    [
        ({"cylinders": "1"}, (0.0,), 1),
        ({"cylinders": "2", "firing": "unknown"}, (0.0, 360.0), 1),
        ({"cylinders": "3", "firing": "0, 240, 480", "carburettors": "one each"}, (0.0, 240.0, 480.0), 3),
        ({"cylinders": "4", "firing": "540, 180, 360", "carburettors": "one each"}, (0.0, 540.0, 180.0, 360.0), 4),
    ],
)
def test_any_number_of_cylinders(answers: dict[str, str], firing: tuple[float, ...], carburettors: int):
    setup = setup_from_text(sheet_from({**ANSWERS, **answers}, "test"), "t")
    assert setup.engine.firing == firing
    assert len(setup.carburettors) == carburettors
    assert len(setup.exhaust.route) == setup.engine.cylinders


@pytest.mark.parametrize("question", list(questions()), ids=lambda q: q.name)
def test_hints_and_usual_values_are_answers_that_are_taken(question):
    for answer in filter(
        None, (question.usual.strip(), question.hint.split(";")[0].split(", or ")[0], *question.choices)
    ):
        if question.name != "firing":
            assert checked(question, answer) == answer
    assert question.why
