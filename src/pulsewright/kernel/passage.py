r"""Flow between two places through a short passage: valve, plate, bolt, step, open end, port of a volume.

Each side is a duct end or a reservoir. A duct end lies on the wave that runs out of the duct,

.. math:: u + \frac{2a}{\gamma-1} = const, \qquad p \propto a^{2\gamma/(\gamma-1)}

so one number, q = a / a_end, gives its whole state. Upstream gas keeps its stagnation enthalpy, the
passage lets through what its effective area admits from the stagnation state upstream to the static
pressure downstream (`restriction_flow`), and downstream gas enters with that enthalpy. Two unknowns q,
two equations, Newton from the last step's answer; squared flows keep it regular at rest.

Source   R. S. Benson, The Thermodynamics and Gas Dynamics of Internal-Combustion Engines, vol. 1 (1982):
         quasi-steady ends with the pipe's own characteristic (from memory of the book).
Holds    no storage in the passage; a loss K on the dynamic head of an area A is the area A/sqrt(1 + K).
"""

from __future__ import annotations

import math
from collections import namedtuple

from pulsewright.physics.compiled import scalar
from pulsewright.physics.restriction_flow import sonic_pressure_ratio

# One side as seen from the passage: `u` runs towards the passage; `push` is the pressure that a
# reservoir adds for every m/s of the duct end's speed beyond `lag` (radiation of an open end).
Side = namedtuple("Side", "is_duct area p u sound gamma R T h push lag")

ENOUGH = 1e-5  # the last Newton step goes into the answer in first order; its error is the square of this
ENOUGH_SONIC, NEAR_SONIC = 1e-8, 1.02  # there the flow has hardly a slope, and Newton creeps
SAME = 1e-12
STEP_AWAY = 0.1  # of the way from sonic to rest, where the flow has no slope at sonic
TRIES = 40
NEVER_SONIC_ABOVE = 0.6  # pressure ratio; the sonic one lies below this for every gamma above 1.05
FULL_WIDTH = 0.98  # area of a passage over that of the duct end, from which the flow may stay supersonic


@scalar
def power(base, exponent):
    """Of a positive base, to a few units in the last place and a third faster than the library's power."""
    return math.exp(exponent * math.log(base))


@scalar
def standing_pressure(side):
    """Pressure that the side would show if nothing passed. [Pa]"""
    if not side.is_duct:
        return side.p - side.push * side.lag
    n = 2.0 / (side.gamma - 1.0)
    q = max(1.0 + side.u / (n * side.sound), 0.05)
    return side.p * power(q, side.gamma * n)


@scalar
def runs_forward(a, b):
    """Whether side a drives the flow: its standing pressure is at least that of side b."""
    if a.is_duct and not b.is_duct:
        # p q^k over p_b, with ln x between 1 - 1/x and x - 1: mostly tells without a power
        n = 2.0 / (a.gamma - 1.0)
        q = max(1.0 + a.u / (n * a.sound), 0.05)
        ratio = (b.p - b.push * b.lag) / a.p
        if a.gamma * n * (q - 1.0) * ratio < ratio - 1.0:
            return False
        if a.gamma * n * (q - 1.0) >= (ratio - 1.0) * q:
            return True
    return standing_pressure(a) >= standing_pressure(b)


@scalar
def taken_in(down, flow, T0, gamma, R, q_down):
    """A duct that has to take a given flow [kg/s] of stagnation temperature T0 [K]: its q, speed, pressure."""
    m = 2.0 / (down.gamma - 1.0)
    cp = gamma * R / (gamma - 1.0)
    y = max(q_down, 1.0 + down.u / (m * down.sound))
    sonic = 1.0 + (math.sqrt(2.0 * gamma / (gamma + 1.0) * R * T0) + down.u) / (m * down.sound)
    v, p = 0.0, down.p
    if down.is_duct:
        for _ in range(TRIES):
            v = -down.u - m * down.sound * (1.0 - y)
            p = down.p * power(y, down.gamma * m)
            T = max(T0 - 0.5 * v * v / cp, 0.3 * T0)
            off = down.area * p * v / (R * T) - flow
            slope = down.area / (R * T) * (v * down.gamma * m * p / y + p * m * down.sound)
            new_y = min(y + min(max(-off / slope, -0.2), 0.2), sonic)
            step, y = new_y - y, new_y
            if abs(step) < ENOUGH:
                break
    return y, v, p


