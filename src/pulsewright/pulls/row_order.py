"""Rows of one pull in the order of time, each once."""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.columns import Naming
from pulsewright.pulls.recipe import Step


def row_order(naming: Naming, rows: np.ndarray) -> tuple[np.ndarray, list[Step]]:
    """Row numbers of a pull by time, without repeated rows, and what was done for it.

    Without a time the order of the file stands, and only a row equal to the one before it in every column is
    left out.
    """
    column = naming.one("time")
    if column is None:
        return _without_repeats(naming, rows)
    time, steps = column.si, []
    known = rows[np.isfinite(time[rows])]
    if known.size < rows.size:
        steps.append(_left_out(rows.size - known.size, f"{rows.size - known.size} rows without a time left out"))
    order = known[np.argsort(time[known], kind="stable")]
    moved = int((np.diff(time[known]) < 0).sum())
    if moved:
        steps.append(Step(action="sort rows", parameters={"by": "time", "falls": moved, "text": _SORTED}))
    keep = np.concatenate([[True], np.diff(time[order]) > 0])
    if not keep.all():
        count = int((~keep).sum())
        steps.append(_left_out(count, f"{count} rows with a repeated time left out"))
    return order[keep], steps


_SORTED = "rows out of time order were sorted"


def _left_out(count: int, text: str) -> Step:
    return Step(action="leave out rows", parameters={"count": count, "text": text})


def _without_repeats(naming: Naming, rows: np.ndarray) -> tuple[np.ndarray, list[Step]]:
    table = np.column_stack([column.values for column in naming.columns])[rows]
    same = ((table[1:] == table[:-1]) | (np.isnan(table[1:]) & np.isnan(table[:-1]))).all(axis=1)
    count = int(same.sum())
    if not count:
        return rows, []
    text = f"{count} rows equal to the one before left out"
    return rows[np.concatenate([[True], ~same])], [_left_out(count, text)]
