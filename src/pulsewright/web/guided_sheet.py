"""A setup sheet from a short form: what was asked, and usual values where nothing was said, each marked as assumed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pulsewright.errors import InputError
from pulsewright.web import words


@dataclass(frozen=True, slots=True)
class Asked:
    """One question of the form; its words are in `words.ASKED`."""

    name: str
    usual: str = ""  # taken where nothing is said; empty: it must be said; a blank: it may stay open
    choices: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        return words.ASKED[self.name][0]

    @property
    def hint(self) -> str:
        return words.ASKED[self.name][1]


OPEN = " "
ASKED: dict[str, tuple[Asked, ...]] = {
    "engine": (
        Asked("cylinders", choices=("1", "2")), Asked("firing", "360"), Asked("bore"), Asked("stroke"),
        Asked("compression_ratio"), Asked("cooling", choices=("air", "water")),
    ),
    "cam": (
        Asked("intake_opens", "20 deg BTDC"), Asked("intake_closes", "50 deg ABDC"),
        Asked("exhaust_opens", "54 deg BBDC"), Asked("exhaust_closes", "18 deg ATDC"), Asked("check_lift", "1 mm"),
    ),
    "carburettor": (Asked("venturi"), Asked("main_jet", OPEN)),
    "exhaust": (Asked("pipe_length"), Asked("pipe_bore"), Asked("sensor", OPEN)),
}  # fmt: skip


def sheet_from(answers: Mapping[str, str], name: str) -> str:
    """TOML text of a sheet. What cannot be is said when the sheet is read.

    Raises InputError where something that must be said was not.
    """
    import tomlkit

    said = {a.name: _answer(a, answers) for group in ASKED.values() for a in group}
    assumed = [label for label, _, _ in assumed_by_the_form(answers)]
    document = tomlkit.document()
    document.add(tomlkit.comment(words.FORM_MADE))
    if assumed:
        document.add(tomlkit.comment(words.FORM_ASSUMED.format(why=words.USUAL_CAM, what=", ".join(assumed))))
    document["format"] = "pulsewright setup 1"
    document["name"] = name
    document["engine"] = _engine(said)
    carburettor = {"venturi": said["venturi"], **({"main_jet": said["main_jet"]} if said["main_jet"] else {})}
    document["carburettor"] = [carburettor]
    document["exhaust"] = _exhaust(said)
    return tomlkit.dumps(document)


def assumed_by_the_form(answers: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """(what, value, why) of every answer that was left out and has a usual value."""
    rows = [a for group in ASKED.values() for a in group if a.usual.strip() and not answers.get(a.name, "").strip()]
    two = answers.get("cylinders") == "2"
    return [(a.label, a.usual, words.USUAL_CAM) for a in rows if a.name != "firing" or two]


def _answer(asked: Asked, answers: Mapping[str, str]) -> str:
    text = answers.get(asked.name, "").strip() or asked.usual
    if not text:
        raise InputError(f"{asked.label} is missing", where=asked.name, hint=f"write it like {asked.hint}")
    if asked.choices and text not in asked.choices:
        raise InputError(f"{asked.label} cannot be '{text}'", where=asked.name, hint=" or ".join(asked.choices))
    return text.strip()


def _engine(said: Mapping[str, str]) -> dict[str, object]:
    cylinders = int(said["cylinders"])
    lift = {"check_lift": said["check_lift"]}
    return {
        "cylinders": cylinders,
        "bore": said["bore"],
        "stroke": said["stroke"],
        "compression_ratio": _number(said["compression_ratio"], "compression_ratio"),
        "firing": [0.0] if cylinders == 1 else [0.0, _number(said["firing"], "firing")],
        "cooling": said["cooling"],
        "intake_valve": {"opens": said["intake_opens"], "closes": said["intake_closes"], **lift},
        "exhaust_valve": {"opens": said["exhaust_opens"], "closes": said["exhaust_closes"], **lift},
    }


def _exhaust(said: Mapping[str, str]) -> dict[str, object]:
    route = [
        {"piece": "pipe", "length": said["pipe_length"], "bore": said["pipe_bore"]},
        {"piece": "end", "kind": "open"},
    ]
    exhaust: dict[str, object] = {"route": {str(n + 1): route for n in range(int(said["cylinders"]))}}
    if said["sensor"]:
        exhaust["lambda_sensor"] = {"1": said["sensor"]}
    return exhaust


def _number(text: str, where: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise InputError(f"'{text}' is no number", where=where, hint="write it like 9.0 or 9,0") from None
