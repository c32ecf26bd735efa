"""Duct ends: every joint of a case solved in turn, flows handed to faces and reservoirs."""

from __future__ import annotations

import math

from pulsewright.kernel.duct_ends import end_state, put_on_face, wall_end
from pulsewright.kernel.lanes import found_in_lane, newton_steps, newton_steps_of_half, put_in_lane, settle_lane
from pulsewright.kernel.layout import ATMOSPHERE, BACKWARD, DEGREES, FORWARD, FREE_FIELD, LANES, PASSAGE
from pulsewright.kernel.passage import NO_DUCT, Side, free_field, runs_forward, settled_flow
from pulsewright.kernel.reservoirs import pass_on
from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.positive_power import power
from pulsewright.physics.slider_crank import within_cycle


@scalar
def side_of(c, reservoirs, cell, sign, area, reservoir, push, mass_speed):
    """What the passage sees on one side."""
    if cell >= 0:
        rho, u, p, e, a, _yb, _yv, _yz = end_state(c, cell, sign)
        work = p / rho  # as in `end_state`, which has divided it already
        return Side(area, p, u, a, c.gamma[cell], work, e + work, 0.0)
    r = reservoirs[reservoir]
    work = r.R * r.T
    return Side(NO_DUCT, r.p - push * mass_speed, 0.0, math.sqrt(r.gamma * work), r.gamma, work, r.e + work, push)


@scalar
def fractions(c, reservoirs, cell, sign, reservoir):
    """What the gas on one side of a passage is made of."""
    if cell >= 0:
        _rho, _u, _p, _e, _a, yb, yv, yz = end_state(c, cell, sign)
        return yb, yv, yz
    r = reservoirs[reservoir]
    return r.yb, r.yv, r.yz


@kernel
def levelling_flow(reservoirs, j, dt):
    """Flow that levels the pressures of two rooms within the step; more would swing to and fro. [kg/s]"""
    a, b = reservoirs[j.a_reservoir], reservoirs[j.b_reservoir]
    stiff_a = 0.0 if a.kind == ATMOSPHERE else a.gamma * a.R * a.T / a.volume
    stiff_b = 0.0 if b.kind == ATMOSPHERE else b.gamma * b.R * b.T / b.volume
    return abs(a.p - b.p) / (dt * (stiff_a + stiff_b) + 1e-30)


@scalar
def valve_area(table, row, degrees):
    """Effective area at a crank angle of the valve's own cylinder. [m²]"""
    position = within_cycle(degrees) * (DEGREES / 720.0)
    k = int(position)
    return table[row, k] + (position - k) * (table[row, k + 1] - table[row, k])


@scalar
def radiation(c, j, dt):
    """Pressure for every m/s [Pa s/m] by which the speed of an open end is beyond that of the air before it."""
    rho, _u, _p, _e, a, _b, _v, _z = end_state(c, j.a_cell, j.a_sign)
    full = j.resistance * rho * a  # mass and resistance side by side, centred in time
    return full / (1.0 + 0.5 * j.resistance * a * dt / j.mass_length)


@scalar
def mass_before(c, j):
    """Mass of the air before an open end. [kg/m²]"""
    return j.mass_length * (c.right_rho[j.a_cell] if j.a_sign > 0.0 else c.left_rho[j.a_cell])


@scalar
def both_sides(c, reservoirs, j, dt):
    """Sides a and b of a passage; keeps what the air before an open end pushes with."""
    if j.resistance > 0.0:
        j.push = radiation(c, j, dt)
    return (
        side_of(c, reservoirs, j.a_cell, j.a_sign, j.a_area, j.a_reservoir, 0.0, 0.0),
        side_of(c, reservoirs, j.b_cell, j.b_sign, j.b_area, j.b_reservoir, j.push, j.mass_speed),
    )


