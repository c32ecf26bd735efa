r"""Fuel drawn by the air in a venturi, at every instant and in both directions of flow.

A circuit is a jet below the fuel level, a well, an air bleed into the well and an outlet in the air
stream. The outlet's suction s_o drives emulsion through the outlet area; what the bleed lets in breaks
that suction down to s in the well:

.. math:: s_o = s + \frac{(m_f + m_b)(m_f/\rho_f + m_b/\rho_a)}{2 A_o^2}, \qquad m_b = A_b \sqrt{2 \rho_a s}

(quadratic in the root of s). The fuel column behind the jet has inertia, the well has a level, and
fuel spills into the outlet only above the lip:

.. math:: \frac{l}{A} \frac{dm_j}{dt} = s - \rho_f g h - \frac{m_j |m_j|}{2 \rho_f A_j^2}, \qquad
          \rho_f A_w \frac{dh}{dt} = m_j - m_f

Where an emulsion tube carries the bleed's air into the well, only its holes above the fuel pass any: the bleed works
through both areas one behind the other, the holes take what is left of the suction, and the fuel in the tube stands
below that in the well by as much head as they take,

.. math:: \frac{1}{A_b^2} \to \frac{1}{A_b^2} + \frac{1}{A_h(z)^2}, \qquad
          \rho_f g (h - z) = s \frac{A_b^2}{A_b^2 + A_h^2}

which it follows with a lag; what the tube loses the well gets.

An outlet feels a share of the throat's suction, and where a throttle stands in the bore, a share of the suction
behind it. A piston that suction lifts (constant velocity) has mass, weight, spring, and a damping by the air
that its diaphragm draws through the vent of its chamber:

.. math:: m \ddot x = A s - F - k x - D \dot x |\dot x|, \qquad D = \frac{\rho_a A^3}{2 (C_d A_v)^2}

A share X of the fuel lands on the walls of the manifold and runs along them to the ports, where it evaporates on the
warm wall. The film holds the fuel of many cycles, so that what leaves it is the mean of the last one,

.. math:: m_n = X s_n \overline{m_f}, \qquad \sum_n s_n = 1

and at rest all of it arrives; the rest of the fuel goes where the air goes.

Source   unsteady momentum of the fuel column after Arias & Shedd, J. Fluids Eng. 127 (2005) 778 (abstract);
         steady parts as in any textbook, e.g. Heywood 1988, section 7.3; piston by Newton and Bernoulli, the air
         in its chamber taken as incompressible. Emulsion tube: communicating vessels and Bernoulli, fuel and air in
         the outlet as one even mixture (homogeneous two-phase flow, as in Heywood 7.3, from memory).
         Film after Aquino, SAE 810494 (from memory), in steady running.
Holds    what is no film enters the air as vapour at once.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import kernel, scalar
from pulsewright.physics.needle_annulus import needle_annulus, needle_diameter
from pulsewright.physics.throttle_openings import slide_area, slide_loss
from pulsewright.physics.venturi_depression import throat_depression, venturi_depression

GRAVITY = 9.80665  # [m/s²]
WELL_BOTTOM = -0.03  # [m] below the fuel in the bowl, assumed
MOST_SUCTION = 0.47  # [-] of the bowl's pressure: gas leaves an outlet at the speed of sound at most
LEAST_LIFT = 0.10  # [-] of the bore, where a piston rests on its stop, assumed


@scalar
def well_suction(outlet_suction, fuel_flow, bleed, outlet, fuel_density, air_density):
    """Suction left in the well [Pa] and bleed air [kg/s] at an outlet suction [Pa] and fuel flow [kg/s]."""
    per_k = 0.5 / (outlet * outlet)
    beta = bleed * math.sqrt(2.0 * air_density)
    whole = 1.0 + 2.0 * bleed * bleed * per_k
    if outlet_suction <= 0.0:  # air is pushed back through outlet, well and bleed
        s = outlet_suction / whole
        return s, -beta * math.sqrt(-s)
    flow_by_fuel = fuel_flow * per_k / fuel_density
    linear = beta * (flow_by_fuel + fuel_flow * per_k / air_density)
    rest = fuel_flow * flow_by_fuel - outlet_suction
    if rest >= 0.0:
        return 0.0, 0.0
    y = 2.0 * -rest / (linear + math.sqrt(linear * linear - 4.0 * whole * rest))
    return y * y, beta * y


@scalar
def tube_bleed(circuit):
    """Area through which the bleed works, in series with the tube's holes that stand above its fuel. [m²]"""
    holes = 0.0
    for k in range(circuit.rows):
        free = (circuit.row_top[k] - circuit.tube_level) / circuit.row_bore[k]
        holes += circuit.row_area[k] * min(max(free, 0.0), 1.0)
    both = circuit.bleed * circuit.bleed + holes * holes
    return circuit.bleed * holes / math.sqrt(both) if both > 0.0 else 0.0


@scalar
def drain_tube(circuit, suction, bleed, fuel_density, dt):
    """The fuel in an emulsion tube a step on; returns what it gives to the well. [kg/s]

    suction : in the well [Pa]; bleed : what `tube_bleed` said [m²], whose share of the bleed alone tells the drop
    that the holes take.
    """
    share = bleed / circuit.bleed if circuit.bleed > 0.0 else 0.0
    taken = suction * (1.0 - share * share)
    deepest = circuit.row_top[0]
    for k in range(circuit.rows):
        deepest = min(deepest, circuit.row_top[k] - circuit.row_bore[k])
    wished = circuit.level - taken / (fuel_density * GRAVITY)
    wished = min(max(wished, deepest), max(circuit.level, deepest))
    by_time = dt / circuit.tube_time
    level = (circuit.tube_level + by_time * wished) / (1.0 + by_time)
    given = fuel_density * circuit.tube_area * (circuit.tube_level - level) / dt
    circuit.tube_level = level
    return given


