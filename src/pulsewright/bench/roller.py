"""The roller of an inertia dyno, where the logger gives its speed and no torque."""

from dataclasses import dataclass
from pathlib import Path

USUAL_WINDOW = 200.0  # [rpm] of engine speed; a dip 300 rpm wide keeps nine tenths of its depth


@dataclass(frozen=True, slots=True, kw_only=True)
class RollerDyno:
    """What turns roller speed into power. Rows of `losses`: surface speed [m/s], power lost there [W]."""

    inertia: float  # [kg m2] of the roller and all that turns with it
    radius: float  # [m]
    inertia_tolerance: float = 0.0  # [-] two standard deviations of the inertia; 0: taken as exact
    engine_inertia: float = 0.0  # [kg m2] crank, flywheel, clutch, at engine speed
    drive_ratio: float | None = None  # [-] engine turns a roller turn; None: from the engine speed logged
    losses: tuple[tuple[float, float], ...] = ()
    coast_down: Path | None = None  # file of the roller coasting down, from which the losses come
    window: float = USUAL_WINDOW  # [rpm] of engine speed over which the acceleration is taken
