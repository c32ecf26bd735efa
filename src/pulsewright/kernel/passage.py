r"""Flow between two places through a short passage: valve, plate, bolt, step, open end, port of a volume.

Each side is a duct end or a reservoir. A duct end lies on the wave that runs out of the duct,

.. math:: u + \frac{2a}{\gamma-1} = const, \qquad p \propto a^{2\gamma/(\gamma-1)}

so one number, q = a / a_end, gives its whole state. Upstream gas keeps its stagnation enthalpy, the
passage lets through what its effective area admits from the stagnation state upstream to the static
pressure downstream (`restriction_flow`), and downstream gas enters with that enthalpy. Two unknowns q,
two equations, Newton from the last step's answer; squared flows keep it regular at rest, and
are solved as the parabolas they are.

Source   R. S. Benson, The Thermodynamics and Gas Dynamics of Internal-Combustion Engines, vol. 1 (1982):
         quasi-steady ends with the pipe's own characteristic (from memory of the book).
Holds    no storage in the passage; a loss K on the dynamic head of an area A is the area A/sqrt(1 + K).
"""

from __future__ import annotations

import math
from collections import namedtuple

from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.packed_logarithm import packed_exp, packed_log
from pulsewright.physics.positive_power import power
from pulsewright.physics.sonic_density import sonic_density

# One side as seen from the passage: `area` of the duct, none of a reservoir; `u` runs towards the passage; `work` is
# the flow work p/rho = R T [J/kg]; `push` is the pressure that a reservoir adds to its own for every m/s of the duct
# end on the other side (radiation of an open end).
Side = namedtuple("Side", "area p u sound gamma work h push")
NO_DUCT = 0.0  # [m²]

ENOUGH = 2e-4  # the last Newton step goes into the answer in first order; what it leaves is the square of this
CLOSED = 1e-9  # [m²] less is shut
ENOUGH_SONIC, NEAR_SONIC = 1e-8, 1.02  # there the flow has hardly a slope, and Newton creeps
SAME = 1e-12
AT_SONIC = 1.0 + 1e-9  # nearer than that a passage's own flow has no slope to speak of
STEP_AWAY = 0.1  # of the way from sonic to rest, where the flow has no slope at sonic
TRIES = 40
LEAST_Q = 0.05
LEAST_LEFT = 0.3  # of the stagnation temperature, that gas which enters a duct keeps
FULL_WIDTH = 0.98  # area of a passage over that of the duct end, from which the flow may stay supersonic


@kernel
def standing_pressure(side):
    """Pressure that the side would show if nothing passed. [Pa]"""
    if side.area == NO_DUCT:
        return side.p
    q = max(1.0 + 0.5 * (side.gamma - 1.0) * side.u / side.sound, LEAST_Q)
    return side.p * power(q, 2.0 * side.gamma / (side.gamma - 1.0))


@scalar
def at_rest(side):
    """Pressure without the wave [Pa], q of the side if nothing passed, and p's rise over p of the first order in it."""
    if side.area == NO_DUCT:
        return side.p, 1.0, 0.0
    mach = side.u / side.sound
    return side.p, max(1.0 + 0.5 * (side.gamma - 1.0) * mach, LEAST_Q), side.gamma * mach


@scalar
def runs_forward(a, b):
    """Whether side a drives the flow: its standing pressure is at least that of side b."""
    p_a, q_a, rise_a = at_rest(a)
    p_b, q_b, rise_b = at_rest(b)
    if q_a > LEAST_Q and q_b > LEAST_Q:
        # the logarithm of p_a q_a^k over p_b q_b^k, with ln x between 1 - 1/x and x - 1: mostly tells without a power
        apart = p_a - p_b
        if (apart + rise_a * p_b) * q_b < rise_b * p_b:
            return False
        if (apart - rise_b * p_a) * q_a >= -rise_a * p_a:
            return True
    return standing_pressure(a) >= standing_pressure(b)


