"""A pull file to a Pull in SI, with every decision on the way."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pulsewright.errors import InputError
from pulsewright.pulls.channel_naming import name_columns
from pulsewright.pulls.columns import Naming
from pulsewright.pulls.decoding import decode, read_bytes
from pulsewright.pulls.dialect import Table, read_table
from pulsewright.pulls.measurement_file import is_measurement_file, measurement_text
from pulsewright.pulls.number_text import NumberForm
from pulsewright.pulls.pickup import pickup_faults
from pulsewright.pulls.pull import ChannelDecision, Pull
from pulsewright.pulls.reading import Reading, as_said
from pulsewright.pulls.recipe import Recipe, Step
from pulsewright.pulls.roller_columns import power_from_roller
from pulsewright.pulls.row_order import row_order
from pulsewright.pulls.split_pulls import Part, split_naming
from pulsewright.pulls.spreadsheet import is_workbook, workbook_text
from pulsewright.pulls.start_mask import step_mask, sweep_mask
from pulsewright.pulls.torque_power import RADIANS

FEWEST_USABLE = 8  # samples past the start transient; fewer make no curve
MOST_PICKUP_FAULTS = 0.3  # [-] share of samples; above, the speed as a whole cannot be trusted
LIMIT_RUN = 3  # equal samples in a row at an extreme: the sensor clips there


def read_pull(path: Path, *, reading: Reading | None = None, setup: str = "", kind: str = "sweep") -> Pull:
    """Read one pull file. Raises InputError with the reason where it cannot be read safely, or where it holds
    several pulls and `reading.pull` does not say which."""
    reading = reading or Reading()
    return _one(_open(read_bytes(path), path, reading, kind), reading, setup)


def read_pulls(path: Path, *, reading: Reading | None = None, setup: str = "", kind: str = "sweep") -> list[Pull]:
    """Read every pull in a file, in the order of the file."""
    return _all(_open(read_bytes(path), path, reading or Reading(), kind), reading or Reading(), setup)


def _all(log: _Log, reading: Reading, setup: str) -> list[Pull]:
    if reading.pull is not None or len(log.parts) == 1:
        return [_one(log, reading, setup)]
    return [_pull(log, number, reading, setup) for number in range(1, len(log.parts) + 1)]


def pull_from_bytes(data: bytes, name: str, *, reading: Reading | None = None) -> Pull:
    """Read a pull that is in memory, for instance one just uploaded."""
    reading = reading or Reading()
    return _one(_open(data, Path(name), reading, "sweep"), reading, "")


def pulls_from_bytes(data: bytes, name: str, *, reading: Reading | None = None) -> list[Pull]:
    """Read every pull in a file that is in memory."""
    return _all(_open(data, Path(name), reading or Reading(), "sweep"), reading or Reading(), "")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Log:
    """A file with its columns named and its pulls told apart."""

    path: Path
    kind: str
    encoding: str
    table: Table
    naming: Naming
    parts: list[Part]
    recipe: Recipe


def _open(data: bytes, path: Path, reading: Reading, kind: str) -> _Log:
    where = str(path)
    table, encoding = _table(data, reading, where)
    naming = name_columns(table, reading, where=where)
    parts = split_naming(naming, steps=kind == "steps")
    mark = table.form
    steps = [
        Step(action="decode", parameters={"encoding": encoding}),
        Step(
            action="split cells",
            parameters={"separator": table.separator, "decimal": mark.decimal, "thousands": mark.thousands},
        ),
    ]
    steps += [Step(action="note", parameters={"text": note}) for note in table.notes]
    steps += [
        Step(
            action="name channel",
            parameters={"column": c.column, "heading": c.heading, "quantity": c.quantity, "unit": c.unit},
        )
        for c in _decisions(naming)
    ]
    recipe = Recipe(
        sha256=hashlib.sha256(data).hexdigest(), size=len(data), kind=kind, said=as_said(reading), steps=tuple(steps)
    )  # fmt: skip
    return _Log(path=path, kind=kind, encoding=encoding, table=table, naming=naming, parts=parts, recipe=recipe)


def table_of(path: Path, reading: Reading) -> Table:
    """The bare table of a file, before any column has a meaning."""
    return _table(read_bytes(path), reading, str(path))[0]


def _table(data: bytes, reading: Reading, where: str) -> tuple[Table, str]:
    """The table in the bytes, and what they were: an encoding of text, "xlsx" or "mdf"."""
    if is_workbook(data):
        text, kind = workbook_text(data, where=where, sheet=reading.sheet), "xlsx"
    elif is_measurement_file(data):
        text, kind = measurement_text(data, where=where), "mdf"
    else:
        text, encoding = decode(data, where=where)
        form = None
        if reading.decimal:
            form = NumberForm(decimal=reading.decimal, thousands="." if reading.decimal == "," else ",")
        return read_table(text, where=where, separator=reading.separator, form=form), encoding
    return read_table(text, where=where, separator="\t", form=NumberForm()), kind


def _one(log: _Log, reading: Reading, setup: str) -> Pull:
    count = len(log.parts)
    if reading.pull is None and count == 1:
        return _pull(log, None, reading, setup)
    if reading.pull is None:
        raise InputError(
            f"the file holds {count} pulls ({log.parts[0].by})",
            where=str(log.path),
            hint=f"say which of 1 to {count}: --pull, or number under [[pull]] in a session",
        )
    if not 1 <= reading.pull <= count:
        raise InputError(
            f"the file has no pull {reading.pull}; it holds {count}",
            where=str(log.path),
            hint=f"1 to {count}" if count > 1 else "leave the number out",
        )
    return _pull(log, reading.pull if count > 1 else None, reading, setup)


def _pull(log: _Log, number: int | None, reading: Reading, setup: str) -> Pull:
    where = str(log.path) if number is None else f"{log.path}, pull {number}"
    naming, kind, steps = log.naming, log.kind, []
    part = log.parts[0 if number is None else number - 1]
    if number is not None:
        first, last = int(part.rows[0]) + 1, int(part.rows[-1]) + 1
        took = {"number": number, "of": len(log.parts), "by": part.by, "rows": [first, last]}
        steps.append(Step(action="take pull", parameters=took))
    order, row_steps = row_order(naming, part.rows)
    steps += row_steps
    speed = _values(naming, "engine_speed", order)
    assert speed is not None
    time, roller = _values(naming, "time", order), _values(naming, "roller_speed", order)
    faults = pickup_faults(speed, roller)
    _refuse_wild_speed(faults, where)
    torque, power, power_sd, torque_note = _torque_power(naming, order, speed, faults, reading, where)
    trusted = ~faults & np.isfinite(torque) & (torque > 0.0)
    begins = float("nan")
    if kind == "steps" and time is not None and trusted.sum() > FEWEST_USABLE:
        usable = step_mask(time, speed, trusted)
    else:
        usable, begins = sweep_mask(speed, trusted)
    if usable.sum() < FEWEST_USABLE:
        raise InputError(
            f"only {int(usable.sum())} samples are left past the first 400 rpm",
            where=where,
            hint="start the pull lower or log faster",
        )
    lambdas, limit_notes = _lambdas(naming, order)
    steps += _mask_steps(faults, torque, usable, begins)
    steps += [Step(action="note", parameters={"text": note}) for note in (*torque_note, *limit_notes)]
    said = {**log.recipe.said, **({"pull": number} if number is not None else {})}
    recipe = replace(log.recipe, said=said, steps=(*log.recipe.steps, *steps))
    return Pull(
        file=log.path,
        setup=setup,
        kind=kind,
        torque_at=reading.torque_at,
        engine_speed=speed,
        torque=torque,
        power=power,
        power_sd=power_sd,
        time=time,
        roller_speed=roller,
        lambdas=lambdas,
        temperatures=_temperatures(naming, order),
        air_pressure=_values(naming, "air_pressure", order),
        humidity=_values(naming, "humidity", order),
        usable=usable,
        faulty=faults,
        pickup_faults=int(faults.sum()),
        starts_at=begins,
        channels=_decisions(naming),
        questions=tuple(naming.questions),
        notes=(*log.table.notes, *naming.notes, *_in_words(row_steps), *torque_note, *limit_notes),
        number=number,
        recipe=recipe,
        encoding=log.encoding,
        separator=log.table.separator,
        decimal=log.table.form.decimal,
    )


def _mask_steps(faults: np.ndarray, torque: np.ndarray, usable: np.ndarray, begins: float) -> list[Step]:
    lost = int((~np.isfinite(torque) & ~faults).sum())
    steps = []
    if faults.any():
        steps.append(Step(action="mask pick-up faults", parameters={"samples": int(faults.sum())}))
    if lost:
        steps.append(Step(action="mask samples without torque", parameters={"samples": lost}))
    start = {"from_rpm": round(begins, 1) if np.isfinite(begins) else None, "usable": int(usable.sum())}
    return [*steps, Step(action="mask start and end", parameters=start)]


def _in_words(steps: list[Step]) -> list[str]:
    return [step.parameters["text"] for step in steps]


def _decisions(naming: Naming) -> tuple[ChannelDecision, ...]:
    return tuple(column.decision() for column in naming.columns)


def _values(naming: Naming, quantity: str, order: np.ndarray) -> np.ndarray | None:
    column = naming.one(quantity)
    return None if column is None else column.si[order]


def _refuse_wild_speed(faults: np.ndarray, where: str) -> None:
    share = float(faults.mean())
    if share > MOST_PICKUP_FAULTS:
        raise InputError(
            f"the engine speed is dropped or doubled in {share:.0%} of the samples",
            where=where,
            hint="check the ignition pick-up; if the roller speed is sound, log the engine speed from it",
        )


def _torque_power(
    naming: Naming, order: np.ndarray, speed: np.ndarray, faults: np.ndarray, reading: Reading, where: str
) -> tuple[np.ndarray, np.ndarray, np.ndarray | None, list[str]]:
    """Torque [N m], power [W] and its standard deviation where the file shows it; one is made from the other where
    only one is given."""
    torque, power = _values(naming, "torque", order), _values(naming, "power", order)
    omega = np.where(faults, np.nan, speed * RADIANS)
    if torque is None and power is None:
        power, power_sd, said = power_from_roller(naming, order, np.where(faults, np.nan, speed), reading, where)
        return power / omega, power, power_sd, [*said, "torque = power / engine speed"]
    if torque is None:
        assert power is not None
        return power / omega, power, None, ["torque = power / engine speed"]
    if power is None:
        power = torque * omega
    return torque, power, None, []


def _lambdas(naming: Naming, order: np.ndarray) -> tuple[dict[str, np.ndarray], list[str]]:
    found: dict[str, np.ndarray] = {}
    notes = []
    columns = naming.of("lambda")
    free = (str(n) for n in range(1, 100) if str(n) not in {column.sensor for column in columns})
    for column in columns:
        values = column.si[order].copy()
        clipped = _clipped(values)
        if clipped.any():
            notes.append(
                f"'{column.heading}' sat at its limit of {values[clipped][0]:.3f} in {int(clipped.sum())} samples"
            )
            values[clipped] = np.nan
        found[column.sensor or next(free)] = values
    return found, notes


def _clipped(values: np.ndarray) -> np.ndarray:
    """Samples at the lowest or highest value that comes in runs: a sensor at its limit."""
    clipped = np.zeros(values.size, dtype=bool)
    finite = np.isfinite(values)
    if not finite.any() or np.nanmax(values) == np.nanmin(values):
        return clipped
    for extreme in (np.nanmin(values), np.nanmax(values)):
        at = values == extreme
        runs = np.convolve(at.astype(int), np.ones(LIMIT_RUN, dtype=int), mode="valid")
        if (runs == LIMIT_RUN).sum() >= LIMIT_RUN:
            clipped |= at
    return clipped


def _temperatures(naming: Naming, order: np.ndarray) -> dict[str, np.ndarray]:
    return {
        column.quantity.removesuffix("_temperature"): column.si[order]
        for column in naming.columns
        if column.quantity and column.quantity.endswith("_temperature")
    }
