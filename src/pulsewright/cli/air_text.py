"""Air as it is typed: `24 degC, 99.4 kPa, 45 %`."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from pulsewright.errors import UsageError

if TYPE_CHECKING:
    from pulsewright.bench.air import Air

EXAMPLE = "'24 degC, 99.4 kPa, 45 %'"


def parse_air(text: str, option: str) -> Air:
    """Air from 'temperature, pressure' or 'temperature, pressure, humidity'; raises UsageError or InputError."""
    from pulsewright.bench.air import Air
    from pulsewright.pulls.weather import UNKNOWN_HUMIDITY
    from pulsewright.units import quantity

    parts = [part for part in re.split(r"\s*;\s*|,\s+", text.strip()) if part]  # a comma alone is a decimal
    if len(parts) == 1:
        parts = [part.strip() for part in text.split(",") if part.strip()]
    if len(parts) not in (2, 3):
        raise UsageError(f"'{text}' is no air", where=option, hint=f"as in {option} {EXAMPLE}")
    kinds = ("temperature", "pressure", "fraction")
    values = [quantity(part, kind, where=option) for part, kind in zip(parts, kinds, strict=False)]
    humidity = values[2] if len(values) == 3 else UNKNOWN_HUMIDITY
    return Air(temperature=values[0], pressure=values[1], humidity=humidity)