@scalar
def taken_in(down, flow, work0, gamma, q_down):
    """A duct that has to take a given flow [kg/s] of stagnation flow work R T0 [J/kg]: its q, speed, pressure."""
    m = 2.0 / (down.gamma - 1.0)
    work_per_square = 0.5 * (gamma - 1.0) / gamma
    y = max(q_down, 1.0 + down.u / (m * down.sound))
    sonic = 1.0 + (math.sqrt(2.0 * gamma / (gamma + 1.0) * work0) + down.u) / (m * down.sound)
    v, p = 0.0, down.p
    if down.area > NO_DUCT:
        for _ in range(TRIES):
            v = -down.u - m * down.sound * (1.0 - y)
            p = down.p * power(y, down.gamma * m)
            work = max(work0 - work_per_square * v * v, LEAST_LEFT * work0)
            off = down.area * p * v / work - flow
            slope = down.area / work * (v * down.gamma * m * p / y + p * m * down.sound)
            new_y = min(y + min(max(-off / slope, -0.2), 0.2), sonic)
            step, y = new_y - y, new_y
            if abs(step) < ENOUGH:
                break
    return y, v, p


@scalar
def gone_supersonic(up, area):
    """True where gas leaves a full-width end faster than sound: nothing outside can be felt inside."""
    return up.area > NO_DUCT and up.u > up.sound and area >= FULL_WIDTH * up.area


@scalar
def supersonic_flow(up, down, y):
    """What `newton_step` returns, for gas that leaves faster than sound; y : q of the last step downstream."""
    g = up.gamma
    flow = g * up.p / (up.sound * up.sound) * up.u * up.area
    work0 = up.work * (1.0 + 0.5 * (g - 1.0) * (up.u / up.sound) ** 2)
    y, v, p_down = taken_in(down, flow, work0, g, y)
    return flow, up.p, up.u, p_down, v, up.h + 0.5 * up.u * up.u, 1.0, y, True


@scalar
def reciprocals(up, down):
    """Of gamma - 1 up and down, gamma + 1 and gamma up, both speeds of sound, by few divisions: they take long."""
    narrow_up, narrow_down, wide = up.gamma - 1.0, down.gamma - 1.0, up.gamma + 1.0
    both_narrow, both_wide = narrow_up * narrow_down, wide * up.gamma
    all_four = 1.0 / (both_narrow * both_wide)
    both_sounds = 1.0 / (up.sound * down.sound)
    return (
        all_four * narrow_down * both_wide,
        all_four * narrow_up * both_wide,
        all_four * both_narrow * up.gamma,
        all_four * both_narrow * wide,
        both_sounds * down.sound,
        both_sounds * up.sound,
    )


@scalar
def newton_move(m_up, dm_dx, m_down, dmd_dx, dmd_dy, admitted, by_x, by_y, from_duct, to_duct, held, at_sonic, room):
    """Where Newton goes in x and y, from the flows [kg/s] at both ends, what the passage admits, squared, and how all
    of them move with x and y; `room` : what is left for y to the speed of sound.

    What is admitted is taken as straight, and so is the flow of a duct end, but its square as the parabola that this
    is: where a valve hardly opens, a straight line along it misses by far more than all else that bends.
    """
    miss, leak = m_up * m_up - admitted, m_up - m_down
    j11, j21 = 2.0 * m_up * dm_dx - by_x, dm_dx - dmd_dx
    det = by_y * j21 - j11 * dmd_dy
    # at the speed of sound and wanting to go on: only x is free
    alone = not to_duct or (room <= 0.0 and (j21 * miss - j11 * leak - room * det) * det > 0.0)
    # squared flow less admitted, with the other unknown left out: 0 = square step² + slope step + off
    square = (dm_dx * dm_dx if alone else dm_dx * dm_dx * dmd_dy) if from_duct else dmd_dy * dmd_dy
    slope = (j11 if alone else -det) if from_duct else 2.0 * m_down * dmd_dy - by_y
    off = (miss if alone else miss * dmd_dy - by_y * leak) if from_duct else m_down * m_down - admitted
    root = math.sqrt(max(slope * slope - 4.0 * square * off, 0.0))
    step = -2.0 * off / (slope - root if from_duct else slope + root)  # flow falls with x and rises with y
    dx = step if from_duct and not at_sonic else 0.0
    dy = (leak + j21 * dx) / (dmd_dy if to_duct else 1.0) if from_duct else step
    return dx, dy if to_duct and (held or not at_sonic) else 0.0


