"""What a session says about its files, as the reader wants it."""

from __future__ import annotations

import math
import re

from pulsewright.bench.session import PullEntry, Session
from pulsewright.errors import InputError
from pulsewright.pulls.channel_words import WORDS, fold, is_channel, sensor_of
from pulsewright.pulls.mapping import SEPARATOR_WORDS, read_mapping, with_mapping
from pulsewright.pulls.reading import Reading


def session_reading(session: Session, entry: PullEntry) -> Reading:
    """How a pull of this session is to be read: the session's own words before its mapping file."""
    setup, logger = session.pull_setup(entry).setup, session.logger
    engine, fuel = setup.engine, setup.fuel
    columns, units = confirmed(logger.columns, logger.units)
    reading = Reading(
        torque_at=logger.torque or "engine",
        stoichiometric_afr=fuel.stoichiometric_afr,
        fuel=fuel.kind,
        displacement=engine.cylinders * math.pi / 4 * engine.bore**2 * engine.stroke,
        separator=SEPARATOR_WORDS.get(logger.separator or "", logger.separator),
        decimal=logger.decimal,
        columns=columns,
        units=units,
        roller=logger.roller,
        pull=entry.number,
    )
    if logger.mapping is None:
        return reading
    return with_mapping(reading, read_mapping(logger.mapping), torque_said=logger.torque is not None)


def confirmed(columns: dict[str, str], units: dict[str, str]) -> tuple[dict[str, str], dict[str, str]]:
    """Columns and units by quantity, from `quantity = "heading"` or `heading = "quantity [unit]"`."""
    headings, named = {}, {}
    for key, value in columns.items():
        quantity, unit = _meaning(key)
        if is_channel(quantity):
            headings[quantity] = value
            continue
        quantity, unit = _meaning(value)
        if not is_channel(quantity):
            raise InputError(
                f"neither '{key}' nor '{value}' is a channel known here", where=f"logger.columns.{key}",
                hint="one of " + ", ".join(WORDS),
            )  # fmt: skip
        headings[quantity] = key
        if unit:
            named[quantity] = unit
    for key, unit in units.items():
        quantity, _ = _meaning(key)
        if not is_channel(quantity):
            raise InputError(
                f"'{key}' is no channel known here", where=f"logger.units.{key}",
                hint="one of " + ", ".join(WORDS),
            )  # fmt: skip
        named[quantity] = unit
    return headings, named


def _meaning(text: str) -> tuple[str, str | None]:
    match = re.match(r"^\s*([^\[(]+?)\s*(?:[\[(](.+)[\])])?\s*$", text)
    quantity, sensor = sensor_of(match.group(1) if match else text)
    quantity = fold(quantity).replace(" ", "_")
    return f"{quantity}:{sensor}" if sensor else quantity, match.group(2) if match else None
