"""A pull file to a Pull in SI, with every decision on the way."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pulsewright.errors import InputError
from pulsewright.pulls.channel_naming import name_columns
from pulsewright.pulls.columns import Naming
from pulsewright.pulls.decoding import decode, read_text
from pulsewright.pulls.dialect import read_table
from pulsewright.pulls.number_text import NumberForm
from pulsewright.pulls.pickup import pickup_faults
from pulsewright.pulls.pull import ChannelDecision, Pull
from pulsewright.pulls.reading import Reading
from pulsewright.pulls.start_mask import step_mask, sweep_mask
from pulsewright.pulls.torque_power import RADIANS

FEWEST_USABLE = 8  # samples past the start transient; fewer make no curve
MOST_PICKUP_FAULTS = 0.3  # [-] share of samples; above, the speed as a whole cannot be trusted
LIMIT_RUN = 3  # equal samples in a row at an extreme: the sensor clips there


def read_pull(path: Path, *, reading: Reading | None = None, setup: str = "", kind: str = "sweep") -> Pull:
    """Read one pull file. Raises InputError with the reason where it cannot be read safely."""
    text, encoding = read_text(path)
    return _pull(text, encoding, path, reading or Reading(), setup, kind)


def pull_from_bytes(data: bytes, name: str, *, reading: Reading | None = None) -> Pull:
    """Read a pull that is in memory, for instance one just uploaded."""
    text, encoding = decode(data, where=name)
    return _pull(text, encoding, Path(name), reading or Reading(), "", "sweep")


def _pull(text: str, encoding: str, path: Path, reading: Reading, setup: str, kind: str) -> Pull:
    where = str(path)
    form = None
    if reading.decimal:
        form = NumberForm(decimal=reading.decimal, thousands="." if reading.decimal == "," else ",")
    table = read_table(text, where=where, separator=reading.separator, form=form)
    naming = name_columns(table, reading, where=where)
    order, order_notes = _time_order(naming)
    speed = _values(naming, "engine_speed", order)
    assert speed is not None
    time, roller = _values(naming, "time", order), _values(naming, "roller_speed", order)
    faults = pickup_faults(speed, roller)
    _refuse_wild_speed(faults, where)
    torque, power, torque_note = _torque_power(naming, order, speed, faults)
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
    return Pull(
        file=path,
        setup=setup,
        kind=kind,
        torque_at=reading.torque_at,
        engine_speed=speed,
        torque=torque,
        power=power,
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
        notes=(*table.notes, *naming.notes, *order_notes, *torque_note, *limit_notes),
        encoding=encoding,
        separator=table.separator,
        decimal=table.form.decimal,
    )


def _decisions(naming: Naming) -> tuple[ChannelDecision, ...]:
    return tuple(column.decision() for column in naming.columns)


def _values(naming: Naming, quantity: str, order: np.ndarray) -> np.ndarray | None:
    column = naming.one(quantity)
    return None if column is None else column.si[order]


def _time_order(naming: Naming) -> tuple[np.ndarray, list[str]]:
    """Row order by time, without repeated rows; file order where there is no time."""
    column = naming.one("time")
    count = naming.columns[0].values.size
    if column is None:
        return np.arange(count), []
    time = column.si
    rows = np.flatnonzero(np.isfinite(time))
    notes = [] if rows.size == count else [f"{count - rows.size} rows without a time left out"]
    order = rows[np.argsort(time[rows], kind="stable")]
    if (np.diff(time[rows]) < 0).any():
        notes.append("rows out of time order were sorted")
    keep = np.concatenate([[True], np.diff(time[order]) > 0])
    if not keep.all():
        notes.append(f"{int((~keep).sum())} rows with a repeated time left out")
    return order[keep], notes


def _refuse_wild_speed(faults: np.ndarray, where: str) -> None:
    share = float(faults.mean())
    if share > MOST_PICKUP_FAULTS:
        raise InputError(
            f"the engine speed is dropped or doubled in {share:.0%} of the samples",
            where=where,
            hint="check the ignition pick-up; if the roller speed is sound, log the engine speed from it",
        )


def _torque_power(
    naming: Naming, order: np.ndarray, speed: np.ndarray, faults: np.ndarray
) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Torque [N m] and power [W]; one is made from the other where only one is given."""
    torque, power = _values(naming, "torque", order), _values(naming, "power", order)
    omega = np.where(faults, np.nan, speed * RADIANS)
    if torque is None:
        assert power is not None
        return power / omega, power, ["torque = power / engine speed"]
    if power is None:
        power = torque * omega
    return torque, power, []


def _lambdas(naming: Naming, order: np.ndarray) -> tuple[dict[str, np.ndarray], list[str]]:
    found: dict[str, np.ndarray] = {}
    notes = []
    for number, column in enumerate(naming.of("lambda"), start=1):
        values = column.si[order].copy()
        clipped = _clipped(values)
        if clipped.any():
            notes.append(
                f"'{column.heading}' sat at its limit of {values[clipped][0]:.3f} in "
                f"{int(clipped.sum())} samples"
            )
            values[clipped] = np.nan
        found[str(number)] = values
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
