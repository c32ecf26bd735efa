"""Flow through the holes of a perforated tube into the room around it, cell by cell.

Source   Holes between two ducts side by side: J. W. Sullivan, J. Acoust. Soc. Am. 66 (1979) 772 (from memory).
         Grazing flow: K. N. Rao and M. L. Munjal, J. Sound Vib. 108 (1986) 283 (from memory).
Left out The inertia of the gas in the holes.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import kernel, scalar


@scalar
def hole_speed(drop, linear, head, stiffness, dt):
    """Mean speed in a hole over a step. [m/s]

    drop : pressure across it [Pa]; linear [Pa s/m]; head : quadratic part [Pa s2/m2]; stiffness : how fast the drop
    falls away by the flow itself, for every metre a second [Pa/m]. That it falls within the step acts like more
    resistance: exactly what an exponential decay gives, so that no step is too long.
    """
    speed = 2.0 * drop / (linear + math.sqrt(linear * linear + 4.0 * head * drop) + 1e-30)
    decay = stiffness * dt / (linear + head * speed + 1e-30)
    share = 0.5  # of the step's fall that is felt
    if decay > 30.0:
        share = 1.0
    elif decay > 1e-3:
        share = 1.0 / (1.0 - math.exp(-decay)) - 1.0 / decay
    linear += stiffness * dt * share
    return 2.0 * drop / (linear + math.sqrt(linear * linear + 4.0 * head * drop) + 1e-30)


@scalar
def gives_way(c, i):
    """Pressure that cell i loses with every kilogram of gas. [Pa/kg]"""
    return c.gamma[i] * c.p[i] / c.rho[i] * c.inverse_volume[i]


@scalar
def take(c, i, moved, h, yb, yv, yz):
    """Cell i takes in gas [kg] of this total enthalpy and these fractions (negative: gives it away)."""
    more = moved * c.inverse_volume[i]
    c.rho[i] += more
    c.energy[i] += more * h
    c.burned[i] += more * yb
    c.vapour[i] += more * yv
    c.burned_fuel[i] += more * yz


@kernel
def porous_walls(c, leaks, dt):
    """Move gas through all perforated walls, after the flow along the ducts; a cell has one such wall.

    The cells on both sides then want their `gas_states` again.

    The pressure drop has a linear part on the hole speed (`resistance` [Pa s/m], and `grazing` on density and speed
    of the faster stream beside the hole) and a dynamic one (`loss` on the hole's dynamic head). Gas that leaves a
    cell takes its speed along the duct with it; gas that comes in brings none.
    """
    for k in range(leaks.shape[0]):
        leak = leaks[k]
        i, j = leak.cell, leak.room_cell
        drop = c.p[i] - c.p[j]
        up = i if drop > 0.0 else j
        down = j if drop > 0.0 else i
        rho = c.rho[up]
        grazing = leak.grazing * max(c.rho[i] * abs(c.u[i]), c.rho[j] * abs(c.u[j]))
        stiffness = leak.area * rho * (gives_way(c, i) + gives_way(c, j))
        moved = (
            leak.area
            * rho
            * dt
            * hole_speed(abs(drop), leak.resistance + grazing, 0.5 * leak.loss * rho, stiffness, dt)
        )
        h = c.e[up] + c.p[up] / rho + 0.5 * c.u[up] * c.u[up]
        yb, yv, yz = c.yb[up], c.yv[up], c.yz[up]
        c.momentum[up] -= moved * c.inverse_volume[up] * c.u[up]
        take(c, up, -moved, h, yb, yv, yz)
        take(c, down, moved, h, yb, yv, yz)
