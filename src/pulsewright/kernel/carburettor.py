r"""Fuel drawn by the air in a fixed venturi, at every instant and in both directions of flow.

A circuit is a jet below the fuel level, a well, an air bleed into the well and an outlet in the air
stream. The outlet's suction s_o drives emulsion through the outlet area; what the bleed lets in breaks
that suction down to s in the well:

.. math:: s_o = s + \frac{(m_f + m_b)(m_f/\rho_f + m_b/\rho_a)}{2 A_o^2}, \qquad m_b = A_b \sqrt{2 \rho_a s}

(quadratic in the root of s). The fuel column behind the jet has inertia, the well has a level, and
fuel spills into the outlet only above the lip:

.. math:: \frac{l}{A} \frac{dm_j}{dt} = s - \rho_f g h - \frac{m_j |m_j|}{2 \rho_f A_j^2}, \qquad
          \rho_f A_w \frac{dh}{dt} = m_j - m_f

Source   unsteady momentum of the fuel column after Arias & Shedd, J. Fluids Eng. 127 (2005) 778 (abstract);
         steady parts as in any textbook, e.g. Heywood 1988, section 7.3.
Holds    throttle wide open; fuel enters the air as vapour at once (no wall film).
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.venturi_depression import throat_depression, venturi_depression

GRAVITY = 9.80665  # [m/s²]
WELL_BOTTOM = -0.03  # [m] below the fuel in the bowl, assumed


@scalar
def well_suction(outlet_suction, fuel_flow, bleed, outlet, fuel_density, air_density):
    """Suction left in the well [Pa] and bleed air [kg/s] at an outlet suction [Pa] and fuel flow [kg/s]."""
    k = 2.0 * outlet * outlet
    beta = bleed * math.sqrt(2.0 * air_density)
    whole = 1.0 + beta * beta / (air_density * k)
    if outlet_suction <= 0.0:  # air is pushed back through outlet, well and bleed
        s = outlet_suction / whole
        return s, -beta * math.sqrt(-s)
    linear = beta * fuel_flow * (1.0 / fuel_density + 1.0 / air_density) / k
    rest = fuel_flow * fuel_flow / (fuel_density * k) - outlet_suction
    if rest >= 0.0:
        return 0.0, 0.0
    y = 2.0 * -rest / (linear + math.sqrt(linear * linear - 4.0 * whole * rest))
    return y * y, beta * y


@scalar
def circuit_step(circuit, suction, fuel_density, air_density, dt):
    """One circuit through a time step; returns fuel and bleed air given to the air stream. [kg/s]"""
    if circuit.jet <= 0.0 or circuit.outlet <= 0.0:
        return 0.0, 0.0
    s, air = well_suction(
        suction * circuit.suction_share, circuit.spill, circuit.bleed, circuit.outlet, fuel_density, air_density
    )
    resist = abs(circuit.flow) / (2.0 * fuel_density * circuit.jet * circuit.jet)
    drive = s - fuel_density * GRAVITY * circuit.level
    circuit.flow = (circuit.flow + dt / circuit.column * drive) / (1.0 + dt / circuit.column * resist)
    if circuit.level <= WELL_BOTTOM and circuit.flow < 0.0:
        circuit.flow = 0.0
    over = max(circuit.level - circuit.lip, 0.0)
    circuit.spill = fuel_density * circuit.well_area * over / circuit.spill_time
    circuit.level += dt * (circuit.flow - circuit.spill) / (fuel_density * circuit.well_area)
    circuit.sum_fuel += dt * circuit.spill
    circuit.sum_air += dt * max(air, 0.0)
    return circuit.spill, max(air, 0.0)


@kernel
def meter_fuel(c, carburettors, reservoirs, dt):
    """Fuel and bleed air of every carburettor as sources in its venturi cell."""
    for k in range(carburettors.shape[0]):
        b = carburettors[k]
        i = b.cell
        ratio = min(b.throat / b.area, 1.0)
        flow = c.momentum[i] * b.area
        bowl = reservoirs[b.bowl].p
        if b.mean_metering == 1:
            b.suction = venturi_depression(b.mean_flow, b.throat, bowl, bowl / b.air_density, c.gamma[i], 1.0)
        else:
            b.suction = bowl - c.p[i] + throat_depression(c.p[i], c.rho[i], c.u[i], ratio, c.gamma[i])
        air_share = 1.0 - c.yb[i] - c.yv[i]
        b.sum_forward += dt * max(flow, 0.0) * air_share
        b.sum_back += dt * max(-flow, 0.0) * air_share
        b.sum_suction += dt * b.suction
        if b.on == 0:
            continue
        fuel, air = 0.0, 0.0
        for n in range(b.circuit.shape[0]):
            more_fuel, more_air = circuit_step(b.circuit[n], b.suction, b.fuel_density, b.air_density, dt)
            fuel += more_fuel
            air += more_air
        c.mass_source[i] = fuel + air
        c.vapour_source[i] = fuel
        c.energy_source[i] = fuel * b.fuel_h + air * b.air_h


@kernel
def clear_carburettor_sums(carburettors):
    """Start of a cycle: what is summed over it begins at zero."""
    for k in range(carburettors.shape[0]):
        b = carburettors[k]
        b.sum_forward = 0.0
        b.sum_back = 0.0
        b.sum_suction = 0.0
        for n in range(b.circuit.shape[0]):
            b.circuit[n].sum_fuel = 0.0
            b.circuit[n].sum_air = 0.0
