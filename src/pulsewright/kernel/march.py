"""One engine cycle of a whole case."""

from __future__ import annotations

import math

from pulsewright.kernel.carburettor import clear_carburettor_sums, meter_fuel, move_pistons
from pulsewright.kernel.cells import face_flows, face_states, fastest_signal, gas_states, means, new_states
from pulsewright.kernel.cylinder import clear_cylinder_sums, move_cylinders
from pulsewright.kernel.duct_ends import fill_ghosts
from pulsewright.kernel.joints import fill_reservoirs, solve_joints
from pulsewright.kernel.porous_walls import porous_walls
from pulsewright.kernel.reservoirs import move_reservoirs
from pulsewright.physics.compiled import kernel, scalar

MEANS_EVERY = 4  # steps, well under two crank degrees: the means of the cells need no more
MOST_STEPS = 4_000_000  # a cycle that needs more has gone astray


@kernel
def clear_sums(c, joints, cylinders, carburettors):
    """Start of a cycle."""
    c.mean_flow[:] = 0.0
    c.mean_flow_T[:] = 0.0
    c.mean_p[:] = 0.0
    c.mean_T[:] = 0.0
    c.mean_fuel[:] = 0.0
    for k in range(joints.shape[0]):
        j = joints[k]
        j.sum_ab = 0.0
        j.sum_ba = 0.0
        j.sum_energy = 0.0
        j.sum_vapour = 0.0
        j.sum_fuel = 0.0
        j.sum_speed = 0.0
        j.unsolved = 0
    clear_cylinder_sums(cylinders)
    clear_carburettor_sums(carburettors)


@kernel
def one_step(c, ends, joints, reservoirs, cylinders, carburettors, leaks, valves, degrees, width, dt):
    """Everything once, from crank angle `degrees` to `degrees` + `width`."""
    face_states(c, dt)
    face_flows(c)
    solve_joints(c, joints, reservoirs, valves, degrees + 0.5 * width, dt)
    meter_fuel(c, carburettors, reservoirs, dt)
    fill_reservoirs(joints, reservoirs)
    new_states(c, dt)
    if leaks.shape[0] > 0:
        porous_walls(c, leaks, dt)
        gas_states(c)  # of all cells: the few beside the walls alone would not vectorise, and take twice as long
    move_pistons(carburettors, joints, dt)
    move_cylinders(c, cylinders, reservoirs, degrees, width, dt)
    move_reservoirs(c, reservoirs, dt)
    fill_ghosts(c, ends)


@kernel
def keep_trace(c, reservoirs, traces, cylinder_traces, row):
    """Pressure, speed and sound of all cells, pressure of all reservoirs, at a whole crank degree."""
    for i in range(traces.shape[2]):
        traces[0, row, i] = c.p[i]
        traces[1, row, i] = c.u[i]
        traces[2, row, i] = c.sound[i]
        traces[3, row, i] = c.T[i]
    for k in range(reservoirs.shape[0]):
        cylinder_traces[row, k] = reservoirs[k].p


@scalar
def next_step(run, fastest, degrees):
    """Length of the next step [s] and its crank degrees; ends the cycle at 720. 0 s: a cell is lost."""
    rate = 6.0 * run.rpm  # crank degrees a second
    dt = min(run.courant / fastest, run.longest)
    if not (dt > 0.0) or not math.isfinite(dt):
        return 0.0, 0.0
    width = min(dt * rate, 720.0 - degrees)
    return width / rate, width


@scalar
def later(degrees, width):
    """Crank angle after a step; what rounding leaves of a cycle is let go."""
    after = degrees + width
    return 720.0 if 720.0 - after < 1e-9 else after


@kernel
def carry_over(joints, carburettors, seconds):
    """Means of a cycle of `seconds` that the next needs: speed in a free field, air of mean metering, film."""
    for k in range(joints.shape[0]):
        joints[k].mean_speed = joints[k].sum_speed / seconds
    for k in range(carburettors.shape[0]):
        b = carburettors[k]
        b.mean_flow = (b.sum_forward - b.sum_back) / seconds
        b.film_flow = b.film_share * (b.circuit[0].sum_fuel + b.circuit[1].sum_fuel) / seconds


@kernel
def march_cycle(c, run, ends, joints, reservoirs, cylinders, carburettors, leaks, valves, traces, reservoir_traces):
    """Run one cycle of 720 crank degrees; `run` says speed and step and takes the outcome.

    traces : (4, 720, slots) pressure, speed, sound speed, temperature by crank degree, filled when run.trace is 1.
    """
    clear_sums(c, joints, cylinders, carburettors)
    degrees = 0.0
    row = 0
    steps = 0
    unsummed = 0.0  # [s] since the means were last added to
    while degrees < 720.0:
        dt, width = next_step(run, fastest_signal(c, run.slots), degrees)
        if dt <= 0.0 or steps > MOST_STEPS:
            run.failed = 1
            return
        while run.trace == 1 and row < traces.shape[1] and degrees >= row:  # a long step fills several rows
            keep_trace(c, reservoirs, traces, reservoir_traces, row)
            row += 1
        one_step(c, ends, joints, reservoirs, cylinders, carburettors, leaks, valves, degrees, width, dt)
        degrees = later(degrees, width)
        steps += 1
        unsummed += dt
        if steps % MEANS_EVERY == 0 or degrees >= 720.0:
            means(c, unsummed)
            unsummed = 0.0
    while run.trace == 1 and row < traces.shape[1]:
        keep_trace(c, reservoirs, traces, reservoir_traces, row)
        row += 1
    run.steps = steps


@kernel
def march_time(c, run, ends, joints, reservoirs, cylinders, carburettors, leaks, valves, seconds):
    """March for a time without an engine: tubes and chambers for comparisons with closed formulas."""
    passed = 0.0
    while passed < seconds:
        dt = min(run.courant / fastest_signal(c, run.slots), run.longest)
        if not (dt > 0.0) or not math.isfinite(dt):
            run.failed = 1
            return
        dt = min(dt, seconds - passed)
        one_step(c, ends, joints, reservoirs, cylinders, carburettors, leaks, valves, 0.0, 0.0, dt)
        passed += dt
        if seconds - passed < 1e-15:
            passed = seconds
        run.steps += 1
