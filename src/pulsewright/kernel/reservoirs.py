"""Well-mixed places: chambers, and the mixed gas in front of a mouth."""

from __future__ import annotations

from pulsewright.kernel.layout import ATMOSPHERE, VOLUME
from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.gas_properties import blend, energy_at, heat_capacity_at

# [K] that comes out of a mouth: air that swings to and fro through a carburettor takes up fuel each time, and would
# be cooled by it to where no gas data hold.
COLDEST = 200.0
NEAR = 3e-3  # of the temperature, as Newton's last step: it leaves about a tenth of its square, which does not add up


@scalar
def blend_terms(c, yb, yv, yz):
    """Gas constant [J/(kg K)] and the six energy coefficients of a gas of these fractions."""
    wa, wv, ws, wr = blend(yb, yv, yz, c.correct_fuel, c.rich_fuel)
    g = c.gas_energy
    k = c.gas_constant
    return (
        wa * k[0] + wv * k[1] + ws * k[2] + wr * k[3],
        wa * g[0, 0] + wv * g[1, 0] + ws * g[2, 0] + wr * g[3, 0],
        wa * g[0, 1] + wv * g[1, 1] + ws * g[2, 1] + wr * g[3, 1],
        wa * g[0, 2] + wv * g[1, 2] + ws * g[2, 2] + wr * g[3, 2],
        wa * g[0, 3] + wv * g[1, 3] + ws * g[2, 3] + wr * g[3, 3],
        wa * g[0, 4] + wv * g[1, 4] + ws * g[2, 4] + wr * g[3, 4],
        wa * g[0, 5] + wv * g[1, 5] + ws * g[2, 5] + wr * g[3, 5],
    )


@kernel
def gas_at(c, e, yb, yv, yz, guess, flow_work):
    """Temperature, gas constant and gamma of a gas of internal energy `e` [J/kg], or of enthalpy with `flow_work` 1."""
    R, k0, k1, k2, k3, k4, k5 = blend_terms(c, yb, yv, yz)
    more = flow_work * R
    T = guess
    for _ in range(4):
        off = e - energy_at(T, k0, k1, k2, k3, k4, k5) - more * T
        change = off / (heat_capacity_at(T, k0, k1, k2, k3, k4, k5) + more)
        T = max(T + change, 0.2 * T)
        if abs(change) < NEAR * T:
            break
    return T, R, 1.0 + R / heat_capacity_at(T, k0, k1, k2, k3, k4, k5)


@scalar
def gas_of(c, T, yb, yv, yz):
    """Internal energy [J/kg], gas constant and gamma of a gas at `T` [K]."""
    R, k0, k1, k2, k3, k4, k5 = blend_terms(c, yb, yv, yz)
    return energy_at(T, k0, k1, k2, k3, k4, k5), R, 1.0 + R / heat_capacity_at(T, k0, k1, k2, k3, k4, k5)


@scalar
def settle(c, r):
    """State of a place of known mass, energy and volume."""
    per_mass = 1.0 / r.mass
    r.yb = r.burned * per_mass
    r.yv = r.vapour * per_mass
    r.yz = r.burned_fuel * per_mass
    r.e = r.energy * per_mass
    r.T, r.R, r.gamma = gas_at(c, r.e, r.yb, r.yv, r.yz, r.T, 0.0)
    r.p = r.mass * r.R * r.T / r.volume


@scalar
def add_inflow(r, dt):
    """Mass, energy and fractions that flowed in during the step."""
    r.mass += dt * r.in_mass
    r.energy += dt * r.in_energy
    r.burned += dt * r.in_b
    r.vapour += dt * r.in_v
    r.burned_fuel += dt * r.in_z


@scalar
def clear_inflow(r):
    r.in_mass = 0.0
    r.in_energy = 0.0
    r.in_b = 0.0
    r.in_v = 0.0
    r.in_z = 0.0


@scalar
def pass_on(way, r, into):
    """What passes along a `way` (joint or leak) flows `into` a reservoir [kg/s] (negative: out of it)."""
    r.in_mass += into
    r.in_energy += into * way.h0
    r.in_b += into * way.yb
    r.in_v += into * way.yv
    r.in_z += into * way.yz


@scalar
def mix_zone(c, r, dt):
    """Gas in front of a mouth: keeps a fixed mass, takes in what comes out and is replaced from far away.

    `kept` is the share of blown-out fuel vapour that stays in reach of the mouth; the rest is lost.
    """
    moved = dt * r.in_mass
    if moved > 0.0:
        share = min(moved / r.zone_mass, 1.0)
        yb, yv, yz = r.in_b / r.in_mass, r.in_v / r.in_mass, r.in_z / r.in_mass
        # a slow jet gives its flow work to the surroundings at the same pressure
        T_in, _R, _gamma = gas_at(c, r.in_energy / r.in_mass, yb, yv, yz, r.T, 1.0)
        r.yb += share * (yb - r.yb)
        r.yv += share * (r.kept * yv - r.yv)
        r.yz += share * (yz - r.yz)
        r.T += share * (max(T_in, COLDEST) - r.T)
    else:
        share = min(-moved / r.zone_mass, 1.0)
        r.yb -= share * r.yb
        r.yv += share * (r.far_yv - r.yv)
        r.yz -= share * r.yz
        r.T += share * (r.far_T - r.T)
    r.e, r.R, r.gamma = gas_of(c, r.T, r.yb, r.yv, r.yz)


@kernel
def move_reservoirs(c, reservoirs, dt):
    """Chambers and mouths after the step; cylinders are moved by `cylinder`."""
    for k in range(reservoirs.shape[0]):
        r = reservoirs[k]
        if r.kind == VOLUME:
            add_inflow(r, dt)
            settle(c, r)
            clear_inflow(r)
        elif r.kind == ATMOSPHERE:
            if r.in_mass != 0.0:
                mix_zone(c, r, dt)
            clear_inflow(r)
