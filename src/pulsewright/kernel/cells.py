"""Three passes over all cells of a case: face states, face flows, new cell states.

Source   B. van Leer, SIAM J. Sci. Stat. Comput. 5 (1984) 1 (MUSCL-Hancock); E. F. Toro, Riemann Solvers
         and Numerical Methods for Fluid Dynamics, chapters 10 (HLLC) and 14.
The pressure on the side wall of a cell is taken with the same pressure as its faces, so that gas at
rest in a duct of any shape stays at rest.
"""

from __future__ import annotations

import math

from pulsewright.kernel.layout import TILE
from pulsewright.kernel.tiles import shifted
from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.gas_properties import blend, energy_at, heat_capacity_at

TRACE = 1e-60  # [kg/m³]


@scalar
def limited_slope(before, here, after):
    """Difference across a cell by the monotonised central limiter."""
    back = here - before
    ahead = after - here
    size = min(2.0 * min(abs(back), abs(ahead)), 0.5 * abs(back + ahead))
    return (size if back > 0.0 else -size) if back * ahead > 0.0 else 0.0


@scalar
def moved(rho, u, p, ratio):
    """Speed and pressure of gas after its cross-section has changed by 1 / `ratio`: flow and total pressure stay."""
    after = u * ratio
    return after, p + 0.5 * rho * (u * u - after * after)


@scalar
def face_state(c, i, dt):
    """Cell i at both its faces, half a time step ahead.

    In a cone speed and pressure change with the cross-section alone. That much is taken out before slopes are
    limited, and put back at the faces: else the limiter cuts off the speed in a throat.
    """
    rho = c.rho[i]
    u = c.u[i]
    p = c.p[i]
    e = c.e[i]
    u_before, p_before = moved(c.rho[i - 1], c.u[i - 1], c.p[i - 1], c.wider_before[i])
    u_after, p_after = moved(c.rho[i + 1], c.u[i + 1], c.p[i + 1], c.wider_after[i])
    d_rho = limited_slope(c.rho[i - 1], rho, c.rho[i + 1])
    d_u = limited_slope(u_before, u, u_after)
    d_p = limited_slope(p_before, p, p_after)
    d_e = limited_slope(c.e[i - 1], e, c.e[i + 1])
    u_left, p_left = moved(rho, u - 0.5 * d_u, p - 0.5 * d_p, c.over_left[i])
    u_right, p_right = moved(rho, u + 0.5 * d_u, p + 0.5 * d_p, c.over_right[i])
    half = 0.5 * dt
    w = half * c.inverse_length[i]
    widen = half * u * c.stretch[i]  # growth of the cross-section seen by the moving gas
    squeeze = w * (u_right - u_left) + widen
    step_p = p_right - p_left
    p_over_rho = p / rho
    rho_m = rho - w * u * d_rho - rho * squeeze
    by_u = w * u * (u_right - u_left) + w * step_p / rho
    by_p = w * u * step_p + c.gamma[i] * p * squeeze
    e_m = e - w * u * d_e - p_over_rho * squeeze
    lowest_rho = rho_m - 0.5 * abs(d_rho)
    lowest_p = min(p_left, p_right) - by_p
    lowest_e = e_m - 0.5 * abs(d_e)
    sound = (lowest_rho > 0.05 * rho) and (lowest_p > 0.05 * p) and (lowest_e > 0.05 * e)
    c.left_rho[i] = rho_m - 0.5 * d_rho if sound else rho
    c.right_rho[i] = rho_m + 0.5 * d_rho if sound else rho
    c.left_u[i] = u_left - by_u if sound else u
    c.right_u[i] = u_right - by_u if sound else u
    c.left_p[i] = p_left - by_p if sound else p
    c.right_p[i] = p_right - by_p if sound else p
    c.left_e[i] = e_m - 0.5 * d_e if sound else e
    c.right_e[i] = e_m + 0.5 * d_e if sound else e


@scalar
def face_fractions(c, i, dt):
    """Mass fractions of cell i at both its faces, half a time step ahead."""
    w = 0.5 * dt * c.inverse_length[i] * c.u[i]
    d_b = limited_slope(c.yb[i - 1], c.yb[i], c.yb[i + 1])
    d_v = limited_slope(c.yv[i - 1], c.yv[i], c.yv[i + 1])
    d_z = limited_slope(c.yz[i - 1], c.yz[i], c.yz[i + 1])
    c.left_yb[i] = c.yb[i] - (w + 0.5) * d_b
    c.right_yb[i] = c.yb[i] - (w - 0.5) * d_b
    c.left_yv[i] = c.yv[i] - (w + 0.5) * d_v
    c.right_yv[i] = c.yv[i] - (w - 0.5) * d_v
    c.left_yz[i] = c.yz[i] - (w + 0.5) * d_z
    c.right_yz[i] = c.yz[i] - (w - 0.5) * d_z


