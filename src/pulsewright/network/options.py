"""How a sheet is to be computed: what is switched off, what is imposed, how fine the cells are."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from pulsewright.network.calibration import NOMINAL, Calibration

AS_BUILT, NON_REFLECTING = "as built", "non-reflecting"
ENDS = (AS_BUILT, NON_REFLECTING)

BEST_TORQUE_MIXTURE = 0.85  # lambda, the top of `physics.power_versus_mixture`


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """Choices for one computation of a setup.

    exhaust_ends, intake_ends : "as built", or "non-reflecting" (no echo comes back).
    mixture : lambda of a premixed charge in place of the carburettor, None = carburettor.
    best_burn : every cylinder burns the air it has trapped as with the best-torque mixture; the carburettor and the
        flow are left alone.
    lossless : obstacles and steps without loss, exhaust at ambient mean pressure.
    mean_metering : the carburettor meters on the mean air flow instead of the pulsating one.
    fuel_trim : factor on the effective area of all fuel jets, on top of the calibration.
    calibration : coefficients for this very machine.
    grid : factor on all cell lengths, 1 = default.
    back_pressure : mean pressure at a non-reflecting end by cylinder. [Pa]
    """

    exhaust_ends: str = AS_BUILT
    intake_ends: str = AS_BUILT
    mixture: float | None = None
    best_burn: bool = False
    lossless: bool = False
    mean_metering: bool = False
    fuel_trim: float = 1.0
    grid: float = 1.0
    back_pressure: dict[int, float] = field(default_factory=dict)
    calibration: Calibration = NOMINAL


def steady_hold(options: Options) -> Options:
    """The same with the pipe walls as warm as a long hold makes them, where a pull leaves them half-way."""
    return replace(options, calibration=replace(options.calibration, wall_warmth=1.0))
