"""Duct ends: every joint of a case solved in turn, flows handed to faces and reservoirs."""

from __future__ import annotations

import math

from pulsewright.kernel.cells import moved
from pulsewright.kernel.layout import ATMOSPHERE, DEGREES, FREE_FIELD, PASSAGE
from pulsewright.kernel.passage import Side, flow_through, free_field, power, runs_forward
from pulsewright.kernel.reservoirs import pass_on
from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.slider_crank import within_cycle

SHUT = 1e-9  # [m²]
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
            math.sqrt(c.gamma[cell] * c.right_p[cell] / c.right_rho[cell]),
            c.right_yb[cell],
            c.right_yv[cell],
            c.right_yz[cell],
        )
    return (
        c.left_rho[cell],
        -c.left_u[cell],
        c.left_p[cell],
        c.left_e[cell],
        math.sqrt(c.gamma[cell] * c.left_p[cell] / c.left_rho[cell]),
        c.left_yb[cell],
        c.left_yv[cell],
        c.left_yz[cell],
    )


@scalar
def side_of(c, reservoirs, cell, sign, area, reservoir, push, lag):
    """What the passage sees on one side, and the fractions of the gas there."""
    if cell >= 0:
        rho, u, p, e, a, yb, yv, yz = end_state(c, cell, sign)
        R = c.R[cell]
        side = Side(True, area, p, u, a, c.gamma[cell], R, p / (rho * R), e + p / rho, 0.0, 0.0)
        return side, yb, yv, yz
    r = reservoirs[reservoir]
    h = r.e + r.R * r.T
    side = Side(False, area, r.p, 0.0, math.sqrt(r.gamma * r.R * r.T), r.gamma, r.R, r.T, h, push, lag)
    return side, r.yb, r.yv, r.yz


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


@scalar
def free_end(c, reservoirs, j, dt):
    """An end that sends nothing back; gas that it needs comes from its reservoir."""
    rho, u, p, e, a, yb, yv, yz = end_state(c, j.a_cell, j.a_sign)
    gamma = c.gamma[j.a_cell]
    p_end, u_end = free_field(p, u, a, gamma, j.target, j.mean_speed)
    a_end = a * power(p_end / p, 0.5 * (gamma - 1.0) / gamma)
    h0 = e + p / rho + (a_end * a_end - a * a) / (gamma - 1.0) + 0.5 * u_end * u_end
    out = gamma * p_end / (a_end * a_end) * u_end * j.a_area
    if out < 0.0:  # what comes in is the gas of the endless duct, at the pressure of the wave
        r = reservoirs[j.b_reservoir]
        yb, yv, yz = r.yb, r.yv, r.yz
        h0 = r.e + r.R * r.T + 0.5 * u_end * u_end
        out = p_end / (r.R * r.T) * u_end * j.a_area
    put_on_face(c, j.a_face, j.a_sign, j.a_area, out, p_end, u_end, h0, yb, yv, yz)
    j.sum_speed += dt * u_end
    book(j, dt, out, h0, yb, yv, yz)


@scalar
def book(j, dt, flow, h0, yb, yv, yz):
    """What passes from a to b, and its sums over the cycle."""
    j.flow, j.h0 = flow, h0
    j.yb, j.yv, j.yz = yb, yv, yz
    j.sum_ab += dt * max(flow, 0.0)
    j.sum_ba += dt * max(-flow, 0.0)
    j.sum_energy += dt * flow * h0
    j.sum_vapour += dt * flow * yv
    j.sum_fuel += dt * flow * (yv + yz)


@scalar
def levelling_flow(reservoirs, j, dt):
    """Flow that levels the pressures of two rooms within the step; more would swing to and fro. [kg/s]"""
    a, b = reservoirs[j.a_reservoir], reservoirs[j.b_reservoir]
    stiff_a = 0.0 if a.kind == ATMOSPHERE else a.gamma * a.R * a.T / a.volume
    stiff_b = 0.0 if b.kind == ATMOSPHERE else b.gamma * b.R * b.T / b.volume
    return abs(a.p - b.p) / (dt * (stiff_a + stiff_b) + 1e-30)


