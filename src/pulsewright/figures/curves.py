"""What a torque chart is drawn from: measured and computed curves over engine speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Numbers = Sequence[float] | NDArray[np.float64]
Role = Literal["before", "after", "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredCurve:
    """Mean of the pulls of one setup. A gap in a channel is a NaN; empty is a channel that was not logged."""

    setup: str  # letter or name of the setup
    role: Role = "other"  # "before" is drawn dashed; one "before" and one "after" at most
    words: str = ""  # the setup in words, for the legend
    rpm: Numbers  # (n,) [1/min] rising
    torque: Numbers  # (n,) [N m]
    low: Numbers = ()  # (n,) [N m] band in which the mean lies with 95 % certainty
    high: Numbers = ()  # (n,) [N m]
    lambda_: Numbers = ()  # (n,) [-]
    pulls: int = 0  # how many pulls went into the mean


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelCurve:
    """What the model says for one setup."""

    setup: str
    role: Role = "other"
    words: str = ""
    rpm: Numbers  # (n,) [1/min] rising
    torque: Numbers  # (n,) [N m]
    lambda_: Numbers = ()  # (n,) [-] as the sensor would read it
    torque_without_echo: Numbers = ()  # (n,) [N m] pipe ends made non-reflecting


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleSpan:
    """Where the hole is on the engine speed axis. [1/min]"""

    rpm_from: float
    rpm_to: float
    rpm_bottom: float