@scalar
def flow_through(up, down, area, q_up, q_down):
    """Flow from `up` to `down` through an effective `area` [m²].

    Returns mass flow [kg/s], pressure and speed (in the flow's direction) at the upstream and at the
    downstream side [Pa, m/s], stagnation enthalpy [J/kg], the two q, and whether Newton settled.
    """
    g = up.gamma
    if up.is_duct and up.u > up.sound and area >= FULL_WIDTH * up.area:
        # faster than sound through a full-width end: nothing outside can be felt inside
        flow = g * up.p / (up.sound * up.sound) * up.u * up.area
        h0 = up.h + 0.5 * up.u * up.u
        T0 = up.T * (1.0 + 0.5 * (g - 1.0) * (up.u / up.sound) ** 2)
        y, v, p_down = taken_in(down, flow, T0, g, up.R, q_down)
        return flow, up.p, up.u, p_down, v, h0, 1.0, y, True
    n = 2.0 / (g - 1.0)
    m = 2.0 / (down.gamma - 1.0)
    cp = g * up.R / (g - 1.0)
    still_up = max(1.0 + up.u / (n * up.sound), 0.05)
    sonic_up = max((up.u / up.sound + n) / (1.0 + n), 0.05)
    still_down = max(1.0 + down.u / (m * down.sound), 0.05)
    x = min(max(q_up, sonic_up), still_up)
    y = max(q_down, still_down)
    flow = 0.0
    p_up, u_up, p_down, u_down, h0 = up.p, 0.0, down.p, 0.0, up.h
    settled = False
    for _ in range(TRIES):
        # downstream side: pressure, speed v into it, and how the pressure moves with y
        v, dp_dy = 0.0, 0.0
        p_down = down.p
        if down.is_duct:
            v = -down.u - m * down.sound * (1.0 - y)
            p_down = down.p * power(y, down.gamma * m)
            dp_dy = down.gamma * m * p_down / y
        # upstream side: stagnation state
        u, dh_dx, dm_dx, rho_u, dp0_dy = 0.0, 0.0, 0.0, 0.0, 0.0
        p_up = up.p
        T0, h0, a02 = up.T, up.h, g * up.R * up.T
        p0 = up.p
        if up.is_duct:
            a = up.sound * x
            u = up.u + n * up.sound * (1.0 - x)
            p_up = up.p * power(x, g * n)
            h0 = up.h + (a * a - up.sound * up.sound) / (g - 1.0) + 0.5 * u * u
            a02 = a * a + 0.5 * (g - 1.0) * u * u
            p0 = p_up * power(a02 / (a * a), 0.5 * g * n)
            T0 = up.T * a02 / (up.sound * up.sound)
            rho_u = g * p_up / (a * a) * u
            dm_dx = up.area * n * g * p_up / (a * a) / x * (u - a)
            dh_dx = n * up.sound * (a - u)
        elif up.push != 0.0:
            p0 = up.p + up.push * (-v - up.lag)
            dp0_dy = -up.push * m * down.sound
        dpd_dx = 0.0
        if (not down.is_duct) and down.push != 0.0:
            p_down = down.p + down.push * (u - down.lag)
            dpd_dx = -down.push * n * up.sound
        # gas enters a duct at the speed of sound at most
        sonic_down = 1.0 + (math.sqrt(2.0 * g / (g + 1.0) * up.R * T0) + down.u) / (m * down.sound)
        # what the passage admits, squared
        r = p_down / p0
        choked = False
        if r < NEVER_SONIC_ABOVE:
            sonic = sonic_pressure_ratio(g)
            choked = r < sonic
            r = max(r, sonic)
        w = power(r, 1.0 / g)
        scale = area * area * 2.0 * g * g / (g - 1.0) * p0 * p0 / a02
        admitted = scale * w * (w - r)
        by_r = 0.0 if choked else scale * w * ((2.0 * w - r) / (g * r) - 1.0)
        by_x = admitted * (g + 1.0) * dh_dx / a02 + by_r * (dpd_dx / p0 - r * g * dh_dx / a02)
        by_y = by_r * (dp_dy - r * dp0_dy) / p0 + 2.0 * admitted * dp0_dy / p0
        # mass flows and the Newton step
        m_up = rho_u * up.area
        m_down, dmd_dx, dmd_dy = 0.0, 0.0, 0.0
        if down.is_duct:
            T = max(T0 - 0.5 * v * v / cp, 0.3 * T0)
            # not below zero by rounding: at rest the sign would say which way Newton goes
            m_down = max(down.area * p_down * v / (up.R * T), 0.0)
            dmd_dx = -m_down / T * dh_dx / cp
            dmd_dy = down.area / (up.R * T) * (v * dp_dy + p_down * m * down.sound * (1.0 + v * v / (cp * T)))
        f1 = m_up * m_up - admitted
        f2 = m_up - m_down
        # the duct end is at its own limit: sonic, and the passage would admit more
        held = up.is_duct and x <= sonic_up and f1 <= SAME * admitted
        if held:
            dx = 0.0
            dy = f2 / dmd_dy if down.is_duct else 0.0
            flow = m_up
        elif up.is_duct and x <= sonic_up:
            dx = STEP_AWAY * (still_up - sonic_up)
            dy = 0.0
            flow = m_up
        elif up.is_duct and down.is_duct:
            j11 = 2.0 * m_up * dm_dx - by_x
            j12 = -by_y
            j21 = dm_dx - dmd_dx
            j22 = -dmd_dy
            det = j11 * j22 - j12 * j21
            dx = -(f1 * j22 - f2 * j12) / det
            dy = -(j11 * f2 - j21 * f1) / det
            if y + dy > sonic_down and y >= sonic_down:  # held at the speed of sound: only x is free
                dx = -f1 / j11
            flow = m_up
        elif up.is_duct:
            dx = -f1 / (2.0 * m_up * dm_dx - by_x)
            dy = 0.0
            flow = m_up
        elif down.is_duct:
            dx = 0.0
            dy = -(m_down * m_down - admitted) / (2.0 * m_down * dmd_dy - by_y)
            flow = m_down
        else:
            dx, dy = 0.0, 0.0
            flow = math.sqrt(max(admitted, 0.0))
        new_x = x if held else min(max(x + min(max(dx, -0.2), 0.2), sonic_up), still_up)
        new_y = min(max(y + min(max(dy, -0.2), 0.2), still_down), sonic_down)
        dx, dy = new_x - x, new_y - y
        u_up, u_down = u, v
        x, y = new_x, new_y
        near_sonic = up.is_duct and x < NEAR_SONIC * sonic_up
        if abs(dx) + abs(dy) < (ENOUGH_SONIC if near_sonic else ENOUGH):
            settled = True
            if up.is_duct:
                flow += dm_dx * dx
                p_up += g * n * p_up / x * dx
                u_up -= n * up.sound * dx
                h0 += dh_dx * dx
                p_down += dpd_dx * dx
            elif down.is_duct:
                flow += dmd_dy * dy
            if down.is_duct:
                p_down += dp_dy * dy
                u_down += m * down.sound * dy
            break
    return flow, p_up, u_up, p_down, u_down, h0, x, y, settled


@scalar
def free_field(p, u, sound, gamma, target, mean_speed):
    """Pressure and speed at an end behind which the duct goes on for ever. [Pa], [m/s]

    `target` [Pa] and `mean_speed` [m/s] are the state that the endless duct returns to; the wave that
    comes back from it carries no more than that. Both characteristics are known, so the answer is closed.
    """
    half = 0.5 * (gamma - 1.0)
    exponent = half / gamma
    rest = sound * power(target / p, exponent)
    a = 0.5 * (sound + rest + half * (u - mean_speed))
    return p * power(a / sound, 1.0 / exponent), u + (sound - a) / half
