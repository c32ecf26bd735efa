"""A design: the sheet with one value on every axis. And what came out of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

# Outcomes of a design.
CONVERGED = "converged"
NOT_CONVERGED = "not converged"
REFUSED = "refused"  # it cannot be built, or not by this sheet's rules
FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Design:
    """One design of a plan."""

    number: int  # place in the plan, from 1
    id: str  # the same for the same sheet, changes, speeds, level and code
    changes: tuple[tuple[str, str], ...]  # dotted path and value, as `apply_changes` takes them


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignResult:
    """What is kept of a design; one for every design, however it ended."""

    number: int
    id: str
    outcome: str
    why: str = ""  # empty where it converged
    seconds: float = 0.0  # [s] it took
    curves: dict[str, list[Any]] = field(default_factory=dict)  # name -> values over engine speed; empty: no curve