@kernel
def face_states(c, dt):
    """States at both faces of every cell, half a time step ahead."""
    for tile in range(c.tiles):
        t = shifted(c, tile * TILE)
        for i in range(1, TILE + 1):
            face_state(t, i, dt)
        for i in range(1, TILE + 1):
            face_fractions(t, i, dt)


@scalar
def contact_flux(rho_l, u_l, p_l, e_l, a_l, rho_r, u_r, p_r, e_r, a_r):
    """HLLC flux per area of mass, momentum and energy between a left and a right state."""
    slow = min(u_l - a_l, u_r - a_r)
    fast = max(u_l + a_l, u_r + a_r)
    ram_l = rho_l * (slow - u_l)
    ram_r = rho_r * (fast - u_r)
    middle = (p_r - p_l + ram_l * u_l - ram_r * u_r) / (ram_l - ram_r)
    from_left = middle >= 0.0
    rho = rho_l if from_left else rho_r
    u = u_l if from_left else u_r
    p = p_l if from_left else p_r
    e = e_l if from_left else e_r
    edge = slow if from_left else fast
    ram = ram_l if from_left else ram_r
    total = rho * (e + 0.5 * u * u)
    plain_mass = rho * u
    squeeze = (edge - u) / (edge - middle)
    rho_star = rho * squeeze
    total_star = squeeze * (total + (middle - u) * (rho * middle + rho * p / ram))
    inside = (slow < 0.0) and (fast > 0.0)
    mass = plain_mass + (edge * (rho_star - rho) if inside else 0.0)
    momentum = plain_mass * u + p + (edge * (rho_star * middle - plain_mass) if inside else 0.0)
    energy = u * (total + p) + (edge * (total_star - total) if inside else 0.0)
    return mass, momentum, energy


@scalar
def face_flow(c, i):
    """Flows through the face between cells i and i + 1."""
    mass, momentum, energy = contact_flux(
        c.right_rho[i],
        c.right_u[i],
        c.right_p[i],
        c.right_e[i],
        c.sound[i],
        c.left_rho[i + 1],
        c.left_u[i + 1],
        c.left_p[i + 1],
        c.left_e[i + 1],
        c.sound[i + 1],
    )
    flow = mass * c.area[i]
    c.flow_mass[i] = flow
    c.flow_momentum[i] = momentum * c.area[i]
    c.flow_energy[i] = energy * c.area[i]
    # both sides are loaded before one is chosen: a conditional load would stop vectorisation
    yb_l, yb_r = c.right_yb[i], c.left_yb[i + 1]
    yv_l, yv_r = c.right_yv[i], c.left_yv[i + 1]
    yz_l, yz_r = c.right_yz[i], c.left_yz[i + 1]
    c.flow_b[i] = flow * (yb_l if flow > 0.0 else yb_r)
    c.flow_v[i] = flow * (yv_l if flow > 0.0 else yv_r)
    c.flow_z[i] = flow * (yz_l if flow > 0.0 else yz_r)


@kernel
def face_flows(c):
    """Flows through every face between two cells, in the direction of growing slots."""
    for tile in range(c.tiles):
        t = shifted(c, tile * TILE)
        for i in range(1, TILE + 1):
            face_flow(t, i)


@scalar
def not_a_trace(density):
    """Zero in place of a vanishing trace: processors take a hundred times longer over such numbers."""
    return density if abs(density) > TRACE else 0.0


@scalar
def balance(c, i, dt):
    """What cell i holds after the step: flows through its faces, sources, friction and heat from the wall."""
    per = dt * c.inverse_volume[i]
    wall_push = 0.5 * (c.left_p[i] + c.right_p[i]) * c.area_step[i]
    heat = c.heat[i] * abs(c.momentum[i]) * c.cp[i] * (c.wall[i] - c.T[i])
    drag = 1.0 + dt * (c.friction[i] * abs(c.u[i]) + c.drag[i] / c.rho[i])
    c.rho[i] += per * (c.flow_mass[i - 1] - c.flow_mass[i] + c.mass_source[i])
    c.momentum[i] = (c.momentum[i] + per * (c.flow_momentum[i - 1] - c.flow_momentum[i] + wall_push)) / drag
    c.energy[i] += per * (c.flow_energy[i - 1] - c.flow_energy[i] + c.energy_source[i]) + dt * heat
    c.burned[i] = not_a_trace(c.burned[i] + per * (c.flow_b[i - 1] - c.flow_b[i] + c.burned_source[i]))
    c.vapour[i] = not_a_trace(c.vapour[i] + per * (c.flow_v[i - 1] - c.flow_v[i] + c.vapour_source[i]))
    more = c.flow_z[i - 1] - c.flow_z[i] + c.burned_fuel_source[i]
    c.burned_fuel[i] = not_a_trace(c.burned_fuel[i] + per * more)