@scalar
def shut(c, j):
    """Nothing passes: every duct that ends here ends at a wall."""
    if j.a_cell >= 0:
        wall_end(c, j.a_cell, j.a_face, j.a_sign, j.a_area)
    if j.b_cell >= 0:
        wall_end(c, j.b_cell, j.b_face, j.b_sign, j.b_area)
    j.flow = 0.0


@kernel
def passage_joint(c, reservoirs, j, dt, open_area):
    """A passage between two sides; `open_area` replaces the fixed areas where a valve rules (>= 0)."""
    if 0.0 <= open_area < SHUT:
        shut(c, j)
        return
    push, lag = 0.0, 0.0
    if j.resistance > 0.0:  # radiation: mass and resistance side by side, centred in time
        rho, _u, _p, _e, a, _b, _v, _z = end_state(c, j.a_cell, j.a_sign)
        full = j.resistance * rho * a
        inertia = rho * j.mass_length
        push = full / (1.0 + 0.5 * full * dt / inertia)
        lag = j.mass_speed
    side_a, b_a, v_a, z_a = side_of(c, reservoirs, j.a_cell, j.a_sign, j.a_area, j.a_reservoir, 0.0, 0.0)
    side_b, b_b, v_b, z_b = side_of(c, reservoirs, j.b_cell, j.b_sign, j.b_area, j.b_reservoir, push, lag)
    forward = runs_forward(side_a, side_b)
    area = open_area if open_area >= 0.0 else (j.area_ab if forward else j.area_ba)
    if area < SHUT:
        shut(c, j)
        return
    up, down = (side_a, side_b) if forward else (side_b, side_a)
    q_up, q_down = (j.guess_a, j.guess_b) if forward else (j.guess_b, j.guess_a)
    flow, p_up, u_up, p_down, u_down, h0, q_up, q_down, settled = flow_through(up, down, area, q_up, q_down)
    if forward:
        p_a, u_a, p_b, u_b = p_up, u_up, p_down, u_down
        j.guess_a, j.guess_b = q_up, q_down
        yb, yv, yz = b_a, v_a, z_a
    else:
        flow = -flow
        p_a, u_a, p_b, u_b = p_down, u_down, p_up, u_up
        j.guess_a, j.guess_b = q_down, q_up
        yb, yv, yz = b_b, v_b, z_b
    if not settled:
        j.unsolved += 1
    if j.a_cell < 0 and j.b_cell < 0:
        most = levelling_flow(reservoirs, j, dt)
        flow = min(max(flow, -most), most)
    if j.a_cell >= 0:
        put_on_face(c, j.a_face, j.a_sign, j.a_area, flow, p_a, u_a, h0, yb, yv, yz)
    if j.b_cell >= 0:
        put_on_face(c, j.b_face, j.b_sign, j.b_area, -flow, p_b, u_b, h0, yb, yv, yz)
    if push > 0.0:
        speed = u_a if forward else -u_a
        back = push * (speed - lag)
        j.mass_speed = lag + dt * back / inertia
    book(j, dt, flow, h0, yb, yv, yz)


@scalar
def valve_area(table, row, degrees):
    """Effective area at a crank angle of the valve's own cylinder. [m²]"""
    position = within_cycle(degrees) * (DEGREES / 720.0)
    k = int(position)
    return table[row, k] + (position - k) * (table[row, k + 1] - table[row, k])


@kernel
def solve_joints(c, joints, reservoirs, valves, degrees, dt):
    """All duct ends of the case at crank angle `degrees`; reservoirs get their share by `fill_reservoirs`."""
    for k in range(joints.shape[0]):
        j = joints[k]
        if j.kind == PASSAGE:
            area = valve_area(valves, j.valve, degrees + j.phase) if j.valve >= 0 else -1.0
            passage_joint(c, reservoirs, j, dt, area)
        elif j.kind == FREE_FIELD:
            free_end(c, reservoirs, j, dt)
        else:
            wall_end(c, j.a_cell, j.a_face, j.a_sign, j.a_area)


@kernel
def fill_reservoirs(joints, reservoirs):
    """What the joints let pass goes into the reservoirs at their sides, or out of them."""
    for k in range(joints.shape[0]):
        j = joints[k]
        if j.a_reservoir >= 0:
            pass_on(j, reservoirs[j.a_reservoir], -j.flow)
        if j.b_reservoir >= 0:
            pass_on(j, reservoirs[j.b_reservoir], j.flow)


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
