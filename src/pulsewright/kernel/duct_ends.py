"""The ends of ducts: the gas that stands before a face, what is put on the face, and the ghosts beyond."""

from __future__ import annotations

import math

from pulsewright.kernel.cells import moved
from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.positive_power import power

STRAIGHT_BELOW = 0.9  # Mach number in the end cell up to which its ghost continues the duct in a straight line


@scalar
def end_state(c, cell, sign):
    """Face state of a duct end half a step ahead: rho, speed out of the duct, p, e, sound, fractions."""
    if sign > 0.0:
        return (
            c.right_rho[cell],
            c.right_u[cell],
            c.right_p[cell],
            c.right_e[cell],
            math.sqrt(c.gamma[cell] * (c.right_p[cell] / c.right_rho[cell])),
            c.right_yb[cell],
            c.right_yv[cell],
            c.right_yz[cell],
        )
    return (
        c.left_rho[cell],
        -c.left_u[cell],
        c.left_p[cell],
        c.left_e[cell],
        math.sqrt(c.gamma[cell] * (c.left_p[cell] / c.left_rho[cell])),
        c.left_yb[cell],
        c.left_yv[cell],
        c.left_yz[cell],
    )


@scalar
def put_on_face(c, face, sign, area, out, p, speed, h0, yb, yv, yz):
    """Flow `out` [kg/s] leaves the duct at this face (negative: enters)."""
    along = sign * out
    c.flow_mass[face] = along
    c.flow_momentum[face] = p * area + abs(out) * abs(speed)
    c.flow_energy[face] = along * h0
    c.flow_b[face] = along * yb
    c.flow_v[face] = along * yv
    c.flow_z[face] = along * yz


@scalar
def wall_end(c, cell, face, sign, area):
    """A closed end: the gas comes to rest on the wave."""
    _rho, u, p, _e, a, yb, yv, yz = end_state(c, cell, sign)
    gamma = c.gamma[cell]
    q = max(1.0 + 0.5 * (gamma - 1.0) * u / a, 0.05)
    put_on_face(c, face, sign, area, 0.0, p * power(q, 2.0 * gamma / (gamma - 1.0)), 0.0, 0.0, yb, yv, yz)


@kernel
def fill_ghosts(c, ends):
    """Ghost slots continue the duct in a straight line and as wide as its last cell.

    ends : (n, 3) ghost, first and second cell inside.
    """
    for k in range(ends.shape[0]):
        ghost, first, second = ends[k, 0], ends[k, 1], ends[k, 2]
        wider = c.wider_after[first] if second > first else c.wider_before[first]
        u_second, p_second = moved(c.rho[second], c.u[second], c.p[second], wider)
        rho = 2.0 * c.rho[first] - c.rho[second]
        p = 2.0 * c.p[first] - p_second
        e = 2.0 * c.e[first] - c.e[second]
        possible = rho > 0.1 * c.rho[first] and p > 0.1 * c.p[first] and e > 0.1 * c.e[first]
        # near the speed of sound a straight line feeds on itself: the end runs empty
        straight = possible and abs(c.u[first]) < STRAIGHT_BELOW * c.sound[first]
        c.rho[ghost] = rho if straight else c.rho[first]
        c.p[ghost] = p if straight else c.p[first]
        c.e[ghost] = e if straight else c.e[first]
        c.u[ghost] = 2.0 * c.u[first] - u_second if straight else c.u[first]
        # never below nothing or above all: the face value then keeps within that too
        c.yb[ghost] = min(max(2.0 * c.yb[first] - c.yb[second], 0.0), 1.0)
        c.yv[ghost] = min(max(2.0 * c.yv[first] - c.yv[second], 0.0), 1.0)
        c.yz[ghost] = min(max(2.0 * c.yz[first] - c.yz[second], 0.0), 1.0)
