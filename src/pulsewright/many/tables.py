"""The results as tables: `designs.csv` with a row a design, `curves.csv` with a row a design and speed."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from pulsewright.errors import MissingToolError
from pulsewright.many.design import DesignResult
from pulsewright.many.results_log import ResultsLog
from pulsewright.many.whole_file import whole_file

Row = dict[str, Any]
TEXTS = ("design", "outcome", "why")
WHOLE = ("number", "cycles", "speeds", "speeds_converged")
ROWS_AT_ONCE = 20_000  # of a Parquet file in memory
PER_DESIGN = ("outcome", "why", "speeds", "speeds_converged", "torque_max_nm", "rpm_at_torque_max", "torque_mean_nm",
              "power_max_kw", "rpm_at_power_max", "seconds")  # fmt: skip


def write_tables(
    folder: Path, log: ResultsLog, headings: Sequence[str], points: np.ndarray, *, parquet: bool
) -> tuple[list[Path], Counter[str]]:
    """Write all tables by number of the design; returns their paths and how many designs ended how.

    headings, points : names of the axes, and their values by design, (designs, axes).
    """
    outcomes: Counter[str] = Counter()
    curve_names: dict[str, None] = {}
    for result in log.in_order():
        outcomes[result.outcome] += 1
        curve_names.update(dict.fromkeys(result.curves))

    def varied(result: DesignResult) -> Row:
        values = (float(value) for value in points[result.number - 1])
        return {"number": result.number, "design": result.id, **dict(zip(headings, values, strict=True))}

    def designs() -> Iterator[Row]:
        return ({**varied(result), **_of_design(result)} for result in log.in_order())

    def curves() -> Iterator[Row]:
        return ({**varied(result), **row} for result in log.in_order() for row in _by_speed(result))

    first = ["number", "design", *headings]
    tables = {"designs": ([*first, *PER_DESIGN], designs), "curves": ([*first, *curve_names], curves)}
    written = []
    for name, (columns, rows) in tables.items():
        written.append(_write_csv(folder / f"{name}.csv", columns, rows()))
        if parquet:
            written.append(_write_parquet(folder / f"{name}.parquet", columns, rows()))
    return written, outcomes


def check_parquet() -> None:
    """Raise MissingToolError where Parquet cannot be written."""
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError:
        raise MissingToolError(
            "--parquet needs pyarrow", where="--parquet", hint="pip install 'pulsewright[columns]'"
        ) from None


def _of_design(result: DesignResult) -> Row:
    """One row that sums up a design; empty where it has no curve."""
    row: Row = dict.fromkeys(PER_DESIGN)
    row |= {"outcome": result.outcome, "why": result.why, "seconds": result.seconds}
    if result.curves:
        rpm = result.curves["rpm"]
        ends = result.curves["outcome"]
        row |= {"speeds": len(rpm), "speeds_converged": sum(each == "converged" for each in ends)}
        row["torque_max_nm"], row["rpm_at_torque_max"] = _highest(result.curves["torque_nm"], rpm)
        row["power_max_kw"], row["rpm_at_power_max"] = _highest(result.curves["power_kw"], rpm)
        known = [value for value in result.curves["torque_nm"] if value is not None]
        row["torque_mean_nm"] = float(f"{sum(known) / len(known):.6g}") if known else None
    return row


def _highest(values: Sequence[float | None], rpm: Sequence[float]) -> tuple[float | None, float | None]:
    pairs = [(value, speed) for value, speed in zip(values, rpm, strict=True) if value is not None]
    return max(pairs, default=(None, None))


def _by_speed(result: DesignResult) -> Iterator[Row]:
    names = list(result.curves)
    return (dict(zip(names, values, strict=True)) for values in zip(*result.curves.values(), strict=True))


def _write_csv(path: Path, columns: Sequence[str], rows: Iterable[Row]) -> Path:
    with whole_file(path) as draft, draft.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return path


def _write_parquet(path: Path, columns: Sequence[str], rows: Iterator[Row]) -> Path:
    import pyarrow as pa
    import pyarrow.parquet as pq

    kinds = {**dict.fromkeys(TEXTS, pa.string()), **dict.fromkeys(WHOLE, pa.int64())}
    schema = pa.schema([(name, kinds.get(name, pa.float64())) for name in columns])
    with whole_file(path) as draft, pq.ParquetWriter(draft, schema) as writer:
        while chunk := list(islice(rows, ROWS_AT_ONCE)):
            writer.write_table(pa.Table.from_pylist(chunk, schema=schema))
    return path
