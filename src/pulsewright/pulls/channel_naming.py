"""Which column is what: names propose, units narrow, numbers overrule.

Every column gets a decision with its reason and confidence. Contradictions that the numbers settle are
settled and said; those they do not settle are refused or asked (Question), never guessed silently.
"""

from __future__ import annotations

import re

import numpy as np

from pulsewright.errors import InputError
from pulsewright.pulls.channel_checks import check_numbers
from pulsewright.pulls.channel_units import KIND_OF, Unit, find_unit, split_heading
from pulsewright.pulls.channel_words import WORDS, fold, is_channel, proposed_quantity, sensor_of
from pulsewright.pulls.columns import Column, Naming
from pulsewright.pulls.dialect import Table
from pulsewright.pulls.pull import Question
from pulsewright.pulls.reading import Reading
from pulsewright.pulls.roller_columns import add_engine_speed
from pulsewright.pulls.torque_power import check_torque_power

_KIND_MEANS = {
    "time": "time", "rotation": "engine_speed", "speed": "roller_speed", "torque": "torque", "power": "power",
    "lambda": "lambda", "afr": "afr",
}  # fmt: skip
_CORRECTED = re.compile(r"\b(corr\w*|korr\w*|sae|j1349|din|din70020|iso1585|std|cf)\b")
_TARGET = re.compile(r"\b(target|setpoint|wanted|soll\w*|doel\w*|gewenst\w*|cible|consigne|objetivo|bersaglio)\b")
_SINGLE = ("time", "engine_speed", "roller_speed", "torque", "power")


def name_columns(table: Table, reading: Reading, *, where: str) -> Naming:
    """Propose a meaning for every column and hold it against the numbers."""
    naming = Naming(columns=[_propose(table, j) for j in range(len(table.headings))])
    _apply_user(naming, reading, where)
    _settle_speed(naming)
    for quantity in _SINGLE:
        _keep_one(naming, quantity, reading, where)
    add_engine_speed(naming, reading)
    _require(naming, "engine_speed", where)
    check_numbers(naming, reading, where)
    check_torque_power(naming, reading, where)
    _ask_corrected(naming)
    return naming


def says_corrected(heading: str) -> bool:
    """Whether a heading says that the weather is taken out of its column already."""
    return bool(_CORRECTED.search(fold(heading)))


def _ask_corrected(naming: Naming) -> None:
    for column in naming.of("torque") or naming.of("power"):
        if says_corrected(column.heading):
            naming.questions.append(
                Question(
                    about=column.heading,
                    text="the name says that it is corrected for weather: is it?",
                    taken="as measured, so a correction comes on top",
                )
            )


def _propose(table: Table, j: int) -> Column:
    heading = table.headings[j]
    name, unit = split_heading(heading)
    unit_text = table.units_row[j] if table.units_row else ""
    unit = find_unit(unit_text) or unit
    quantity, confidence = proposed_quantity(name)
    reason = f"'{name}' reads as {_plain(quantity)}" if quantity else f"'{heading}' is no word known here"
    if _TARGET.search(fold(heading)):
        quantity, confidence, reason = None, 0.0, f"'{heading}' is what was wanted, not what was read"
    elif unit is not None:
        quantity, confidence, reason = _with_unit(quantity, confidence, unit, reason)
    return Column(
        index=j,
        heading=heading,
        quantity=quantity,
        unit=unit,
        values=table.values[:, j],
        confidence=confidence,
        reason=reason,
    )


def _with_unit(quantity: str | None, confidence: float, unit: Unit, reason: str) -> tuple[str | None, float, str]:
    kinds = KIND_OF.get(quantity or "", ())
    if quantity and unit.kind in kinds:
        return quantity, max(confidence, 0.9), f"{reason}, unit {unit.name}"
    meaning = _KIND_MEANS.get(unit.kind)
    if meaning is None:
        return (None, 0.0, f"{reason}; {unit.name} is not used") if quantity is None else (quantity, 0.4, reason)
    if quantity is None:
        return meaning, 0.7, f"unit {unit.name} reads as {_plain(meaning)}"
    return meaning, 0.5, f"{reason}, but unit {unit.name} is one of {_plain(meaning)}: taken as that"


