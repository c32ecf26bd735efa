"""Quantities at the border: text with a unit comes in, plain SI floats go on; and back to text for people.

Inside the package everything is SI, except crank angles and bend angles in degrees (`angle_deg`) and engine
speed in revolutions per minute (`speed_rpm`), which stay in the unit that everybody reads.
Conversion factors come from pint; the outside check values in tests/ do not.
"""

import functools
import math
import re
from dataclasses import dataclass
from typing import Any

from pulsewright.errors import InputError, did_you_mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of quantity: the unit inside, the unit people read, and what a number without a unit means."""

    inside: str  # pint unit of the float that is handed on
    shown: str  # unit in the text for people
    scale: float = 1.0  # inside = scale * shown + offset
    offset: float = 0.0
    bare: bool = False  # may be given as a plain number, which is then in the inside unit
    zero: bool = True  # a plain 0 needs no unit
    example: str = ""
    only: tuple[str, ...] = ()  # pint units accepted where equal dimensions would let a wrong one in


KINDS: dict[str, Kind] = {
    "length": Kind(inside="m", shown="mm", scale=1e-3, example="'44 mm' or '1.75 in'"),
    "area": Kind(inside="m^2", shown="mm²", scale=1e-6, example="'1520 mm^2'"),
    "volume": Kind(inside="m^3", shown="cm³", scale=1e-6, example="'500 cm^3' or '0.5 l'"),
    "angle_deg": Kind(
        inside="degree", shown="°", bare=True, example="'32 deg'", only=("degree", "degrees", "rad", "radian")
    ),
    "temperature": Kind(inside="K", shown="°C", offset=273.15, zero=False, example="'18 degC', '64 degF' or '291 K'"),
    "temperature_difference": Kind(inside="delta_degC", shown="K", example="'5 K'"),
    "pressure": Kind(inside="Pa", shown="kPa", scale=1e3, example="'100.2 kPa', '1002 hPa' or '29.6 inHg'"),
    "speed_rpm": Kind(inside="rpm", shown="rpm", bare=True, example="'2200 rpm'", only=("rpm", "rps", "rad/s")),
    "speed": Kind(inside="m/s", shown="km/h", scale=1 / 3.6, example="'90 km/h'"),
    "time": Kind(inside="s", shown="s", example="'0.12 s'"),
    "frequency": Kind(inside="Hz", shown="Hz", example="'50 Hz'", only=("Hz", "kHz", "1/s")),
    "force": Kind(inside="N", shown="N", example="'120 N'"),
    "torque": Kind(inside="N*m", shown="N m", example="'98 N m' or '72 lbf ft'"),
    "power": Kind(inside="W", shown="kW", scale=1e3, example="'45 kW' or '60 hp'"),
    "energy": Kind(inside="J", shown="J", example="'800 J'"),
    "mass": Kind(inside="kg", shown="kg", example="'230 kg'"),
    "mass_flow": Kind(inside="kg/s", shown="g/s", scale=1e-3, example="'25 g/s'"),
    "volume_flow": Kind(inside="m^3/s", shown="cm³/min", scale=1e-6 / 60, example="'185 cc/min'"),
    "density": Kind(inside="kg/m^3", shown="kg/m³", example="'745 kg/m^3' or '0.745 kg/l'"),
    "specific_energy": Kind(inside="J/kg", shown="MJ/kg", scale=1e6, example="'42.7 MJ/kg'"),
    "inertia": Kind(inside="kg*m^2", shown="kg m²", example="'0.05 kg m^2'"),
    "fraction": Kind(
        inside="dimensionless", shown="%", scale=1e-2, bare=True, example="0.45 or '45 %'", only=("percent",)
    ),
    "ratio": Kind(inside="dimensionless", shown="", bare=True, example="9.2", only=("percent",)),
}

# What is written on benches, and pint reads otherwise or not at all.
_ALIASES = {
    "nm": "N*m", "n m": "N*m", "lb ft": "lbf*ft", "lb-ft": "lbf*ft", "lbft": "lbf*ft", "lbf ft": "lbf*ft",
    "lbf-ft": "lbf*ft", "ft lb": "lbf*ft", "ft-lb": "lbf*ft", "ftlb": "lbf*ft", "ft lbf": "lbf*ft",
    "ft-lbf": "lbf*ft", "1/min": "rpm", "r/min": "rpm", "u/min": "rpm", "rev/min": "rpm", "min^-1": "rpm",
    "km/h": "km/hour", "kph": "km/hour", "cc": "cm^3", "ccm": "cm^3", "cc/min": "cm^3/min",
    "%": "percent", '"': "inch", "deg": "degree", "hpa": "hPa", "kpa": "kPa", "inhg": "inHg", "in hg": "inHg",
    "in.hg": "inHg", "inh2o": "inH2O", "in h2o": "inH2O", "mmh2o": "mmH2O", "cfm": "ft^3/min",
    "mmhg": "mmHg", "ps": "metric_horsepower", "bhp": "hp", "hz": "Hz", "khz": "kHz",
}  # fmt: skip
_TEMPERATURES = {
    "c": "degC", "degc": "degC", "deg c": "degC", "celsius": "degC", "f": "degF", "degf": "degF",
    "deg f": "degF", "fahrenheit": "degF", "k": "K", "kelvin": "K", "degr": "degR",
}  # fmt: skip

_NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_FRACTION = r"(?:(?P<whole>\d+)\s+)?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)"
_QUANTITY = re.compile(rf"^\s*(?:{_FRACTION}|(?P<number>{_NUMBER}))\s*(?P<unit>1/[a-z]+|[^\d\s.,+-].*?)?\s*$")
_UNIT = re.compile(r"^(?:1/)?[A-Za-zµμ%\"°][A-Za-z0-9µμ%°^*/ ._²³-]{0,30}$")


def quantity(value: str | float | int, kind: str, *, where: str | None = None) -> float:
    """Read one quantity and return it as a float in the inside unit of its kind (SI; deg; rpm).

    Parameters
    ----------
    value : text with a unit ('44 mm', '1,75 in', '1 3/4 in'), or a number where the kind needs no unit.
        A decimal comma is a decimal point; signs that group thousands are refused, never guessed.
    kind : a key of `KINDS`.
    where : file, line and key for the error.

    Raises
    ------
    InputError : not a quantity of this kind, no unit, or not finite.
    """
    rule = _rule(kind)
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise _refused(f"{value!r} is not {_name(kind)}", rule, where)
    if isinstance(value, str):
        number, unit = _split(value, kind, rule, where)
    else:
        number, unit = float(value), ""
    if not math.isfinite(number):
        raise _refused(f"{value!r} is not finite", rule, where)
    if unit:
        return _converted(number, unit, value, kind, rule, where)
    if not rule.bare and not (rule.zero and number == 0.0):
        raise _refused(f"{value!r} has no unit; {_name(kind)} needs one", rule, where)
    return number


def show(value: float, kind: str, *, digits: int = 6) -> str:
    """Text for people of a value in the inside unit: `show(0.044, "length")` is "44 mm".

    `quantity` reads the text back to the same value within the digits shown.
    """
    rule = _rule(kind)
    number = (value - rule.offset) / rule.scale
    text = f"{number:.{digits}g}"
    if "e" in text and 1e-4 <= abs(number) < 1e9:
        text = f"{number:.0f}"
    gap = "" if rule.shown in ("", "°") else " "
    return f"{text}{gap}{rule.shown}"


def _rule(kind: str) -> Kind:
    if kind not in KINDS:
        raise ValueError(f"no kind of quantity is called {kind!r}; {did_you_mean(kind, KINDS)}")
    return KINDS[kind]


def _name(kind: str) -> str:
    """The kind in words, with its article."""
    word = {"angle_deg": "angle", "speed_rpm": "speed in rpm"}.get(kind, kind.replace("_", " "))
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def _refused(what: str, rule: Kind, where: str | None) -> InputError:
    return InputError(what, where=where, hint=f"write it like {rule.example}")


def number_and_unit(text: str) -> tuple[float, str] | None:
    """Number and unit text of a written quantity; the unit may be empty. None where it is no number and a unit.

    '1 3/4 in' gives (1.75, "in"), '22 deg BTDC' gives (22.0, "deg BTDC"). A fraction over zero is infinite.
    """
    found = _QUANTITY.match(text)
    if found is None:
        return None
    unit = found["unit"] or ""
    if found["number"] is not None:
        return float(found["number"].replace(",", ".")), unit
    bottom = int(found["bottom"])
    return int(found["whole"] or 0) + (int(found["top"]) / bottom if bottom else math.inf), unit


def _split(text: str, kind: str, rule: Kind, where: str | None) -> tuple[float, str]:
    """Number and unit text of a written quantity of a kind."""
    parts = number_and_unit(text)
    if parts is None:
        raise _refused(f"'{text}' is not {_name(kind)}: no single number followed by a unit", rule, where)
    if math.isinf(parts[0]) and "/" in text:
        raise _refused(f"'{text}' divides by zero", rule, where)
    return parts


def _converted(number: float, unit: str, value: Any, kind: str, rule: Kind, where: str | None) -> float:
    import pint

    registry = _registry()
    name = _pint_unit(unit, kind)
    if rule.only and name not in rule.only:
        raise _refused(f"'{value}' is not {_name(kind)}: '{unit}' is not a unit for it", rule, where)
    try:
        given = registry.Quantity(number, name)
        result = float(given.to(rule.inside).magnitude)
    except pint.DimensionalityError:
        raise _refused(f"'{value}' is not {_name(kind)}: '{unit}' measures something else", rule, where) from None
    except Exception:  # pint raises many kinds for text that is no unit: token, syntax, attribute, type errors
        raise _refused(f"'{value}': '{unit}' is not a unit known here", rule, where) from None
    if not math.isfinite(result):
        raise _refused(f"'{value}' is not finite", rule, where)
    return result


def _pint_unit(unit: str, kind: str) -> str:
    """The unit in pint's words; text that is no unit is handed on as a mark that pint refuses."""
    if not _UNIT.match(unit):
        return "?"
    plain = unit.replace("°", "deg").replace("²", "^2").replace("³", "^3").strip()
    key = plain.lower()
    if kind == "temperature":
        return _TEMPERATURES.get(key, plain)
    if kind == "temperature_difference":
        return {"degC": "delta_degC", "degF": "delta_degF"}.get(_TEMPERATURES.get(key, plain), plain)
    if kind == "length" and key not in _ALIASES:
        return key  # "MM" is meant as mm, and nobody here measures in megametres
    return _ALIASES.get(key, plain)


@functools.cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)
