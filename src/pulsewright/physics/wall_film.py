r"""Fuel on the wall of the manifold: a share of what is metered lands there and leaves again with a time constant.

.. math:: \frac{dm}{dt} = X \dot m_f - \frac{m}{\tau}, \qquad \dot m_c = (1 - X) \dot m_f + \frac{m}{\tau}

with the film's mass m, the metered fuel, and the fuel that reaches the cylinders.

Where one injector sits at the throttle, as a carburettor does, a fit to a small four gave, with the manifold's
pressure p [bar] and the speed n [1000/min],

.. math:: X = 0.68 - 0.277\,p - 0.055\,n, \qquad \tau = 1.35 (1.68 - 0.672\,n)(p - 0.825)^2 - 0.06\,n + 0.71

Source   C. F. Aquino, SAE 810494 (1981), equations and the step's response from memory; the fit: E. Hendricks & S. C.
         Sorenson, SAE 900616 (1990), from memory.
Holds    X and tau constant while things change, or slow against the film. The fit from 0.2 to 1 bar and up to 2500
         rpm, where its first bracket ends; held beyond. In steady flow what is metered arrives, whatever X and tau.
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


LOWEST_PRESSURE, HIGHEST_PRESSURE = 0.2, 1.0  # [bar]
HIGHEST_SPEED = 2.5  # [1000/min]


@scalar
def central_film(pressure, rpm):
    """Share on the wall [-] and time constant [s] of the published fit, at a manifold pressure [Pa] and speed [rpm]."""
    p = min(max(1e-5 * pressure, LOWEST_PRESSURE), HIGHEST_PRESSURE)
    n = min(1e-3 * rpm, HIGHEST_SPEED)
    share = 0.68 - 0.277 * p - 0.055 * n
    return share, 1.35 * (1.68 - 0.672 * n) * (p - 0.825) ** 2 - 0.06 * n + 0.71