@scalar
def open_passage(c, reservoirs, valves, j, degrees, dt):
    """Sets which way the gas goes, or would; returns what `newton_step` asks for."""
    valve = valve_area(valves, j.valve, degrees + j.phase) if j.valve >= 0 else -1.0
    side_a, side_b = both_sides(c, reservoirs, j, dt)
    forward = runs_forward(side_a, side_b)
    area = valve if valve >= 0.0 else (j.area_ab if forward else j.area_ba)
    most = levelling_flow(reservoirs, j, dt) if j.a_cell < 0 and j.b_cell < 0 else math.inf
    j.way = FORWARD if forward else BACKWARD
    if forward:
        return side_a, side_b, area, most, j.guess_a, j.guess_b
    return side_b, side_a, area, most, j.guess_b, j.guess_a


@scalar
def pass_through(c, reservoirs, j, dt, found):
    """What goes through a passage; `found` as `newton_step` returns it."""
    flow, p_up, u_up, p_down, u_down, h0, x, y, settled = found
    forward = j.way == FORWARD
    flow = flow if forward else -flow
    p_a, u_a = (p_up, u_up) if forward else (p_down, -u_down)
    p_b, u_b = (p_down, u_down) if forward else (p_up, -u_up)
    j.guess_a, j.guess_b = (x, y) if forward else (y, x)
    cell, sign, reservoir = (j.a_cell, j.a_sign, j.a_reservoir) if forward else (j.b_cell, j.b_sign, j.b_reservoir)
    yb, yv, yz = fractions(c, reservoirs, cell, sign, reservoir)
    if not settled:
        j.unsolved += 1
    if j.a_cell >= 0:
        put_on_face(c, j.a_face, j.a_sign, j.a_area, flow, p_a, u_a, h0, yb, yv, yz)
    if j.b_cell >= 0:
        put_on_face(c, j.b_face, j.b_sign, j.b_area, -flow, p_b, u_b, h0, yb, yv, yz)
    if j.resistance > 0.0:
        j.mass_speed += dt * j.push * (u_a - j.mass_speed) / mass_before(c, j)
    book(j, dt, flow, h0, yb, yv, yz)


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
def end_without_passage(c, reservoirs, j, dt):
    """A wall, or an end that sends nothing back."""
    if j.kind == FREE_FIELD:
        free_end(c, reservoirs, j, dt)
    else:
        wall_end(c, j.a_cell, j.a_face, j.a_sign, j.a_area)


@kernel
def solve_joint(c, reservoirs, valves, j, degrees, dt):
    """One duct end by itself, as `solve_joints` does many."""
    if j.kind == PASSAGE:
        found = settled_flow(*open_passage(c, reservoirs, valves, j, degrees, dt))
        pass_through(c, reservoirs, j, dt, found)
    else:
        end_without_passage(c, reservoirs, j, dt)


@kernel
def solve_joints(c, joints, reservoirs, valves, degrees, dt):
    """All duct ends of the case at crank angle `degrees`; reservoirs get their share by `fill_reservoirs`."""
    k = c.passing
    for first in range(0, joints.shape[0], LANES):
        group = joints[first : first + LANES]
        for n in range(group.shape[0]):
            j = group[n]
            if j.kind == PASSAGE:
                put_in_lane(k, n, *open_passage(c, reservoirs, valves, j, degrees, dt))
        if group.shape[0] > LANES // 2:
            newton_steps(k)
        else:
            newton_steps_of_half(k)
        for n in range(group.shape[0]):
            j = group[n]
            if j.kind != PASSAGE:
                end_without_passage(c, reservoirs, j, dt)
                continue
            if k.settled[n] < 0.5:
                settle_lane(k, n)
            pass_through(c, reservoirs, j, dt, found_in_lane(k, n))


@kernel
def fill_reservoirs(joints, reservoirs):
    """What the joints let pass goes into the reservoirs at their sides, or out of them."""
    for k in range(joints.shape[0]):
        j = joints[k]
        if j.a_reservoir >= 0:
            pass_on(j, reservoirs[j.a_reservoir], -j.flow)
        if j.b_reservoir >= 0:
            pass_on(j, reservoirs[j.b_reservoir], j.flow)
