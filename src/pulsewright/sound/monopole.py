r"""Sound of a small source that pushes the air around it to and fro, the same in all directions.

.. math:: p(r, t) = \frac{1}{4 \pi r} \, \frac{d \dot m}{dt}\left(t - \frac{r}{c}\right)

Here the mass flow is that of the *outside* air which the source pushes away. Hot gas from a pipe pushes away
as much room as it takes up itself, so its own mass flow counts times the ratio of the two densities; where
both are the same air, it is the mass flow through the end.

Source   Lighthill, Waves in Fluids (1978), sect. 1.4: the simple source, strength = rate of change of the rate of
         mass outflow; Dowling & Ffowcs Williams, Sound and Sources of Sound (1983), ch. 7 (both from memory).
Holds    where the end is small beside the wave, 2 pi f a / c up to about 1: pipe of 44 mm bore, 2.5 kHz.
Not for  noise of the jet behind the end, of walls, gears and valves: none of it is in the mass flow.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Complexes = npt.NDArray[np.complex128]


def heard(flow: Complexes, frequencies: Floats, paths: Sequence[float], sound_speed: float) -> Complexes:
    """Pressure lines [Pa] of a source where its sound arrives along straight paths of these lengths [m]. (lines,)

    flow : (lines,) amplitudes of the mass flow of outside air [kg/s]; frequencies : (lines,) [Hz].
    """
    omega = 2.0 * np.pi * frequencies
    spread = sum(np.exp(-1j * omega * r / sound_speed) / (4.0 * np.pi * r) for r in paths)
    return 1j * omega * flow * spread


def radiated_power(flow: Complexes, frequencies: Floats, density: float, sound_speed: float) -> Floats:
    """Sound power that a source sends into free air, line by line. (lines,) [W]"""
    omega = 2.0 * np.pi * frequencies
    return omega**2 * np.abs(flow) ** 2 / (8.0 * np.pi * density * sound_speed)
