"""The tables of outside values that travel with the package; their sources stand in data/README.md."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files
from typing import Any

Row = dict[str, Any]  # numbers where the cell is a number, else text


@cache
def table(name: str) -> tuple[Row, ...]:
    """Rows of data/NAME.csv as dictionaries by column heading."""
    text = (files("pulsewright.outside") / "data" / f"{name}.csv").read_text(encoding="utf-8")
    return tuple({k: _number(v) for k, v in row.items()} for row in csv.DictReader(text.splitlines()))


def _number(cell: str) -> float | str:
    try:
        return float(cell)
    except ValueError:
        return cell
