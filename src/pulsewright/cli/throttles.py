"""Throttle openings as they are typed: `40%`, `10,20,40` or `10:100:15`, in percent of the way to wide open."""

from __future__ import annotations

import math

from pulsewright.errors import UsageError

LOWEST, HIGHEST = 1.0, 100.0  # [%]
MOST = 40  # openings in one map
FORMS = "write --throttle 40% (one opening), or 10,20,40,100 or 10:100:15 (from, to, step) for a map"


def parse_throttles(text: str) -> list[float]:
    """The openings of a `--throttle` as shares of the way from shut to wide open, each once, in the order typed."""
    if ":" not in text:
        percent = [_number(part, text) for part in text.split(",")]
    else:
        parts = [_number(part, text) for part in text.split(":")]
        if len(parts) != 3 or not parts[2] > 0.0 or parts[1] < parts[0]:
            raise _error(f"'{text}' is no range of throttle openings")
        count = math.floor((parts[1] - parts[0]) / parts[2] + 1e-9) + 1
        percent = [parts[0] + n * parts[2] for n in range(min(count, MOST + 1))]
    for each in percent:
        if not LOWEST <= each <= HIGHEST:
            raise _error(f"a throttle of {each:g} % is out of range; {LOWEST:g} to {HIGHEST:g} % is allowed")
    if len(percent) > MOST:
        raise _error(f"more than {MOST} throttle openings are too many")
    return list(dict.fromkeys(each / 100.0 for each in percent))


def _number(part: str, text: str) -> float:
    try:
        number = float(part.strip().removesuffix("%"))
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise _error(f"'{part.strip()}' in '{text}' is no throttle opening")
    return number


def _error(what: str) -> UsageError:
    return UsageError(what, where="--throttle", hint=FORMS)
