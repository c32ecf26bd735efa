"""Whether a lambda sensor held into clean air reads clean air: the check before a day of pulls.

Air is 20.95 % oxygen when dry; as humid as a workshop gets it is 20.1 to 20.9 % (30 degC, saturated: 4.2 % water;
arithmetic on the standard atmosphere, US Standard Atmosphere 1976). A display of lambda or AFR has no number for
air and sits at the upper end of its scale, steady: lambda 1.3 or more (common practice, no published source).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pulsewright.errors import InputError
from pulsewright.pulls.channel_units import split_heading
from pulsewright.pulls.channel_words import fold, proposed_quantity
from pulsewright.pulls.dialect import Table
from pulsewright.pulls.read_pull import table_of
from pulsewright.pulls.reading import PETROL_AFR, Reading

OXYGEN = (0.200, 0.212)  # [-] with half a per cent of a sound sensor's own error above dry air
TOP_LAMBDA = 1.3  # [-] no display's scale ends below
STEADY = 0.005  # [-] of the reading, between its 5 % and 95 % points
FEWEST = 20  # samples
OXYGEN_WORDS = frozenset(("o2", "oxygen", "sauerstoff", "oxygene", "zuurstof", "o2 content", "o2 vol"))
AFR_FROM = 5.0  # [-] readings above are air-fuel ratios, below lambda


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeAir:
    """What one sensor reads in clean air."""

    heading: str
    reading: float  # [-] median: lambda, or the share of oxygen
    quantity: str  # "lambda" or "oxygen"
    passes: bool
    text: str


def free_air_check(path: Path, reading: Reading | None = None) -> list[FreeAir]:
    """Judge every lambda or oxygen column of a log made in clean air, engine off.

    Raises InputError where the file has no such column.
    """
    table = table_of(path, reading or Reading())
    found = [each for j in range(len(table.headings)) if (each := _column(table, j)) is not None]
    if not found:
        raise InputError(
            "no column reads as lambda, air-fuel ratio or oxygen", where=str(path),
            hint="log the sensor in clean air, warm, engine off, for half a minute",
        )  # fmt: skip
    return found


def _column(table: Table, j: int) -> FreeAir | None:
    heading = table.headings[j]
    name, _ = split_heading(heading)
    oxygen = fold(name) in OXYGEN_WORDS
    values = table.values[np.isfinite(table.values[:, j]), j]
    if not oxygen and proposed_quantity(name)[0] not in ("lambda", "afr"):
        return None
    if values.size < FEWEST:
        return FreeAir(
            heading=heading, reading=float("nan"), quantity="oxygen" if oxygen else "lambda", passes=False,
            text=f"'{heading}' has {values.size} readings; the check wants {FEWEST}",
        )  # fmt: skip
    low, middle, high = (float(x) for x in np.percentile(values, [5, 50, 95]))
    if high - low > STEADY * abs(middle):
        how = f"wanders between {low:.4g} and {high:.4g}: let the sensor warm up, and check its plug"
        return FreeAir(
            heading=heading, reading=middle, quantity="oxygen" if oxygen else "lambda", passes=False,
            text=f"'{heading}' {how}",
        )  # fmt: skip
    return _oxygen(heading, middle) if oxygen else _lambda(heading, middle)


def _oxygen(heading: str, middle: float) -> FreeAir:
    share = middle / 100.0 if middle > 1.0 else middle
    good = OXYGEN[0] <= share <= OXYGEN[1]
    told = "as clean air should" if good else (
        f"clean air has {100 * OXYGEN[0]:.1f} to {100 * OXYGEN[1]:.1f} %: calibrate or replace the sensor"
    )  # fmt: skip
    text = f"'{heading}' reads {100 * share:.1f} % oxygen; {told}"
    return FreeAir(heading=heading, reading=share, quantity="oxygen", passes=good, text=text)


def _lambda(heading: str, middle: float) -> FreeAir:
    value = middle / PETROL_AFR if middle > AFR_FROM else middle
    good = value >= TOP_LAMBDA
    told = "the end of its scale, as in clean air" if good else (
        f"in clean air it should sit at the end of its scale, {TOP_LAMBDA:g} or more: calibrate or replace the sensor"
    )  # fmt: skip
    return FreeAir(
        heading=heading,
        reading=value,
        quantity="lambda",
        passes=good,
        text=f"'{heading}' stands at {middle:.4g}; {told}",
    )
