"""Numbers as a person reads them: thin space in thousands, a true minus, the unit close by."""

from __future__ import annotations

import math

THIN_SPACE = "\u202f"
MINUS = "\u2212"
DASH = "\u2013"


def number(value: float | None, digits: int = 0) -> str:
    """`4 700`, `-3.2` with a true minus sign; a dash of words where there is no number."""
    if value is None or not math.isfinite(value):
        return "not known"
    text = f"{abs(value):,.{digits}f}".replace(",", THIN_SPACE)
    negative = value < 0.0 and float(f"{value:.{digits}f}") != 0.0
    return (MINUS if negative else "") + text


def signed(value: float | None, digits: int = 0) -> str:
    """As `number`, with a plus sign before what is above zero."""
    text = number(value, digits)
    is_above = value is not None and math.isfinite(value) and float(f"{value:.{digits}f}") > 0.0
    return ("+" if is_above else "") + text


def rpm(value: float) -> str:
    """An engine speed to the nearest ten, `3 050 rpm`: nothing here is known better."""
    return f"{number(round(value, -1))}{THIN_SPACE}rpm"


def per_cent(fraction: float | None) -> str:
    """A fraction as whole per cent, `14 %`."""
    if fraction is None or not math.isfinite(fraction):
        return "not known"
    return f"{number(100.0 * fraction)}{THIN_SPACE}%"


def span(low: float | None, high: float | None, digits: int = 0) -> str:
    """`58 to 82`."""
    return f"{number(low, digits)} to {number(high, digits)}"


def nice_ticks(low: float, high: float, wanted: int = 5) -> list[float]:
    """Round values inside [low, high], about as many as wanted, 1-2-2.5-5 apart."""
    if not high > low:
        return [low]
    rough = (high - low) / max(wanted, 1)
    decade = 10.0 ** math.floor(math.log10(rough))
    step = next(s * decade for s in (1.0, 2.0, 2.5, 5.0, 10.0) if s * decade >= rough * 0.999)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [k * step for k in range(first, last + 1)]
