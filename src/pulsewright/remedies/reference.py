"""What the pulls say of the machine as it is: the curves that every forecast starts from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.cause.safety import lean_gate
from pulsewright.pulls.bins import bin_centres
from pulsewright.pulls.comparison import TOP_SPAN
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.pulls.trend import trend

ABOVE = 0.05  # of the highest speed pulled: gates are asked this far beyond it
BRIDGED = 300.0  # [rpm] without a reading, within the reach of the pulls, over which lambda is still known; what
# is known at the end of their reach is carried above it, with growing doubt
BEYOND_DOUBT = 1e-4  # [1/rpm] standard deviation of lambda that every rpm away from a reading adds, assumed
LEAST_SD = 0.003  # of a mean lambda curve
SPEED_RATIO = 1.085  # between two speeds of the model: a hole is 15 to 35 % wide


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reference:
    """Measured curves of one setup on 50 rpm bins from the lowest speed pulled to a little above the highest."""

    name: str
    rpm: np.ndarray  # (bins,)
    torque: np.ndarray  # (bins,) trend [N m]; nan above the reach of the pulls
    mixture: np.ndarray  # (bins,) lambda as the sensor reads it, end values held outside; nan where there is none
    mixture_sd: np.ndarray  # (bins,) growing away from readings
    mixture_known: np.ndarray  # (bins,) False: no reading near, or outside air may have reached the sensor
    doubted: bool  # outside air may have reached the sensor
    in_reach: np.ndarray  # (bins,)
    band: np.ndarray  # (bins,) in the riding band
    top: np.ndarray  # (bins,) in the top end
    bottom: float | None  # [rpm] of the hole
    lean_gate: float  # [-]

    @property
    def mixture_unknown(self) -> bool:
        """True where lambda is not known at some speed that the pulls reach."""
        return not bool(self.mixture_known[self.in_reach].all())


def reference_of(session: Session, pulls: SessionPulls, name: str, *, bins_of: Reference | None = None) -> Reference:
    """The reference of a setup that has pulls, on bins of its own or on those of another reference."""
    curves = pulls.setups[name]
    low, high = float(curves.rpm[0]), float(curves.rpm[-1])
    rpm = bins_of.rpm if bins_of is not None else bin_centres(low, high * (1.0 + ABOVE))
    reach = (rpm >= low) & (rpm <= high)
    mixture, sd, near = _mixture(curves.rpm, curves.mixture, curves.mixture_sd, rpm, reach=(low, high))
    doubted = pulls.sensor_doubted(name)
    torque = trend(curves.rpm, curves.torque)
    known = np.isfinite(torque)
    return Reference(
        name=name,
        rpm=rpm,
        torque=np.where(reach, np.interp(rpm, curves.rpm[known], torque[known]), np.nan),
        mixture=mixture,
        mixture_sd=sd,
        mixture_known=near & (not doubted),
        doubted=doubted,
        in_reach=reach,
        band=(rpm >= pulls.riding_band[0]) & (rpm <= pulls.riding_band[1]),
        top=reach & (rpm >= high - TOP_SPAN),
        bottom=curves.hole.rpm_bottom if curves.hole and curves.hole.repeats else None,
        lean_gate=lean_gate(session, name),
    )


def model_speeds(reference: Reference) -> tuple[float, ...]:
    """Speeds for the model: evenly apart in ratio over all bins, the bottom of the hole among them. [rpm]"""
    low, high = float(reference.rpm[0]), float(reference.rpm[-1])
    count = int(np.ceil(np.log(high / low) / np.log(SPEED_RATIO))) + 1
    speeds = np.geomspace(low, high, count)
    if reference.bottom is not None:
        speeds[int(np.argmin(np.abs(speeds - reference.bottom)))] = reference.bottom
    return tuple(float(round(s, 1)) for s in speeds)


def _mixture(
    at: np.ndarray, values: np.ndarray, sd: np.ndarray, rpm: np.ndarray, reach: tuple[float, float]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lambda, its standard deviation and whether a reading is near, on bins."""
    smooth = trend(at, values)
    read = np.isfinite(values) & np.isfinite(smooth)
    if not read.any():
        return np.full(rpm.shape, np.nan), np.full(rpm.shape, np.nan), np.zeros(rpm.shape, dtype=bool)
    away = _to_the_nearest(at[read], rpm)
    near = _to_the_nearest(at[read], np.clip(rpm, *reach)) <= BRIDGED
    own = np.interp(rpm, at[read], np.nan_to_num(sd[read]))
    mixture = np.interp(rpm, at[read], smooth[read])
    return mixture, np.hypot(np.maximum(own, LEAST_SD), BEYOND_DOUBT * away), near


def _to_the_nearest(readings: np.ndarray, rpm: np.ndarray) -> np.ndarray:
    """Distance of every speed to the nearest reading. [rpm]"""
    return np.min(np.abs(rpm[:, None] - readings[None, :]), axis=1)