@scalar
def circuit_step(circuit, suction, suction_behind, fuel_density, air_density, dt):
    """One circuit through a time step; returns fuel and bleed air given to the air stream. [kg/s]

    suction, suction_behind : of the throat and behind the throttle. [Pa]
    """
    if circuit.jet <= 0.0 or circuit.outlet <= 0.0:
        return 0.0, 0.0
    at_outlet = suction * circuit.suction_share + suction_behind * circuit.behind_share
    bleed = tube_bleed(circuit) if circuit.rows > 0 else circuit.bleed
    s, air = well_suction(at_outlet, circuit.spill, bleed, circuit.outlet, fuel_density, air_density)
    drained = drain_tube(circuit, s, bleed, fuel_density, dt) if circuit.rows > 0 else 0.0
    by_column = dt / circuit.column
    resist = abs(circuit.flow) / (2.0 * fuel_density * circuit.jet * circuit.jet)
    drive = s - fuel_density * GRAVITY * circuit.level
    circuit.flow = (circuit.flow + by_column * drive) / (1.0 + by_column * resist)
    if circuit.level <= WELL_BOTTOM and circuit.flow < 0.0:
        circuit.flow = 0.0
    over = max(circuit.level - circuit.lip, 0.0)
    circuit.spill = fuel_density * circuit.well_area * over / circuit.spill_time
    circuit.level += dt * (circuit.flow + drained - circuit.spill) / (fuel_density * circuit.well_area)
    circuit.sum_fuel += dt * circuit.spill
    circuit.sum_air += dt * max(air, 0.0)
    return circuit.spill, max(air, 0.0)


@kernel
def meter_fuel(c, carburettors, reservoirs, dt):
    """Fuel and bleed air of every carburettor as sources in its venturi cell and behind its throttle."""
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
        behind = 0.0
        if b.behind >= 0:
            behind = min(bowl - c.p[b.behind], MOST_SUCTION * bowl)
        fuel, air, fuel_behind, air_behind = 0.0, 0.0, 0.0, 0.0
        for n in range(b.circuit.shape[0]):
            more_fuel, more_air = circuit_step(b.circuit[n], b.suction, behind, b.fuel_density, b.air_density, dt)
            if b.circuit[n].enters_behind == 1:
                fuel_behind += more_fuel
                air_behind += more_air
            else:
                fuel += more_fuel
                air += more_air
        flies = 1.0 - b.film_share
        give(c, i, b, flies * fuel, air)
        if b.behind >= 0:
            give(c, b.behind, b, flies * fuel_behind, air_behind)
        for n in range(b.fed):
            for m in range(b.port_cells):
                give(c, b.film_cell[n] - m, b, b.film_split[n] * b.film_flow / b.port_cells, 0.0)


@scalar
def give(c, i, b, fuel, air):
    """Fuel and bleed air [kg/s] of a carburettor as sources in cell i."""
    c.mass_source[i] = fuel + air
    c.vapour_source[i] = fuel
    c.energy_source[i] = fuel * b.fuel_h + air * b.air_h


@kernel
def move_pistons(carburettors, joints, dt):
    """Pistons that suction lifts, one step on; throat, needle and passage follow them."""
    for k in range(carburettors.shape[0]):
        b = carburettors[k]
        if b.moves == 1:
            move_piston(b, dt)
            follow_piston(b, joints[b.gate])


@scalar
def move_piston(b, dt):
    """One piston by its forces, between its stops."""
    push = b.diaphragm * b.suction - b.weight - b.spring_rate * b.lift
    by_mass = dt / b.mass
    b.lift_speed = (b.lift_speed + by_mass * push) / (1.0 + by_mass * b.damping * abs(b.lift_speed))
    lift = b.lift + dt * b.lift_speed
    b.lift = min(max(lift, LEAST_LIFT * b.bore), b.bore)
    if b.lift != lift:
        b.lift_speed = 0.0
    b.sum_lift += dt * b.lift


@scalar
def follow_piston(b, gate):
    """What a piston's lift sets: the throat's area, the ring round the needle, the passage behind."""
    b.throat = b.throat_cd * slide_area(b.lift, b.bore)
    needle = needle_diameter(b.lift, b.needle_straight, b.needle, b.needle_slope)
    b.circuit[0].outlet = b.needle_cd * needle_annulus(b.needle_jet, needle)
    open_area = b.gate_area / math.sqrt(1.0 + b.plate_loss + slide_loss(b.lift, b.bore))
    gate.area_ab = open_area
    gate.area_ba = open_area


@kernel
def clear_carburettor_sums(carburettors):
    """Start of a cycle: what is summed over it begins at zero."""
    for k in range(carburettors.shape[0]):
        b = carburettors[k]
        b.sum_forward = 0.0
        b.sum_back = 0.0
        b.sum_suction = 0.0
        b.sum_lift = 0.0
        for n in range(b.circuit.shape[0]):
            b.circuit[n].sum_fuel = 0.0
            b.circuit[n].sum_air = 0.0
