"""Gas in the cylinders: one well-mixed zone, heat release by a burn that answers to the charge."""

from __future__ import annotations

from pulsewright.kernel.reservoirs import add_inflow, blend_terms, clear_inflow, settle
from pulsewright.physics.burn_duration import REFERENCE_PHI as BASE_PHI
from pulsewright.physics.burn_duration import REFERENCE_PRESSURE as BASE_PRESSURE
from pulsewright.physics.burn_duration import REFERENCE_RESIDUAL as BASE_RESIDUAL
from pulsewright.physics.burn_duration import REFERENCE_RPM as BASE_RPM
from pulsewright.physics.burn_duration import REFERENCE_TEMPERATURE as BASE_TEMPERATURE
from pulsewright.physics.burn_duration import burn_duration
from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.cylinder_heat import C1_CLOSED, C1_GAS_EXCHANGE, woschni, woschni_speed
from pulsewright.physics.flame_speed import gasoline_flame_speed
from pulsewright.physics.gas_properties import heat_capacity_at
from pulsewright.physics.knock_delay import autoignition_delay
from pulsewright.physics.positive_power import power
from pulsewright.physics.power_versus_mixture import BEST_LAMBDA, firing_of_engine, torque_of_engine
from pulsewright.physics.slider_crank import (
    chamber_area,
    cylinder_volume,
    mean_piston_speed,
    swept_volume,
    within_cycle,
)
from pulsewright.physics.wiebe import burned_fraction

WIEBE_A, WIEBE_M = 5.0, 2.0
BEST_HEAT = 0.945  # share of the air's heat released at best torque, near what its chemistry allows (0.94), assumed
# The published torque curve already holds what composition, flame speed and gas amount do to the work. These
# are in the model too, so the heat is tilted against the mixture until the torque follows the published curve.
TILT, LEAST_TILT, MOST_TILT = 0.20, 0.95, 1.03
MOST_HEAT = 0.985  # and never more than this share of the fuel's own heat, assumed
END_GAS_WARMER = 1.25  # the unburned gas is squeezed to about this much above its temperature at the spark
MOTORED_GAMMA = 1.33
# The share of cycles that fire is a mean over many cycles, so it follows the mixture over a few of them.
# Taken from each cycle alone it makes a model engine fire and miss by turns near the limits. The first cycle that
# counts has no mean to follow yet.
FOLLOWS = 0.4
COMPLETE_BURN = 0.993  # share that the burn function has reached at the end of its duration


@scalar
def passes(mark, before, width):
    """True where the crank passes `mark` on its way from `before` to `before` + `width`. [deg]"""
    return within_cycle(mark - before) < width


@scalar
def squeezed(r, volume):
    """Pressure [Pa] and temperature [K] of a room's gas where only its volume changes, without loss."""
    ratio = r.volume / volume
    power = ratio ** (r.gamma - 1.0)
    return r.p * ratio * power, r.T * power


@kernel
def spark(c, y, r):
    """The charge at the spark decides how long and how well it burns."""
    air = r.mass * max(1.0 - r.yb - r.yv, 0.0)
    fuel = max(r.vapour, 0.0)
    y.trapped = r.mass
    y.trapped_air = air
    y.trapped_fuel = fuel
    y.residual = r.yb
    y.burning = 0
    follows = 1.0 if y.starting == 1 else FOLLOWS
    if y.starting > 0:
        y.starting -= 1
    starting = y.starting > 0
    if fuel < 1e-3 * air / y.air_fuel_ratio or air <= 0.0:
        y.complete = y.complete if starting else 0.0
        return
    mixture = air / (fuel * y.air_fuel_ratio)
    as_if = BEST_LAMBDA if y.best_burn == 1 else mixture
    y.spark_p, y.spark_T = squeezed(r, cylinder_volume(720.0 - y.spark, y.bore, y.stroke, y.rod, y.compression_ratio))
    flame = gasoline_flame_speed(1.0 / as_if, y.spark_T, y.spark_p, r.yb)
    base = gasoline_flame_speed(BASE_PHI, BASE_TEMPERATURE, BASE_PRESSURE, BASE_RESIDUAL)
    y.duration = burn_duration(y.base_duration, y.rpm, BASE_RPM, flame, base)
    if not starting:
        y.complete += follows * (firing_of_engine(as_if, y.rich_limit) - y.complete)
    y.fresh = air + fuel
    y.fresh_fuel = fuel
    tilt = min(max(1.0 + TILT * (mixture - BEST_LAMBDA), LEAST_TILT), MOST_TILT)
    share = min(BEST_HEAT * tilt * torque_of_engine(as_if, y.rich_cost), MOST_HEAT / as_if)
    y.heat_per_fuel = share * mixture * y.heating_value
    R, k0, k1, k2, k3, k4, k5 = blend_terms(c, r.yb, r.yv, r.yz)
    y.squeeze = R / (R + heat_capacity_at(END_GAS_WARMER * y.spark_T, k0, k1, k2, k3, k4, k5))
    y.induction = 0.0
    y.since = 0.0
    y.done = 0.0
    y.burning = 1


