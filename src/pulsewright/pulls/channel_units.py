"""Units as shops write them over their columns, and their factors to SI.

A unit is (quantity kind, factor, offset): SI = factor * value + offset. Factors: SI Brochure, 9th edition
(2019), and NIST SP 811 (2008) appendix B.8 for the foot pound-force, horsepower, inch of mercury and the
rest; rpm stays rpm, as everywhere in the field.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

POUND_FORCE = 4.4482216152605  # [N] NIST SP 811
FOOT = 0.3048  # [m] exact
STANDARD_GRAVITY = 9.80665  # [m/s2] exact


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit with its kind and the way to SI: SI = factor * value + offset."""

    name: str
    kind: str
    factor: float
    offset: float = 0.0


UNITS: tuple[tuple[Unit, tuple[str, ...]], ...] = (
    (
        Unit(name="s", kind="time", factor=1.0),
        ("s", "sec", "secs", "second", "seconds", "sek", "sekunden", "secondes"),
    ),
    (Unit(name="ms", kind="time", factor=1e-3), ("ms", "msec", "millis", "milliseconds")),
    (Unit(name="min", kind="time", factor=60.0), ("minutes", "minuten")),
    (
        Unit(name="rpm", kind="rotation", factor=1.0),
        (
            "rpm",
            "1/min",
            "/min",
            "min-1",
            "min^-1",
            "u/min",
            "upm",
            "r/min",
            "rev/min",
            "tr/min",
            "t/min",
            "omw/min",
            "toeren",
            "giri/min",
            "g/min",
            "obr/min",
            "ot/min",
            "v/min",
            "min⁻¹",
            "об/мин",  # noqa: RUF001
        ),
    ),
    (
        Unit(name="1000 rpm", kind="rotation", factor=1000.0),
        ("krpm", "x1000", "x1000 rpm", "1000/min", "rpm x1000", "1000 rpm", "rpm*1000"),
    ),
    (Unit(name="rad/s", kind="rotation", factor=60.0 / 6.283185307179586), ("rad/s",)),
    (Unit(name="m/s", kind="speed", factor=1.0), ("m/s", "mps")),
    (Unit(name="km/h", kind="speed", factor=1 / 3.6), ("km/h", "kmh", "kph", "km/u", "kmph")),
    (Unit(name="mph", kind="speed", factor=0.44704), ("mph", "mi/h", "miles/h")),
    (
        Unit(name="N m", kind="torque", factor=1.0),
        ("nm", "n m", "n.m", "n*m", "n·m", "newton metre", "newtonmeter", "n-m", "нм"),
    ),
    (
        Unit(name="lbf ft", kind="torque", factor=POUND_FORCE * FOOT),
        (
            "lbf ft",
            "lb-ft",
            "lb ft",
            "lbft",
            "ft-lb",
            "ft lb",
            "ftlb",
            "ft-lbs",
            "ft lbs",
            "ft.lbs",
            "lbs-ft",
            "ft-lbf",
            "lbf-ft",
            "ft lbf",
            "lb.ft",
            "lb/ft",
            "lbf.ft",
        ),
    ),
    (
        Unit(name="kgf m", kind="torque", factor=STANDARD_GRAVITY),
        ("kgm", "kgf m", "kgf.m", "kpm", "kg m", "mkg", "mkp", "kgf-m", "kg-m"),
    ),
    (
        Unit(name="lbf in", kind="torque", factor=POUND_FORCE * FOOT / 12.0),
        ("in-lb", "in lb", "lbf in", "in-lbs"),
    ),
    (Unit(name="daN m", kind="torque", factor=10.0), ("danm", "dan m", "dan.m")),
    (Unit(name="kW", kind="power", factor=1000.0), ("kw", "квт")),
    (Unit(name="W", kind="power", factor=1.0), ("w", "watt", "watts")),
    (
        Unit(name="hp", kind="power", factor=550.0 * POUND_FORCE * FOOT),
        ("hp", "bhp", "whp", "rwhp", "horsepower"),
    ),
    (
        Unit(name="PS", kind="power", factor=75.0 * STANDARD_GRAVITY),
        ("ps", "cv", "pk", "ch", "km", "hk", "л.с.", "hp(m)", "metric hp"),  # noqa: RUF001
    ),
    (Unit(name="K", kind="temperature", factor=1.0), ("k", "kelvin")),
    (
        Unit(name="degC", kind="temperature", factor=1.0, offset=273.15),
        ("c", "°c", "degc", "deg c", "celsius", "grad c", "ºc"),
    ),
    (
        Unit(name="degF", kind="temperature", factor=5 / 9, offset=459.67 * 5 / 9),
        ("f", "°f", "degf", "deg f", "fahrenheit", "ºf"),
    ),
    (Unit(name="kPa", kind="pressure", factor=1e3), ("kpa",)),
    (Unit(name="Pa", kind="pressure", factor=1.0), ("pa",)),
    (Unit(name="hPa", kind="pressure", factor=100.0), ("hpa", "mbar", "mb", "millibar")),
    (Unit(name="bar", kind="pressure", factor=1e5), ("bar",)),
    (Unit(name="inHg", kind="pressure", factor=3386.389), ("inhg", "in hg", '"hg')),
    (Unit(name="mmHg", kind="pressure", factor=133.3224), ("mmhg", "mm hg", "torr")),
    (Unit(name="psi", kind="pressure", factor=POUND_FORCE / 0.0254**2), ("psi", "psia")),
    (Unit(name="%", kind="fraction", factor=0.01), ("%", "percent", "pct", "% rh", "%rh")),
    (Unit(name="lambda", kind="lambda", factor=1.0), ("lambda", "λ")),
    (Unit(name="AFR", kind="afr", factor=1.0), ("afr", ":1", "a/f")),
)

