r"""Length and bore of a port from the fluid that fills it.

.. math:: V = \frac{\pi}{4} d^2 L

Source   volume of a straight tube, closed form: what is put in the port's place has the same volume and, along
         the centre line, the same length.
Holds    valve closed, head level, filled up to the flange.
"""

from __future__ import annotations

import math

from pulsewright.errors import UsageError
from pulsewright.new.estimate import Estimate, Line, Reading, with_band
from pulsewright.units import show

VOLUME_SHARE, VOLUME_LEAST = 0.01, 0.5e-6  # [-], [m³] burette, and what stays in it: common practice
BORE_DOUBT = 0.3e-3  # [m] telescopic gauge in a port that is not quite round, common practice
LENGTH_DOUBT = 2e-3  # [m] wire bent along the middle of the port, common practice


def port_from_fluid(
    volume: float, *, bore: float | None = None, length: float | None = None, port: str = "exhaust"
) -> Estimate:
    """The straight tube that stands for a port.

    Parameters
    ----------
    volume : of fluid from the closed valve to the flange. [m³]
    bore : at the flange, if that is known; or `length` along the centre line. [m]
    port : "intake" or "exhaust".

    Raises UsageError unless one of bore and length is given.
    """
    if (bore is None) == (length is None):
        raise UsageError(
            "a volume alone is any length with any bore",
            hint="give --bore, or --length along the middle of the port; not both",
        )
    fluid = Reading.within(volume, max(VOLUME_SHARE * volume, VOLUME_LEAST))
    if bore is not None:
        found = with_band(tube_length, volume=fluid, bore=Reading.within(bore, BORE_DOUBT))
        lines = (Line.of("length", found, "length"), Line(key="bore", text=show(bore, "length")))
        doubt = f"bore believed within {show(BORE_DOUBT, 'length')}"
    else:
        found = with_band(tube_bore, volume=fluid, length=Reading.within(length or 0.0, LENGTH_DOUBT))
        lines = (Line(key="length", text=show(length or 0.0, "length")), Line.of("bore", found, "length"))
        doubt = f"length believed within {show(LENGTH_DOUBT, 'length')}"
    what = "length" if bore is not None else "bore"
    low, middle, high = (show(x, "length", digits=3) for x in (found.low, found.value, found.high))
    return Estimate(
        kind="port-volume",
        sentence=f"{port} port: {what} {middle}, {low} to {high}, from {show(volume, 'volume')} of fluid",
        table=f"engine.{port}_port",
        lines=lines,
        why=(
            "a straight tube of the same volume, closed form; fluid believed within"
            f" {show(fluid.high - fluid.value, 'volume', digits=2)}, {doubt}"
        ),
        cautions=("close the valve, level the flange, and let no air stay under the valve guide",),
        more=(("volume", volume),),
    )


def tube_length(volume: float, bore: float) -> float:
    """Length of a straight tube. [m]; [m³], [m]"""
    return 4.0 * volume / (math.pi * bore**2)


def tube_bore(volume: float, length: float) -> float:
    """Bore of a straight tube. [m]; [m³], [m]"""
    return math.sqrt(4.0 * volume / (math.pi * length))