@scalar
def burn(y, r, width):
    """Charge that burns while the crank turns by `width`; returns the heat. [J]"""
    before = y.done
    y.since += width
    y.done = burned_fraction(y.since, 0.0, y.duration, WIEBE_A, WIEBE_M)
    share = y.complete * (y.done - before)
    fuel = min(share * y.fresh_fuel, max(r.vapour, 0.0))
    r.burned += share * y.fresh
    r.vapour -= fuel
    r.burned_fuel += fuel
    return fuel * y.heat_per_fuel


@scalar
def knock_step(y, r, dt):
    """Share of the way to self-ignition that the last gas to burn goes during `dt`."""
    if y.done < COMPLETE_BURN:
        squeezed = y.spark_T * power(r.p / y.spark_p, y.squeeze)
        y.induction += dt / autoignition_delay(y.octane, r.p, squeezed)
    y.knock = max(y.knock, y.induction)


@scalar
def wall_heat_rate(y, r, at, volume):
    """Heat from gas to chamber wall. [W]"""
    closed = y.intake_closes <= at or at < y.exhaust_opens
    c1 = C1_CLOSED if closed else C1_GAS_EXCHANGE
    rise = 0.0
    if closed and y.burning == 1:
        rise = max(r.p - y.close_p * power(y.close_V / volume, MOTORED_GAMMA), 0.0)
    swept = swept_volume(y.bore, y.stroke)
    gas_speed = woschni_speed(c1, mean_piston_speed(y.stroke, y.rpm), swept, y.close_V, y.close_T, y.close_p, rise)
    area = chamber_area(volume, y.bore)
    return y.heat_factor * woschni(y.bore, r.p, r.T, gas_speed) * area * (r.T - y.wall)


@kernel
def turn_crank(c, y, r, degrees, width, dt):
    """What the crank does to the gas of a cylinder while it turns by `width` in `dt`, whatever flows in or out."""
    at = within_cycle(degrees + y.phase)
    y.next_volume = cylinder_volume(at + width, y.bore, y.stroke, y.rod, y.compression_ratio)
    # what falls within a step is done at its own crank angle: else torque hops between cycles with the steps
    if passes(y.intake_closes, at, width):
        y.close_V = cylinder_volume(y.intake_closes, y.bore, y.stroke, y.rod, y.compression_ratio)
        y.close_p, y.close_T = squeezed(r, y.close_V)
    burns = width
    if passes(720.0 - y.spark, at, width):
        spark(c, y, r)
        burns = width - within_cycle(720.0 - y.spark - at)
    y.step_heat = 0.0
    if y.burning == 1:
        y.step_heat = burn(y, r, burns)
        knock_step(y, r, dt * burns / width)
        if passes(y.exhaust_opens, at, width):
            y.burning = 0
    y.step_lost = wall_heat_rate(y, r, at, r.volume) * dt


@kernel
def move_cylinder(c, y, r, degrees, dt):
    """One cylinder a step on, after `turn_crank`, with all that flows in or out."""
    at = within_cycle(degrees + y.phase)
    grows = y.next_volume - r.volume
    # pressure half a step ahead, so that the work is exact to second order
    gain = y.step_heat - y.step_lost + dt * (r.in_energy - r.e * r.in_mass)
    p_middle = r.p + 0.5 * ((r.gamma - 1.0) * gain / r.volume - r.gamma * r.p * grows / r.volume)
    work = p_middle * grows
    add_inflow(r, dt)
    r.energy += y.step_heat - y.step_lost - work
    r.volume = y.next_volume
    settle(c, r)
    clear_inflow(r)
    y.work += work
    if 180.0 <= at < 540.0:
        y.pump_work += work
    y.wall_heat += y.step_lost
    y.released += y.step_heat
    y.p_max = max(y.p_max, r.p)


@kernel
def move_cylinders(c, cylinders, reservoirs, degrees, width, dt):
    """All cylinders while the crank turns from `degrees` by `width` in `dt`."""
    for k in range(cylinders.shape[0]):
        y = cylinders[k]
        r = reservoirs[y.reservoir]
        turn_crank(c, y, r, degrees, width, dt)
        move_cylinder(c, y, r, degrees, dt)


@kernel
def clear_cylinder_sums(cylinders):
    """Start of a cycle: what is summed over it begins at zero."""
    for k in range(cylinders.shape[0]):
        y = cylinders[k]
        y.work = 0.0
        y.pump_work = 0.0
        y.wall_heat = 0.0
        y.released = 0.0
        y.p_max = 0.0
        y.knock = 0.0