@scalar
def newton_step(up, down, area, most, x, y):
    """Flow from `up` to `down` through an effective `area` [m²], by one Newton step from q = x up and y down.

    most : flow [kg/s] between two reservoirs at most.
    Returns mass flow [kg/s], pressure and speed (in the flow's direction) at the upstream and at the
    downstream side [Pa, m/s], stagnation enthalpy [J/kg], both q after the step, and whether it was short enough
    to be the last; the numbers then hold with the step. A shut passage is a wall to both sides. There are no branches,
    so that many passages can go side by side.
    """
    g = up.gamma
    from_duct, to_duct, shut = up.area > NO_DUCT, down.area > NO_DUCT, area < CLOSED
    per_narrow, per_narrow_down, per_wide, per_g, per_sound, per_sound_down = reciprocals(up, down)
    ns, ms = 2.0 * per_narrow * up.sound, 2.0 * per_narrow_down * down.sound
    work_per_heat = (g - 1.0) * per_g
    # where both q can be
    still_up = max(1.0 + 0.5 * (g - 1.0) * up.u * per_sound, 0.05)
    sonic_up = max(((g - 1.0) * up.u * per_sound + 2.0) * per_wide, 0.05)
    still_down = max(1.0 + 0.5 * (down.gamma - 1.0) * down.u * per_sound_down, 0.05)
    x = (still_up if shut else min(max(x, sonic_up), still_up)) if from_duct else 1.0
    y = (still_down if shut else max(y, still_down)) if to_duct else 1.0
    # speeds, and pressures without the waves
    u = up.u + ns * (1.0 - x) if from_duct else 0.0
    v = -down.u - ms * (1.0 - y) if to_duct else 0.0
    outer_up, outer_down = up.p - up.push * v, down.p + down.push * u
    mach = u * per_sound
    warmer = x * x + 0.5 * (g - 1.0) * mach * mach if from_duct else 1.0
    # all powers, by one logarithm and one exponential each; densities over that at rest
    wave_down = 2.0 * down.gamma * per_narrow_down * packed_log(y)
    ram = g * per_narrow * packed_log(warmer)
    w = packed_exp((packed_log(outer_down / outer_up) + wave_down - ram) * per_g)
    w_sonic = sonic_density(g)
    p_up = outer_up * packed_exp(2.0 * g * per_narrow * packed_log(x))
    p_down = outer_down * packed_exp(wave_down)
    p0 = outer_up * packed_exp(ram)
    per_p0 = 1.0 / p0
    # upstream side, and how it moves with x
    a, a02 = up.sound * x, up.sound * up.sound * warmer
    both_squares = 1.0 / (a * a * a02)
    per_a2, per_a02 = both_squares * a02, both_squares * a * a
    work0 = up.work * warmer
    h0 = up.h + ((a * a - up.sound * up.sound) * per_narrow + 0.5 * u * u if from_duct else 0.0)
    m_up = g * p_up * per_a2 * u * up.area if from_duct else 0.0
    dp_dx = 2.0 * g * per_narrow * p_up * per_a2 * a * up.sound
    dm_dx = up.area * dp_dx * per_a2 * (u - a) if from_duct else 0.0
    dh_dx = ns * (a - u) if from_duct else 0.0
    dpd_dx = -down.push * ns
    # downstream side, and how both pressures move with y
    dp_dy = 2.0 * down.gamma * per_narrow_down * p_down / y if to_duct else 0.0
    dp0_dy = -up.push * ms
    per_work = 1.0 / max(work0 - 0.5 * v * v * work_per_heat, LEAST_LEFT * work0)
    # not below zero by rounding: at rest the sign would say which way Newton goes
    m_down = max(down.area * p_down * v * per_work, 0.0) if to_duct else 0.0
    dmd_dx = -m_down * per_work * dh_dx * work_per_heat
    gained = p_down * ms * (1.0 + v * v * work_per_heat * per_work)
    dmd_dy = down.area * per_work * (v * dp_dy + gained) if to_duct else 0.0
    # what the passage admits, squared
    r_sonic = 2.0 * per_wide * w_sonic
    choked = p_down * per_p0 < r_sonic
    r = max(p_down * per_p0, r_sonic)
    w = w_sonic if choked else w
    scale = area * area * 2.0 * g * g * per_narrow * p0 * p0 * per_a02
    admitted = scale * w * (w - r)
    by_r = 0.0 if choked else scale * w * ((2.0 * w - r) * per_g / r - 1.0)
    by_x = admitted * (g + 1.0) * dh_dx * per_a02 + by_r * (dpd_dx * per_p0 - r * g * dh_dx * per_a02)
    by_y = (by_r * (dp_dy - r * dp0_dy) + 2.0 * admitted * dp0_dy) * per_p0
    # the step; gas enters a duct at the speed of sound at most
    sonic_speed = math.sqrt(2.0 * g * per_wide * work0)
    sonic_down = 1.0 + 0.5 * (down.gamma - 1.0) * per_sound_down * (sonic_speed + down.u)
    at_sonic = from_duct and x <= AT_SONIC * sonic_up
    held = at_sonic and m_up * m_up - admitted <= SAME * admitted  # at its own limit; the passage would admit more
    dx, dy = newton_move(
        m_up, dm_dx, m_down, dmd_dx, dmd_dy, admitted, by_x, by_y, from_duct, to_duct, held, at_sonic, sonic_down - y
    )
    dx = STEP_AWAY * (still_up - sonic_up) if at_sonic and not held else dx
    new_x = min(max(x + min(max(dx, -0.2), 0.2), sonic_up), still_up) if from_duct and not held else x
    new_y = min(max(y + min(max(dy, -0.2), 0.2), still_down), sonic_down) if to_duct else y
    dx, dy = (0.0, 0.0) if shut else (new_x - x, new_y - y)
    near_sonic = from_duct and x + dx < NEAR_SONIC * sonic_up
    settled = abs(dx) + abs(dy) < (ENOUGH_SONIC if near_sonic else ENOUGH) and not gone_supersonic(up, area)
    # what the last step adds
    through_both = min(math.sqrt(max(admitted, 0.0)), most)
    flow = m_up + dm_dx * dx if from_duct else (m_down + dmd_dy * dy if to_duct else through_both)
    return (
        0.0 if shut else flow,
        p_up + dp_dx * dx,
        u - ns * dx if from_duct else 0.0,
        p_down + dpd_dx * dx + dp_dy * dy,
        v + ms * dy if to_duct else 0.0,
        h0 + dh_dx * dx,
        x + dx,
        y + dy,
        settled,
    )


@kernel
def settled_flow(up, down, area, most, x, y):
    """What `newton_step` returns once Newton has settled, from q = x up and y down.

    A call, since most passages need one step alone: folded in, it would slow those too.
    """
    if gone_supersonic(up, area):
        return supersonic_flow(up, down, y)
    for _ in range(TRIES):
        found = newton_step(up, down, area, most, x, y)
        x, y = found[6], found[7]
        if found[8]:
            break
    return found


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
