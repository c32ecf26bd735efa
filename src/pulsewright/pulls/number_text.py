"""One number as shops write it: decimal point or comma, thousands marks, clock times."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

_SPACES = " \u00a0\u202f\u2009"
_EMPTY = {"", "-", "--", "nan", "n/a", "na", "null", "none", "#n/a", "inf", "-inf", "---", "?"}
_NUMERIC = re.compile(rf"^[+-]?[\d.,'’{_SPACES}]*\d[\d.,'’{_SPACES}]*(?:[eE][+-]?\d+)?$")
_CLOCK = re.compile(r"^(?:(\d+):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberForm:
    """How numbers are written in one file: decimal mark and thousands mark ('' where there is none)."""

    decimal: str = "."
    thousands: str = ""


def is_empty(cell: str) -> bool:
    """True for the ways shops write a missing sample."""
    return cell.strip().lower() in _EMPTY


@lru_cache(maxsize=1 << 14)  # the same cells are asked for by every step of reading
def looks_numeric(cell: str) -> bool:
    """True when the cell can be one number in some form, or a clock time."""
    text = cell.strip().replace("\u2212", "-")
    return bool(_NUMERIC.match(text) or _CLOCK.match(text))


def parse_number(cell: str, form: NumberForm) -> float | None:
    """Number in the cell; NaN where empty; None where it is not a number in this form."""
    text = cell.strip().replace("\u2212", "-")
    if text.lower() in _EMPTY:
        return float("nan")
    clock = _CLOCK.match(text)
    if clock:
        hours, minutes, seconds = clock.groups()
        return int(hours or 0) * 3600.0 + int(minutes) * 60.0 + float(seconds.replace(",", "."))
    whole, mark, fraction = text.partition(form.decimal)
    if form.thousands:
        whole = _without_thousands(whole, form.thousands)
    try:
        if "_" in text:
            return None
        return float(f"{whole}.{fraction}" if mark else whole)
    except ValueError:
        return None


def _without_thousands(whole: str, mark: str) -> str:
    marks = _SPACES if mark == " " else "'’" if mark == "'" else mark
    groups = re.split(f"[{re.escape(marks)}]", whole)
    if len(groups) == 1:
        return whole
    first = groups[0].lstrip("+-")
    if not 1 <= len(first) <= 3 or any(len(group) != 3 for group in groups[1:]):
        return "not a grouped number"
    return "".join(groups)
