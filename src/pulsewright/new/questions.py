"""What is asked of a person who has no sheet: few questions, each with its reason and what is taken if nobody knows.

First what a sheet cannot do without, then what cost more than 1 % of torque where it had to be assumed: ranked by
the model (`new.ranking`) on an invented twin of which only the first part was given. That is a regression value of
our own code; the order may differ for another machine, and `pulsewright check SHEET --ranking` says how.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pulsewright.bench.carburettor import FIXED, SLIDE, SUCTION
from pulsewright.bench.changes import key_of
from pulsewright.bench.given import PRACTICE
from pulsewright.bench.place import Place
from pulsewright.bench.schema import MOST_CYLINDERS
from pulsewright.errors import InputError, UsageError, did_you_mean

OPEN = " "  # may be left to what a sheet fills in
PLAIN = ("compression_ratio", "needle_clip")  # numbers without a unit
COUNTED = ("needle_clip",)  # and of these, whole ones
UNKNOWN = ("unknown", "")  # answers of those who do not know
USUAL_CAM = f"a usual road cam, {PRACTICE}"
VALVE_SIZES = "its size decides how much air comes in"

# A sheet with one of each, to know what may stand behind a question.
_EXAMPLE = """
[engine]
bore = "90 mm"
stroke = "90 mm"
compression_ratio = 9
intake_valve = { opens = "20 deg BTDC", closes = "50 deg ABDC" }
exhaust_valve = { opens = "54 deg BBDC", closes = "18 deg ATDC" }
[[carburettor]]
venturi = "37 mm"
[exhaust]
route.1 = [ { piece = "pipe", length = "900 mm", bore = "43 mm" } ]
lambda_sensor.1 = "280 mm"
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question."""

    name: str
    label: str
    hint: str = ""  # how to write the answer
    why: str  # it is asked
    key: str = ""  # dotted path on the sheet of one cylinder; empty: no single place
    usual: str = ""  # taken where nothing is said; empty: it must be said; `OPEN`: it may stay open
    usual_why: str = PRACTICE
    choices: tuple[str, ...] = ()
    only: tuple[str, ...] = ()  # kinds of carburettor that it is asked for; empty: all

    @property
    def needed(self) -> bool:
        """Whether nothing can be taken in its place."""
        return not self.usual


def _cam(name: str, label: str, hint: str, usual: str, key: str) -> Question:
    return Question(
        name=name, label=label, hint=hint, usual=usual, usual_why=USUAL_CAM, key=key,
        why="when the valves open and close decides whether an echo finds a door open",
    )  # fmt: skip


PILOT = "it feeds the idle and the first quarter of the throttle"
NEEDLE = "needle and needle jet rule the middle of the throttle"


def _of_carburettor(name: str, label: str, example: str, why: str, *only: str, key: str = "") -> Question:
    return Question(
        name=name, label=label, hint=f"{example}; empty if you do not know", usual=OPEN, only=only, why=why,
        key=f"carburettor.1.{key or name}",
    )  # fmt: skip


GROUPS: dict[str, tuple[Question, ...]] = {
    "Engine": (
        Question(
            name="cylinders",
            label="Cylinders",
            choices=tuple(str(n) for n in range(1, MOST_CYLINDERS + 1)),
            why="each has its pipe and its pulses",
        ),
        Question(
            name="firing",
            label="The other cylinders fire after",
            hint="degrees of crank, 405, or 240, 480; empty: even",
            usual=OPEN,
            why="uneven gaps send the pulses of two cylinders unevenly into the shared intake",
        ),
        Question(name="bore", label="Bore", hint="94 mm, or 3.7 in", key="engine.bore", why="the volume that breathes"),
        Question(name="stroke", label="Stroke", hint="101 mm", key="engine.stroke", why="the volume that breathes"),
        Question(
            name="compression_ratio",
            label="Compression ratio",
            hint="9.0",
            key="engine.compression_ratio",
            usual="9.0",
            usual_why=f"road engines have 8 to 10, {PRACTICE}",
            why="0.3 more are about 1 % of torque, and nearer to knock",
        ),
        Question(name="cooling", label="Cooling", choices=("air", "water"), usual="air", why="the walls' warmth"),
    ),
    "Cam, as on its card": (
        _cam("intake_opens", "Intake opens", "16 deg BTDC", "20 deg BTDC", "engine.intake_valve.opens"),
        _cam("intake_closes", "Intake closes", "46 deg ABDC", "50 deg ABDC", "engine.intake_valve.closes"),
        _cam("exhaust_opens", "Exhaust opens", "52 deg BBDC", "54 deg BBDC", "engine.exhaust_valve.opens"),
        _cam("exhaust_closes", "Exhaust closes", "16 deg ATDC", "18 deg ATDC", "engine.exhaust_valve.closes"),
        Question(
            name="check_lift",
            label="Figures hold at a lift of",
            hint="1 mm; 0 from seat to seat",
            usual="1 mm",
            usual_why=USUAL_CAM,
            key="engine.intake_valve.check_lift",
            why="the same figures at another lift are another cam",
        ),
    ),
    "Carburettor": (
        Question(
            name="carburettors",
            label="Carburettors",
            choices=("one for all", "one each"),
            usual="one for all",
            why="cylinders on one carburettor breathe each other's pulses",
        ),
        Question(
            name="carburettor",
            label="Kind of carburettor",
            choices=(FIXED, SLIDE, SUCTION),
            usual=FIXED,
            usual_why="nothing moves in its bore but the throttle",
            why="a slide or a piston in the bore meters by its needle",
        ),
        Question(
            name="venturi",
            label="Venturi, bore of the throat",
            hint="37 mm; slide or piston fully up",
            key="carburettor.1.venturi",
            why="its suction meters the fuel",
        ),
        Question(
            name="main_jet",
            label="Main jet, bore",
            hint="1.95 mm; empty if you do not know",
            usual=OPEN,
            key="carburettor.1.main_jet",
            why="it sets the mixture; a flow in cc/min becomes a bore by `pulsewright estimate jet-bore`",
        ),
        _of_carburettor("intermediate_jet", "Intermediate jet, bore", "0.75 mm", "it feeds below the main", FIXED),
        _of_carburettor("pilot_jet", "Pilot jet, bore", "0.55 mm", PILOT, SLIDE, SUCTION, key="intermediate_jet"),
        _of_carburettor("needle_jet", "Needle jet, bore", "2.80 mm", NEEDLE, SLIDE, SUCTION),
        _of_carburettor("needle_diameter", "Needle, thickest part", "2.74 mm", NEEDLE, SLIDE, SUCTION),
        _of_carburettor("needle_clip", "Clip in groove, counted from the blunt end", "3", NEEDLE, SLIDE, SUCTION),
        _of_carburettor("cutaway", "Cutaway of the slide, height", "3 mm", "it rules the first quarter", SLIDE),
        Question(
            name="fuel",
            label="Fuel",
            choices=("petrol", "E5", "E10", "E85"),
            usual="petrol",
            why="ethanol wants more fuel for the same air",
        ),
    ),
    "Exhaust, each pipe": (
        Question(
            name="pipe_length",
            label="Length from the port flange to the end",
            hint="900 mm",
            key="exhaust.route.1.1.length",
            why="it decides at which speed the echo hurts: 10 % longer, 10 % lower",
        ),
        Question(
            name="pipe_bore",
            label="Bore inside",
            hint="43 mm",
            key="exhaust.route.1.1.bore",
            why="a narrow pipe makes a stronger pulse",
        ),
        Question(
            name="sensor",
            label="Lambda sensor from the flange",
            hint="280 mm; empty if there is none",
            usual=OPEN,
            key="exhaust.lambda_sensor.1",
            why="near an open end it reads leaner than the engine runs",
        ),
    ),
    "What the model says matters most of the rest": (
        Question(
            name="main_nozzle",
            only=(FIXED,),
            label="Main nozzle, bore",
            hint="4.0 mm",
            usual=OPEN,
            key="carburettor.1.main_nozzle",
            why="it passes the fuel with its bleed air, and guessing it was dearer than any other guess",
        ),
        Question(
            name="nozzle_lip",
            label="Nozzle above the fuel in the bowl",
            hint="7 mm",
            usual=OPEN,
            key="carburettor.1.nozzle_lip",
            why="suction must lift the fuel that far before any flows",
        ),
        Question(
            name="main_air_bleed",
            label="Main air bleed, bore",
            hint="1.10 mm",
            usual=OPEN,
            key="carburettor.1.main_air_bleed",
            why="it leans the top against the bottom",
        ),
        Question(
            name="intake_valve",
            label="Intake valve, diameter",
            hint="46.5 mm",
            usual=OPEN,
            key="engine.intake_valve.diameter",
            why=VALVE_SIZES,
        ),
        Question(
            name="intake_lift",
            label="Intake valve, highest lift",
            hint="10.8 mm",
            usual=OPEN,
            key="engine.intake_valve.lift",
            why=VALVE_SIZES,
        ),
        Question(
            name="exhaust_valve",
            label="Exhaust valve, diameter",
            hint="40.5 mm",
            usual=OPEN,
            key="engine.exhaust_valve.diameter",
            why="it lets the pulse into the pipe",
        ),
        Question(
            name="exhaust_lift",
            label="Exhaust valve, highest lift",
            hint="10.6 mm",
            usual=OPEN,
            key="engine.exhaust_valve.lift",
            why="it lets the pulse into the pipe",
        ),
    ),
}


def questions() -> Iterator[Question]:
    """All of them, in order."""
    for group in GROUPS.values():
        yield from group


def asked_of(answers: Mapping[str, str]) -> Iterator[Question]:
    """Those that mean something for this machine, as far as it is known."""
    kind = answers.get("carburettor") or FIXED
    for question in questions():
        alone = question.name in ("firing", "carburettors") and answers.get("cylinders") == "1"
        if not alone and (not question.only or kind in question.only):
            yield question


def question_called(name: str) -> Question:
    """Raises UsageError with the nearest names."""
    for question in questions():
        if question.name == name:
            return question
    raise UsageError(f"no question is called '{name}'", hint=did_you_mean(name, [q.name for q in questions()]))


def checked(question: Question, answer: str) -> str:
    """The answer, empty where it is not known. Raises InputError where it cannot stand on a sheet."""
    text = answer.strip()
    if text.lower() in UNKNOWN:
        if question.needed:
            raise InputError(f"{question.label} is missing", where=question.name, hint=_how(question))
        return ""
    if question.choices and text not in question.choices:
        raise InputError(f"{question.label} cannot be '{text}'", where=question.name, hint=_how(question))
    if question.key:
        value = written(question.name, text)
        key_of(_EXAMPLE, question.key, where=question.name).read(value, Place(question.label, (question.key,)))
    return text


def written(name: str, text: str) -> str | float:
    """An answer as it stands on the sheet: text, or a number where it has no unit."""
    if name not in PLAIN:
        return text
    value = number(text, name)
    return int(value) if name in COUNTED and value.is_integer() else value


def number(text: str, where: str) -> float:
    """A number with decimal point or comma."""
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise InputError(f"'{text}' is no number", where=where, hint="write it like 9.0 or 9,0") from None


def _how(question: Question) -> str:
    return " or ".join(question.choices) if question.choices else f"write it like {question.hint}"