_TEMPERATURES = ("head_temperature", "air_temperature", "exhaust_temperature", "oil_temperature")

KIND_OF: dict[str, tuple[str, ...]] = {
    "time": ("time",),
    "engine_speed": ("rotation",),
    "roller_speed": ("speed", "rotation"),
    "torque": ("torque",),
    "power": ("power",),
    "lambda": ("lambda", "afr"),
    "afr": ("lambda", "afr"),
    **dict.fromkeys(_TEMPERATURES, ("temperature",)),
    "air_pressure": ("pressure",),
    "humidity": ("fraction",),
    "throttle": ("fraction",),
}


@lru_cache(maxsize=1)
def _index() -> dict[str, Unit]:
    return {_fold(text): unit for unit, texts in UNITS for text in texts}


def _fold(text: str) -> str:
    return re.sub(r"\s+", " ", text.strip().strip("[]()<>").strip().lower())


def find_unit(text: str) -> Unit | None:
    """Unit that this text writes, or None."""
    return _index().get(_fold(text))


def units_of(kinds: tuple[str, ...]) -> list[Unit]:
    """All units of these kinds."""
    return [unit for unit, _ in UNITS if unit.kind in kinds]


def split_heading(heading: str) -> tuple[str, Unit | None]:
    """Name and unit of a heading: 'P [hp]', 'koppel (Nm)', 't/s', 'Drum km/h', 'Seconds', 'RPM'."""
    from pulsewright.pulls.channel_words import proposed_quantity

    text = heading.strip()
    bracket = re.search(r"[\[(<]\s*([^\])>]*)\s*[\])>]\s*$", text)
    if bracket and find_unit(bracket.group(1)):
        return text[: bracket.start()].strip() or text, find_unit(bracket.group(1))
    if proposed_quantity(text)[1] >= 0.9:
        return text, find_unit(text)
    before, slash, after = text.partition("/")
    if slash and before.strip() and find_unit(after):
        return before.strip(), find_unit(after)
    words = re.split(r"[\s,_]+", text)
    for count in (3, 2, 1):  # the longest unit first: 'lb ft' before 'ft'
        tail = " ".join(words[-count:])
        if len(words) > count and find_unit(tail):
            return text[: len(text) - len(tail)].strip(" ,_") or text, find_unit(tail)
    return text, find_unit(text)