def _plain(quantity: str | None) -> str:
    return (quantity or "nothing").replace("_", " ")


def _apply_user(naming: Naming, reading: Reading, where: str) -> None:
    for channel in (*reading.columns, *reading.units):
        if not is_channel(channel):
            raise InputError(
                f"'{channel}' is no channel known here", where=where,
                hint="one of " + ", ".join(WORDS) + "; several lambda sensors as lambda:1, lambda:2, lambda:collector",
            )  # fmt: skip
    for quantity in {sensor_of(channel)[0] for channel in reading.columns}:
        for other in naming.of(quantity) + (naming.of("afr") if quantity == "lambda" else []):
            other.quantity = None
            other.reason = f"the user named another column {_plain(quantity)}"
    for channel, wanted in reading.columns.items():
        column = _find_column(naming, wanted, where)
        quantity, column.sensor = sensor_of(channel)
        column.quantity, column.confidence, column.reason = quantity, 1.0, f"{_plain(channel)}, named by the user"
        if column.unit and column.unit.kind not in KIND_OF.get(quantity, (column.unit.kind,)):
            column.unit = None
    for channel, text in sorted(reading.units.items(), key=lambda said: ":" in said[0]):  # the single sensor last
        unit = find_unit(text)
        if unit is None:
            raise InputError(f"'{text}' is no unit known here", where=f"--as {channel}", hint="as in torque=Nm")
        found = naming.named(channel)
        if not found and ":" in channel:
            raise InputError(
                f"no column is {channel}", where=where, hint=f'say which: --column {channel}="HEADING"',
            )  # fmt: skip
        for column in found:
            column.unit, column.confirmed, column.confidence = unit, True, 1.0
            column.reason = f"{_plain(channel)} in {unit.name} by the user"


def _find_column(naming: Naming, wanted: str, where: str) -> Column:
    for column in naming.columns:
        if fold(column.heading) == fold(wanted) or wanted == str(column.index + 1):
            return column
    names = ", ".join(f"'{column.heading}'" for column in naming.columns)
    raise InputError(f"there is no column '{wanted}'", where=where, hint=f"the columns are {names}")


def _settle_speed(naming: Naming) -> None:
    """'Speed' in rpm is the engine's when nothing else is."""
    if naming.one("engine_speed"):
        return
    for column in naming.of("roller_speed"):
        if column.unit and column.unit.kind == "rotation":
            column.quantity, column.confidence = "engine_speed", 0.6
            column.reason += "; the only speed in rpm, so the engine's"
            return


def _keep_one(naming: Naming, quantity: str, reading: Reading, where: str) -> None:
    """Of several columns of one quantity keep the right one, or refuse."""
    columns = naming.of(quantity)
    if len(columns) < 2:
        return
    named = [c for c in columns if c.reason.endswith("named by the user")]
    plain = [c for c in columns if not says_corrected(c.heading)] or columns
    words = ("wheel", "rad", "roue", "wiel", "rear") if reading.torque_at == "wheel" else ("engine", "motor", "crank")
    fitting = [c for c in plain if any(word in fold(c.heading).split() for word in words)]
    kept = (named or fitting or plain)[0]
    rivals = [c for c in (named or fitting or plain) if c is not kept]
    for rival in rivals:
        both = np.isfinite(kept.si) & np.isfinite(rival.si)
        if both.any() and not np.allclose(kept.si[both], rival.si[both], rtol=0.01):
            raise InputError(
                f"two columns read as {_plain(quantity)} and differ: '{kept.heading}' and '{rival.heading}'",
                where=where,
                hint=f'say which: --column {quantity}="{kept.heading}"',
            )
    for column in columns:
        if column is not kept:
            column.quantity = None
            column.reason = f"'{kept.heading}' is used for {_plain(quantity)}"


def _require(naming: Naming, quantity: str, where: str) -> None:
    if naming.one(quantity) is None:
        names = ", ".join(f"'{column.heading}'" for column in naming.columns)
        raise InputError(
            f"no column reads as {_plain(quantity)}; the columns are {names}",
            where=where,
            hint=f'say which: --column {quantity}="..."',
        )
