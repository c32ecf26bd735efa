"""Friction, heat transfer and wall temperature of every cell, renewed once a cycle from its means."""

from __future__ import annotations

import numpy as np

from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.pipe_friction import darcy_factor
from pulsewright.physics.pipe_heat import nusselt
from pulsewright.physics.viscosity import viscosity
from pulsewright.physics.wall_temperature import wall_temperature

# per slot: bore [m], roughness over bore [-], local loss per length [1/m], kind of wall (-1: temperature given),
# wall thickness [m], factor on the heat transfer [-], whether a real duct
SKIN = np.dtype(
    [
        ("bore", "f8"),
        ("roughness", "f8"),
        ("loss_per_length", "f8"),
        ("kind", "i8"),
        ("thickness", "f8"),
        ("heat_factor", "f8"),
        ("friction_factor", "f8"),
        ("live", "i8"),
    ]
)
PRANDTL = 0.72  # [-] air and exhaust gas, textbook value
LEAST_REYNOLDS = 200.0


@scalar
def renew_wall(c, i, s, seconds, ambient, pressure, wind, warm):
    """Friction, heat transfer and wall of cell i, see `renew_skin`; returns the change of the wall. [K]"""
    flow = c.mean_flow[i] / seconds
    T = c.mean_T[i] / seconds
    reynolds = max(flow * s.bore / viscosity(T), LEAST_REYNOLDS)
    darcy = s.friction_factor * darcy_factor(reynolds, s.roughness)
    c.friction[i] = darcy / (2.0 * s.bore) + 0.5 * s.loss_per_length
    stanton = s.heat_factor * nusselt(reynolds) / (reynolds * PRANDTL)
    c.heat[i] = 4.0 / s.bore * stanton
    if s.kind < 0 or flow <= 0.0 or s.heat_factor <= 0.0:
        return 0.0
    h = stanton * c.cp[i] * flow
    h_T = stanton * c.cp[i] * c.mean_flow_T[i] / seconds
    inner, _outer = wall_temperature(h, h_T, s.kind, s.bore, s.thickness, ambient, pressure, wind)
    change = ambient + warm * (inner - ambient) - c.wall[i]
    c.wall[i] += change
    return change


@kernel
def renew_skin(c, skin, seconds, ambient, pressure, wind, warm):
    """From the means of the last cycle of `seconds` to the coefficients of the next.

    ambient [K], pressure [Pa], wind [m/s]: the air outside; `warm` is the share of the way from ambient
    to balance that the walls have gone (1 = a long hold). Returns the largest change of a wall. [K]
    """
    largest = 0.0
    for i in range(skin.shape[0]):
        if skin[i].live == 1:
            change = renew_wall(c, i, skin[i], seconds, ambient, pressure, wind, warm)
            largest = max(largest, abs(change))
    return largest
