"""What is to be computed: a sheet, its axes, the designs on them, the engine speeds."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from pulsewright.bench.toml_file import parse_toml
from pulsewright.errors import UsageError
from pulsewright.many.axis import Axis
from pulsewright.many.code_version import code_version
from pulsewright.many.design import Design

FORMAT = "pulsewright sweep plan 1"
MOST_DESIGNS = 10_000_000
ID_DIGITS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """All designs of one sheet. The same plan gives the same designs in the same order, always."""

    sheet_text: str  # TOML
    axes: tuple[Axis, ...]
    speeds: tuple[float, ...]  # [rpm]
    sample: int | None = None  # Sobol points in the box of the axes; None: the full grid
    seed: int | None = None  # of the sample
    level: str = "final"

    def as_json(self) -> dict[str, Any]:
        """Plain data, by which two plans are compared."""
        return {
            "format": FORMAT,
            "vary": {a.path: [a.text(a.low), a.text(a.high), a.count] for a in self.axes},
            "sample": None if self.sample is None else {"kind": "sobol", "points": self.sample, "seed": self.seed},
            "rpm": list(self.speeds),
            "level": self.level,
            "code": code_version(),
            "sheet": self.sheet_text,
        }

    def points(self) -> np.ndarray:
        """Values in the units of the axes. (designs, axes), each row once"""
        points = self._grid() if self.sample is None else self._sobol()
        return points[np.sort(np.unique(points, axis=0, return_index=True)[1])]

    def designs(self, points: np.ndarray) -> Iterator[Design]:
        """The designs at `points`, numbered from 1."""
        common = hashlib.sha256()
        values = sheet_values(self.sheet_text)
        common.update(json.dumps([code_version(), self.level, self.speeds, values], sort_keys=True).encode())
        for number, row in enumerate(points.tolist(), 1):
            changes = tuple((a.path, a.text(value)) for a, value in zip(self.axes, row, strict=True))
            own = common.copy()
            own.update(json.dumps(sorted(changes)).encode())
            yield Design(number, own.hexdigest()[:ID_DIGITS], changes)

    def _grid(self) -> np.ndarray:
        _check_size(math.prod(a.count or 1 for a in self.axes))
        grids = np.meshgrid(*(a.grid() for a in self.axes), indexing="ij")
        return np.stack([g.ravel() for g in grids], axis=1)

    def _sobol(self) -> np.ndarray:
        """The first points of a scrambled Sobol sequence."""
        from scipy.stats import qmc

        assert self.sample is not None
        _check_size(self.sample)
        sequence = qmc.Sobol(len(self.axes), scramble=True, rng=np.random.default_rng(self.seed))
        drawn = sequence.random_base2(math.ceil(math.log2(self.sample)))[: self.sample]
        return np.stack([a.spread(column) for a, column in zip(self.axes, drawn.T, strict=True)], axis=1)


def sheet_values(text: str) -> dict[str, Any]:
    """Plain values of a sheet: comments, layout and the order of keys do not make another design."""
    return parse_toml(text, "the sheet", lines=False)[0]


def differences(there: dict[str, Any], asked: dict[str, Any]) -> list[str]:
    """What differs between two plans, one line a difference; empty where they are the same."""
    lines = []
    for name in sorted({*there, *asked} - {"sheet"}):
        a, b = there.get(name), asked.get(name)
        if a != b:
            lines.append(f"{name}: there {_short(a)}, asked {_short(b)}")
    a, b = (_flat(sheet_values(str(plan.get("sheet", "")))) for plan in (there, asked))
    lines += [
        f"sheet, {path}: there {_short(a.get(path))}, asked {_short(b.get(path))}"
        for path in sorted({*a, *b})
        if a.get(path) != b.get(path)
    ]
    return lines


def _flat(value: Any, path: str = "") -> dict[str, Any]:
    """Values by dotted path, counted from 1."""
    if isinstance(value, dict):
        pairs = list(value.items())
    elif isinstance(value, list):
        pairs = list(enumerate(value, 1))
    else:
        return {path: value}
    flat: dict[str, Any] = {}
    for name, below in pairs:
        flat |= _flat(below, f"{path}.{name}" if path else str(name))
    return flat


def _short(value: Any) -> str:
    text = "nothing" if value is None else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 90 else f"{text[:60]} ... {text[-25:]}"


def _check_size(designs: int) -> None:
    if designs > MOST_DESIGNS:
        raise UsageError(
            f"{designs} designs are too many; {MOST_DESIGNS} is the most", hint="take fewer values, or --sample sobol N"
        )
