"""A setup sheet from answers: what was said stands on it, what nobody knows is filled and marked there as assumed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import takewhile

from pulsewright.bench.changes import toml_value
from pulsewright.bench.given import NOT_GIVEN
from pulsewright.bench.marked import MARK, marked_assumptions
from pulsewright.bench.sheet import setup_from_text
from pulsewright.new.questions import asked_of, checked, number, questions, written

MADE = "Made from answers to a few questions. Lines marked 'assumed' are guesses about this machine."
FILLED = "Not on this sheet, and filled in when it is read; write a line of your own where you know better:"


def sheet_from(answers: Mapping[str, str], name: str) -> str:
    """TOML text of a sheet. What cannot be, but only together with something else, is said when the sheet is read.

    Raises InputError where something that must be said was not, or an answer cannot stand on a sheet.
    """
    lines = list(_lines(_Said(answers), name))
    text = "\n".join(lines) + "\n"
    marked = {a.key for a in marked_assumptions(text)}
    setup = setup_from_text(text, "the answers", name=name, lines=False)
    left = [
        f"#   {a.key} = {a.value} ({a.why.removeprefix(f'{NOT_GIVEN}; ')})"
        for a in setup.assumptions
        if a.key not in marked
    ]
    return text + "\n" + "\n".join([f"# {FILLED}", *left]) + "\n"


def assumed_by_the_answers(answers: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """(what, value, why) of every question that was left open and has a usual answer."""
    return [
        (q.label, q.usual, q.usual_why)
        for q in asked_of(answers)
        if q.usual.strip() and not checked(q, answers.get(q.name, ""))
    ]


class _Said:
    """The answers, checked, with what is taken for those that are missing."""

    def __init__(self, answers: Mapping[str, str]) -> None:
        self._said = {q.name: checked(q, answers.get(q.name, "")) for q in questions()}
        self._questions = {q.name: q for q in questions()}
        self.asked = list(asked_of(answers))

    def __getitem__(self, name: str) -> str:
        return self._said[name] or self._questions[name].usual.strip()

    def was_said(self, name: str) -> bool:
        """Whether somebody answered."""
        return bool(self._said[name])

    def line(self, key: str, name: str) -> Iterator[str]:
        """The line of one answer; none where it stays open."""
        if self[name]:
            value = written(name, self[name])
            guess = "" if self._said[name] else f"  # {MARK}: {self._questions[name].usual_why}"
            yield f"{key} = {toml_value(value)}{guess}"


def _lines(said: _Said, name: str) -> Iterator[str]:
    yield f"# {MADE}"
    yield 'format = "pulsewright setup 1"'
    yield f"name = {toml_value(name)}"
    yield from ("", "[engine]", f"cylinders = {said['cylinders']}")
    yield from said.line("bore", "bore")
    yield from said.line("stroke", "stroke")
    yield from said.line("compression_ratio", "compression_ratio")
    if said["firing"] and said["cylinders"] != "1":
        yield f"firing = {toml_value([0.0, *(number(part, 'firing') for part in _parts(said['firing']))])}"
    yield from said.line("cooling", "cooling")
    for side in ("intake", "exhaust"):
        yield from ("", f"[engine.{side}_valve]")
        yield from said.line("diameter", f"{side}_valve")
        yield from said.line("lift", f"{side}_lift")
        yield from said.line("opens", f"{side}_opens")
        yield from said.line("closes", f"{side}_closes")
        yield from said.line("check_lift", "check_lift")
    yield from ("", "[fuel]", *said.line("kind", "fuel"))
    yield from _carburettors(said)
    yield from _exhaust(said)


def _parts(text: str) -> list[str]:
    """'405' or '240, 480'; a leading 0 is the first cylinder itself."""
    parts = [part for part in text.replace(";", ",").replace("[", "").replace("]", "").split(",") if part.strip()]
    zeros = len(list(takewhile(lambda part: number(part, "firing") == 0.0, parts)))
    return parts[zeros:]


def _carburettors(said: _Said) -> Iterator[str]:
    each = said["carburettors"] == "one each"
    if not said.was_said("carburettors") and said["cylinders"] != "1":
        yield from ("", f"# {MARK}: one carburettor for all cylinders")
    for _ in range(int(said["cylinders"]) if each else 1):
        yield from ("", "[[carburettor]]")
        yield from said.line("kind", "carburettor")
        for question in said.asked:  # a page without scripts may send what belongs to another kind
            if question.key.startswith("carburettor.1."):
                yield from said.line(question.key.rpartition(".")[2], question.name)


def _exhaust(said: _Said) -> Iterator[str]:
    yield from ("", "[exhaust]")
    length, bore = toml_value(said["pipe_length"]), toml_value(said["pipe_bore"])
    for cylinder in range(1, int(said["cylinders"]) + 1):
        yield f"route.{cylinder} = ["
        yield f'  {{ piece = "pipe", length = {length}, bore = {bore} }},'
        yield '  { piece = "end", kind = "open" },'
        yield "]"
    yield from said.line("lambda_sensor.1", "sensor")
