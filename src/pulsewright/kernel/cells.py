"""Three passes over all cells of a case: face states, face flows, new cell states.

Source   B. van Leer, SIAM J. Sci. Stat. Comput. 5 (1984) 1 (MUSCL-Hancock); E. F. Toro, Riemann Solvers
         and Numerical Methods for Fluid Dynamics, chapters 10 (HLLC) and 14.
The pressure on the side wall of a cell is taken with the same pressure as its faces, so that gas at
rest in a duct of any shape stays at rest.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.gas_properties import blend, energy_at, heat_capacity_at


@scalar
def limited_slope(before, here, after):
    """Difference across a cell by the monotonised central limiter."""
    back = here - before
    ahead = after - here
    size = min(2.0 * min(abs(back), abs(ahead)), 0.5 * abs(back + ahead))
    return (size if back > 0.0 else -size) if back * ahead > 0.0 else 0.0


@kernel
def face_states(c, dt):
    """States at both faces of every cell, half a time step ahead."""
    n = c.rho.shape[0]
    half = 0.5 * dt
    for i in range(1, n - 1):
        d_rho = limited_slope(c.rho[i - 1], c.rho[i], c.rho[i + 1])
        d_u = limited_slope(c.u[i - 1], c.u[i], c.u[i + 1])
        d_p = limited_slope(c.p[i - 1], c.p[i], c.p[i + 1])
        d_e = limited_slope(c.e[i - 1], c.e[i], c.e[i + 1])
        rho = c.rho[i]
        u = c.u[i]
        p = c.p[i]
        e = c.e[i]
        w = half * c.inverse_length[i]
        widen = half * u * c.stretch[i]  # growth of the cross-section seen by the moving gas
        squeeze = w * d_u + widen
        rho_m = rho - w * u * d_rho - rho * squeeze
        u_m = u - w * u * d_u - w * d_p / rho
        p_m = p - w * u * d_p - c.gamma[i] * p * squeeze
        e_m = e - w * u * d_e - p / rho * squeeze
        lowest_rho = min(rho_m - 0.5 * abs(d_rho), rho_m + 0.5 * abs(d_rho))
        lowest_p = p_m - 0.5 * abs(d_p)
        lowest_e = e_m - 0.5 * abs(d_e)
        sound = (lowest_rho > 0.05 * rho) and (lowest_p > 0.05 * p) and (lowest_e > 0.05 * e)
        c.left_rho[i] = rho_m - 0.5 * d_rho if sound else rho
        c.right_rho[i] = rho_m + 0.5 * d_rho if sound else rho
        c.left_u[i] = u_m - 0.5 * d_u if sound else u
        c.right_u[i] = u_m + 0.5 * d_u if sound else u
        c.left_p[i] = p_m - 0.5 * d_p if sound else p
        c.right_p[i] = p_m + 0.5 * d_p if sound else p
        c.left_e[i] = e_m - 0.5 * d_e if sound else e
        c.right_e[i] = e_m + 0.5 * d_e if sound else e
    for i in range(1, n - 1):
        w = half * c.inverse_length[i] * c.u[i]
        d_b = limited_slope(c.yb[i - 1], c.yb[i], c.yb[i + 1])
        d_v = limited_slope(c.yv[i - 1], c.yv[i], c.yv[i + 1])
        d_z = limited_slope(c.yz[i - 1], c.yz[i], c.yz[i + 1])
        c.left_yb[i] = c.yb[i] - (w + 0.5) * d_b
        c.right_yb[i] = c.yb[i] - (w - 0.5) * d_b
        c.left_yv[i] = c.yv[i] - (w + 0.5) * d_v
        c.right_yv[i] = c.yv[i] - (w - 0.5) * d_v
        c.left_yz[i] = c.yz[i] - (w + 0.5) * d_z
        c.right_yz[i] = c.yz[i] - (w - 0.5) * d_z
        c.left_a[i] = math.sqrt(c.gamma[i] * c.left_p[i] / c.left_rho[i])
        c.right_a[i] = math.sqrt(c.gamma[i] * c.right_p[i] / c.right_rho[i])


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


@kernel
def face_flows(c):
    """Flows through every face between two cells, in the direction of growing slots."""
    n = c.rho.shape[0]
    for i in range(1, n - 2):
        mass, momentum, energy = contact_flux(
            c.right_rho[i],
            c.right_u[i],
            c.right_p[i],
            c.right_e[i],
            c.right_a[i],
            c.left_rho[i + 1],
            c.left_u[i + 1],
            c.left_p[i + 1],
            c.left_e[i + 1],
            c.left_a[i + 1],
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
def new_states(c, dt):
    """Cells after the step, and the fastest signal in each."""
    n = c.rho.shape[0]
    for i in range(1, n - 1):
        per = dt * c.inverse_volume[i]
        wall_push = 0.5 * (c.left_p[i] + c.right_p[i]) * c.area_step[i]
        rho_u = abs(c.momentum[i])
        heat = c.heat[i] * rho_u * c.R[i] * c.gamma[i] / (c.gamma[i] - 1.0) * (c.wall[i] - c.T[i])
        drag = 1.0 + dt * c.friction[i] * abs(c.u[i])
        c.rho[i] += per * (c.flow_mass[i - 1] - c.flow_mass[i] + c.mass_source[i] + c.leak_mass[i])
        c.momentum[i] = (c.momentum[i] + per * (c.flow_momentum[i - 1] - c.flow_momentum[i] + wall_push)) / drag
        gain = c.flow_energy[i - 1] - c.flow_energy[i] + c.energy_source[i] + c.leak_energy[i]
        c.energy[i] += per * gain + dt * heat
        c.burned[i] += per * (c.flow_b[i - 1] - c.flow_b[i] + c.leak_b[i])
        c.vapour[i] += per * (c.flow_v[i - 1] - c.flow_v[i] + c.vapour_source[i] + c.leak_v[i])
        c.burned_fuel[i] += per * (c.flow_z[i - 1] - c.flow_z[i] + c.leak_z[i])
    gas_states(c)
    for i in range(1, n - 1):
        flow = abs(c.momentum[i])
        c.mean_flow[i] += dt * flow
        c.mean_flow_T[i] += dt * flow * c.T[i]
        c.mean_p[i] += dt * c.p[i]
        c.mean_T[i] += dt * c.T[i]
        c.mean_fuel[i] += dt * (c.yv[i] + c.yz[i])


@kernel
def gas_states(c):
    """Primitive state of every cell from what is conserved: one Newton step on the temperature.

    The temperature moves by a few kelvin a step at most, so that one step from the last value leaves
    an error far below the rounding of the flows, and it does not add up: energy is what is kept.
    """
    n = c.rho.shape[0]
    g = c.gas_energy
    k = c.gas_constant
    a0, a1, a2, a3, a4, a5 = g[0, 0], g[0, 1], g[0, 2], g[0, 3], g[0, 4], g[0, 5]
    v0, v1, v2, v3, v4, v5 = g[1, 0], g[1, 1], g[1, 2], g[1, 3], g[1, 4], g[1, 5]
    s0, s1, s2, s3, s4, s5 = g[2, 0], g[2, 1], g[2, 2], g[2, 3], g[2, 4], g[2, 5]
    r0, r1, r2, r3, r4, r5 = g[3, 0], g[3, 1], g[3, 2], g[3, 3], g[3, 4], g[3, 5]
    ka, kv, ks, kr = k[0], k[1], k[2], k[3]
    correct_fuel, rich_fuel = c.correct_fuel, c.rich_fuel
    for i in range(1, n - 1):
        inverse = 1.0 / c.rho[i]
        u = c.momentum[i] * inverse
        e = c.energy[i] * inverse - 0.5 * u * u
        yb = c.burned[i] * inverse
        yv = c.vapour[i] * inverse
        yz = c.burned_fuel[i] * inverse
        wa, wv, ws, wr = blend(yb, yv, yz, correct_fuel, rich_fuel)
        k0 = wa * a0 + wv * v0 + ws * s0 + wr * r0
        k1 = wa * a1 + wv * v1 + ws * s1 + wr * r1
        k2 = wa * a2 + wv * v2 + ws * s2 + wr * r2
        k3 = wa * a3 + wv * v3 + ws * s3 + wr * r3
        k4 = wa * a4 + wv * v4 + ws * s4 + wr * r4
        k5 = wa * a5 + wv * v5 + ws * s5 + wr * r5
        gas_constant = wa * ka + wv * kv + ws * ks + wr * kr
        old = c.T[i]
        cv = heat_capacity_at(old, k0, k1, k2, k3, k4, k5)
        T = max(old + (e - energy_at(old, k0, k1, k2, k3, k4, k5)) / cv, 0.2 * old)
        gamma = 1.0 + gas_constant / heat_capacity_at(T, k0, k1, k2, k3, k4, k5)
        p = c.rho[i] * gas_constant * T
        a = math.sqrt(gamma * gas_constant * T)
        c.u[i] = u
        c.e[i] = e
        c.yb[i] = yb
        c.yv[i] = yv
        c.yz[i] = yz
        c.R[i] = gas_constant
        c.T[i] = T
        c.gamma[i] = gamma
        c.p[i] = p
        c.sound[i] = a
        c.speed[i] = (abs(u) + a) * c.inverse_length[i]


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
