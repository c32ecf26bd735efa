"""A story as plain data and back, so that a page can be set out again without computing anything."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np

from pulsewright.report import story as parts
from pulsewright.report.story import Story

LISTS: dict[str, type] = {
    "curves": parts.MeasuredCurve, "model": parts.ModelCurve, "shares": parts.Share, "evidence": parts.Evidence,
    "tried": parts.Tried, "next": parts.NextStep, "safety": parts.SafetyNote, "assumptions": parts.Assumed,
    "conditions": parts.Condition,
}  # fmt: skip
ONES: dict[str, type] = {"hole": parts.Hole, "unexplained": parts.Unexplained, "leanest": parts.Leanest}


def story_as_json(story: Story) -> dict[str, Any]:
    """The story as what JSON knows; a value that is missing in a curve becomes null."""
    return {f.name: _plain(getattr(story, f.name)) for f in dataclasses.fields(story)}


def story_from_json(data: dict[str, Any]) -> Story:
    """The story again. Raises KeyError or TypeError where the data is of another version."""
    values = {name: _back(name, value) for name, value in data.items()}
    return Story(**values)


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, np.ndarray | tuple | list):
        return [_plain(each) for each in value]
    if isinstance(value, float | np.floating):
        return float(f"{value:.7g}") if math.isfinite(value) else None
    return value


def _back(name: str, value: Any) -> Any:
    if name in LISTS:
        numbers = _curve if name in ("curves", "model") else _tuple
        return tuple(LISTS[name](**{key: numbers(each) for key, each in row.items()}) for row in value)
    if name in ONES:
        return value and ONES[name](**value)
    if name == "fit":
        setups = tuple(parts.FollowedSetup(**row) for row in value["setups"]) if value else ()
        return value and parts.FitStory(**{**{k: _tuple(v) for k, v in value.items()}, "setups": setups})
    return _tuple(value)


def _curve(value: Any) -> Any:
    """A row of numbers with its gaps as NaN; anything else as it is."""
    if isinstance(value, list):
        return np.array([math.nan if each is None else each for each in value], dtype=float)
    return value


def _tuple(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value