@scalar
def gas_state(c, i, stocks):
    """Primitive state of cell i from what is conserved: one Newton step on the temperature.

    The temperature moves by a few kelvin a step at most, so that one step from the last value leaves
    an error far below the rounding of the flows, and it does not add up: energy is what is kept.
    """
    air, fuel, correct, rich, correct_fuel, rich_fuel = stocks
    inverse = 1.0 / c.rho[i]
    u = c.momentum[i] * inverse
    e = c.energy[i] * inverse - 0.5 * u * u
    yb = c.burned[i] * inverse
    yv = c.vapour[i] * inverse
    yz = c.burned_fuel[i] * inverse
    wa, wv, ws, wr = blend(yb, yv, yz, correct_fuel, rich_fuel)
    gas_constant = wa * air[0] + wv * fuel[0] + ws * correct[0] + wr * rich[0]
    k0 = wa * air[1] + wv * fuel[1] + ws * correct[1] + wr * rich[1]
    k1 = wa * air[2] + wv * fuel[2] + ws * correct[2] + wr * rich[2]
    k2 = wa * air[3] + wv * fuel[3] + ws * correct[3] + wr * rich[3]
    k3 = wa * air[4] + wv * fuel[4] + ws * correct[4] + wr * rich[4]
    k4 = wa * air[5] + wv * fuel[5] + ws * correct[5] + wr * rich[5]
    k5 = wa * air[6] + wv * fuel[6] + ws * correct[6] + wr * rich[6]
    old = c.T[i]
    cv = heat_capacity_at(old, k0, k1, k2, k3, k4, k5)
    T = max(old + (e - energy_at(old, k0, k1, k2, k3, k4, k5)) / cv, 0.2 * old)
    cv = heat_capacity_at(T, k0, k1, k2, k3, k4, k5)
    gamma = 1.0 + gas_constant / cv
    a = math.sqrt(gamma * gas_constant * T)
    c.u[i] = u
    c.e[i] = e
    c.yb[i] = yb
    c.yv[i] = yv
    c.yz[i] = yz
    c.R[i] = gas_constant
    c.cp[i] = cv + gas_constant
    c.T[i] = T
    c.gamma[i] = gamma
    c.p[i] = c.rho[i] * gas_constant * T
    c.sound[i] = a
    c.speed[i] = (abs(u) + a) * c.inverse_length[i]


@scalar
def stocks_of(c):
    """The four stocks as numbers that a loop keeps in registers: gas constant and energy terms of each."""
    k = c.gas_constant
    g = c.gas_energy
    return (
        (k[0], g[0, 0], g[0, 1], g[0, 2], g[0, 3], g[0, 4], g[0, 5]),
        (k[1], g[1, 0], g[1, 1], g[1, 2], g[1, 3], g[1, 4], g[1, 5]),
        (k[2], g[2, 0], g[2, 1], g[2, 2], g[2, 3], g[2, 4], g[2, 5]),
        (k[3], g[3, 0], g[3, 1], g[3, 2], g[3, 3], g[3, 4], g[3, 5]),
        c.correct_fuel,
        c.rich_fuel,
    )


@kernel
def new_states(c, dt):
    """Cells after the step, and the fastest signal in each."""
    stocks = stocks_of(c)
    for tile in range(c.tiles):
        t = shifted(c, tile * TILE)
        for i in range(1, TILE + 1):
            balance(t, i, dt)
        for i in range(1, TILE + 1):
            gas_state(t, i, stocks)


@kernel
def gas_states(c):
    """Primitive state of every cell from what is conserved."""
    stocks = stocks_of(c)
    for tile in range(c.tiles):
        t = shifted(c, tile * TILE)
        for i in range(1, TILE + 1):
            gas_state(t, i, stocks)


@scalar
def add_to_means(c, i, time):
    """Sums over the cycle of cell i, as it is now, for `time` [s]."""
    flow = time * abs(c.momentum[i])
    c.mean_flow[i] += flow
    c.mean_flow_T[i] += flow * c.T[i]
    c.mean_p[i] += time * c.p[i]
    c.mean_T[i] += time * c.T[i]
    c.mean_fuel[i] += time * (c.yv[i] + c.yz[i])


@kernel
def means(c, time):
    """Add `time` [s] of the present state to the sums over the cycle."""
    for tile in range(c.tiles):
        t = shifted(c, tile * TILE)
        for i in range(1, TILE + 1):
            add_to_means(t, i, time)


@kernel
def fastest_signal(c, slots):
    """Largest signal speed over cell length among the used slots, not a number where a cell is lost. [1/s]"""
    fastest = 0.0
    total = 0.0
    for i in range(1, slots):
        if c.inverse_volume[i] > 0.0:
            total += c.speed[i]
            if c.speed[i] > fastest:
                fastest = c.speed[i]
    return fastest if total == total else total
