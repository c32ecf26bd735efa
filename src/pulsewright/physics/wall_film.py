r"""Fuel on the wall of the manifold: a share of what is metered lands there and leaves again with a time constant.

.. math:: \frac{dm}{dt} = X \dot m_f - \frac{m}{\tau}, \qquad \dot m_c = (1 - X) \dot m_f + \frac{m}{\tau}

with the film's mass m, the metered fuel, and the fuel that reaches the cylinders.

Source   C. F. Aquino, SAE 810494 (1981), equations and the step's response from memory.
Holds    X and tau constant while things change. In steady flow what is metered arrives, whatever X and tau.
Not for  a wall so wet that a stream of liquid runs along it.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar


@scalar
def film_step(film, metered, share, time_constant, dt):
    """Film after a step of constant metering [kg], and the mean fuel that reached the cylinders [kg/s].

    film : at the start [kg]; metered : fuel [kg/s]; share : X, what of it lands on the wall [-]; time_constant :
    tau [s]. Exact for the step, and what is metered goes to film and cylinders to rounding.
    """
    at_rest = share * metered * time_constant
    after = at_rest + (film - at_rest) * math.exp(-dt / time_constant)
    return after, metered - (after - film) / dt


@scalar
def film_at_rest(metered, share, time_constant):
    """Film of a steady flow of metered fuel [kg/s]. [kg]"""
    return share * metered * time_constant


@scalar
def fuel_after_step(before, after, share, time_constant, seconds):
    """Fuel that reaches the cylinders at a time [s] after the metered fuel stepped, closed form. [kg/s]"""
    return after - share * (after - before) * math.exp(-seconds / time_constant)
