"""One engine cycle of many cases at once, a block of threads for each.

A thread takes a cell (several, where there are more cells than threads); `warps` says who does the rest. Everything
that is computed is a function of `kernel`; what is written here is only who does it, and when all wait for all.
"""

from __future__ import annotations

import math
from typing import Any

import numba.cuda
from numba import config, float64

from pulsewright.gpu.cells_on_card import load_cell, store_cell, view_cells
from pulsewright.gpu.tables_on_card import (
    CARBURETTOR_ROW,
    CYLINDER_ROW,
    JOINT_ROW,
    RESERVOIR_ROW,
    load_words,
    store_words,
)
from pulsewright.gpu.warps import NONE, WARP, tasks_of
from pulsewright.kernel.carburettor import meter_fuel, move_pistons
from pulsewright.kernel.cells import (
    add_to_means,
    balance,
    face_flow,
    face_fractions,
    face_state,
    gas_state,
    stocks_of,
)
from pulsewright.kernel.cylinder import move_cylinder, turn_crank
from pulsewright.kernel.duct_ends import fill_ghosts
from pulsewright.kernel.joints import solve_joint
from pulsewright.kernel.march import MEANS_EVERY, MOST_STEPS, carry_over, clear_sums, later, next_step
from pulsewright.kernel.porous_walls import porous_walls
from pulsewright.kernel.reservoirs import move_reservoirs
from pulsewright.kernel.skin import renew_wall

cuda: Any = numba.cuda  # what it offers inside a kernel has no types

REGISTERS = 255  # of a thread, all that it can have: fewer let more warps run side by side, but spill
PARTS = 16  # in which the fastest signal is looked for: every thread reads all of them
# Rows used of each padded table of a case.
JOINTS, RESERVOIRS, CYLINDERS, CARBURETTORS, LEAKS, ENDS = range(6)
JOINT_WORDS, RESERVOIR_WORDS, CYLINDER_WORDS, CARBURETTOR_WORDS = (
    row.itemsize // 8 for row in (JOINT_ROW, RESERVOIR_ROW, CYLINDER_ROW, CARBURETTOR_ROW)
)


@cuda.jit(device=True)
def fill_room(k, reservoirs, joints):
    """All that flows into reservoir k, in the order of joints, as on the CPU."""
    mass, energy, burned, vapour, burned_fuel = 0.0, 0.0, 0.0, 0.0, 0.0
    for m in range(joints.shape[0]):
        j = joints[m]
        if j.a_reservoir != k and j.b_reservoir != k:
            continue
        into = (j.flow if j.b_reservoir == k else 0.0) - (j.flow if j.a_reservoir == k else 0.0)
        mass += into
        energy += into * j.h0
        burned += into * j.yb
        vapour += into * j.yv
        burned_fuel += into * j.yz
    r = reservoirs[k]
    r.in_mass += mass
    r.in_energy += energy
    r.in_b += burned
    r.in_v += vapour
    r.in_z += burned_fuel


@cuda.jit(device=True)
def cylinder_of(k, cylinders):
    """Number of the cylinder whose gas is reservoir k; -1: none."""
    for m in range(cylinders.shape[0]):
        if cylinders[m].reservoir == k:
            return m
    return -1


@cuda.jit(device=True)
def largest_signal(c, slots, lane):
    """Fastest signal of every 16th cell; infinite where a cell is lost. [1/s]"""
    fastest, total = 0.0, 0.0
    for i in range(lane, slots, PARTS):
        speed = c.speed[i]
        total += speed
        fastest = speed if speed > fastest else fastest
    return fastest if total == total else math.inf


@cuda.jit(device=True)
def largest_of(partial):
    """Largest of these numbers, four chains of comparisons side by side."""
    a, b, c, d = partial[0], partial[1], partial[2], partial[3]
    for k in range(4, PARTS, 4):
        a = a if a > partial[k] else partial[k]
        b = b if b > partial[k + 1] else partial[k + 1]
        c = c if c > partial[k + 2] else partial[k + 2]
        d = d if d > partial[k + 3] else partial[k + 3]
    a, b = a if a > b else b, c if c > d else d
    return a if a > b else b


def march_cycles(
    order, helpers, design_of, counts, places, all_cells, all_runs, all_joints, all_reservoirs, all_cylinders,
    all_carburettors, all_leaks, all_ends, all_skins, all_valves, outside,
):  # fmt: skip
    """One cycle of the cases in `order`, a block each, then friction, heat and walls for the next cycle.

    order (blocks,): case of each block. helpers: warps of a block that take no cells, none, two or more.
    design_of (cases,): row of what cases of one design share: counts (6 table lengths), ends, skins, valves, outside
    [K, Pa, m/s, share of warmth]. All else has a row for each case, of words for the tables that lie in the block's
    memory from `places` on (4,).
    """
    case = order[cuda.blockIdx.x]
    design = design_of[case]
    used = counts[design]
    record = all_cells[case, 0]
    run = all_runs[case, 0]
    n = record.rho.shape[0]
    slots = run.slots
    partial = cuda.shared.array(PARTS, float64)
    c = view_cells(cuda.shared.array(0, float64), record, n)
    at = places[JOINTS]
    joints = cuda.shared.array(0, JOINT_ROW)[at : at + used[JOINTS]]
    at = places[RESERVOIRS]
    reservoirs = cuda.shared.array(0, RESERVOIR_ROW)[at : at + used[RESERVOIRS]]
    at = places[CYLINDERS]
    cylinders = cuda.shared.array(0, CYLINDER_ROW)[at : at + used[CYLINDERS]]
    at = places[CARBURETTORS]
    carburettors = cuda.shared.array(0, CARBURETTOR_ROW)[at : at + used[CARBURETTORS]]
    leaks = all_leaks[case, : used[LEAKS]]
    ends = all_ends[design, : used[ENDS]]
    valves = all_valves[design]
    skin = all_skins[design]

    threads = cuda.blockDim.x
    thread = cuda.threadIdx.x
    workers = threads - helpers * WARP
    first = thread if thread < workers else NONE  # of the cells of this thread
    first_joint, joint_stride, first_room, room_stride, cylinder_lane, fuel_lane = tasks_of(thread, workers, helpers)

    load_words(all_joints[case], places[JOINTS] * JOINT_WORDS, thread, threads)
    load_words(all_reservoirs[case], places[RESERVOIRS] * RESERVOIR_WORDS, thread, threads)
    load_words(all_cylinders[case], places[CYLINDERS] * CYLINDER_WORDS, thread, threads)
    load_words(all_carburettors[case], places[CARBURETTORS] * CARBURETTOR_WORDS, thread, threads)
    i = first
    while i < n:
        load_cell(c, record, i)
        if c.inverse_volume[i] == 0.0:
            c.speed[i] = 0.0
        i += workers
    cuda.syncthreads()
    if thread == 0:
        clear_sums(c, joints, cylinders, carburettors)
    if cylinder_lane < PARTS:
        partial[cylinder_lane] = largest_signal(c, slots, cylinder_lane)
    cuda.syncthreads()

    degrees = 0.0
    unsummed = 0.0
    steps = 0
    failed = False
    while degrees < 720.0:
        dt, width = next_step(run, largest_of(partial), degrees)
        if dt <= 0.0 or steps > MOST_STEPS:
            failed = True
            break
        i = first
        while i < slots:
            if c.inverse_volume[i] > 0.0:
                face_state(c, i, dt)
                face_fractions(c, i, dt)
            i += workers
        cuda.syncthreads()
        i = first
        while i < slots:
            if c.inverse_volume[i] > 0.0 and c.inverse_volume[i + 1] > 0.0:
                face_flow(c, i)
            i += workers
        k = first_joint
        while k < joints.shape[0]:
            solve_joint(c, reservoirs, valves, joints[k], degrees + 0.5 * width, dt)
            k += joint_stride
        for k in range(fuel_lane, carburettors.shape[0], WARP):
            meter_fuel(c, carburettors[k : k + 1], reservoirs, dt)
        for m in range(cylinder_lane, cylinders.shape[0], WARP):  # of a room, joints read nothing that changes here
            turn_crank(c, cylinders[m], reservoirs[cylinders[m].reservoir], degrees, width, dt)
        cuda.syncthreads()
        i = first
        while i < slots:
            if c.inverse_volume[i] > 0.0:
                balance(c, i, dt)
                gas_state(c, i, stocks_of(c))
            i += workers
        k = first_room
        while k < reservoirs.shape[0]:
            if cylinder_of(k, cylinders) < 0:
                fill_room(k, reservoirs, joints)
                move_reservoirs(c, reservoirs[k : k + 1], dt)
            k += room_stride
        for m in range(cylinder_lane, cylinders.shape[0], WARP):
            fill_room(cylinders[m].reservoir, reservoirs, joints)
            move_cylinder(c, cylinders[m], reservoirs[cylinders[m].reservoir], degrees, dt)
        for k in range(fuel_lane, carburettors.shape[0], WARP):
            move_pistons(carburettors[k : k + 1], joints, dt)
        cuda.syncthreads()
        if leaks.shape[0] > 0:
            for k in range(fuel_lane, leaks.shape[0], WARP):
                porous_walls(c, leaks[k : k + 1], dt)
            cuda.syncthreads()
            i = first
            while i < slots:
                if c.inverse_volume[i] > 0.0:
                    gas_state(c, i, stocks_of(c))
                i += workers
            cuda.syncthreads()
        degrees = later(degrees, width)
        steps += 1
        unsummed += dt
        if steps % MEANS_EVERY == 0 or degrees >= 720.0:
            i = first
            while i < slots:
                if c.inverse_volume[i] > 0.0:  # the ghosts are written meanwhile
                    add_to_means(c, i, unsummed)
                i += workers
            unsummed = 0.0
        if cylinder_lane < PARTS:
            partial[cylinder_lane] = largest_signal(c, slots, cylinder_lane)
        k = first_room
        while k < ends.shape[0]:
            fill_ghosts(c, ends[k : k + 1])
            k += room_stride
        cuda.syncthreads()

    i = first
    while i < n:
        store_cell(c, record, i)
        if skin[i].live == 1 and not failed:
            renew_wall(
                c, i, skin[i], 120.0 / run.rpm, outside[design, 0], outside[design, 1], outside[design, 2],
                outside[design, 3],
            )  # fmt: skip
        i += workers
    if thread == 0:
        run.steps = steps
        if failed:
            run.failed = 1
        else:
            carry_over(joints, carburettors, 120.0 / run.rpm)
    cuda.syncthreads()
    store_words(all_joints[case], places[JOINTS] * JOINT_WORDS, thread, threads)
    store_words(all_reservoirs[case], places[RESERVOIRS] * RESERVOIR_WORDS, thread, threads)
    store_words(all_cylinders[case], places[CYLINDERS] * CYLINDER_WORDS, thread, threads)
    store_words(all_carburettors[case], places[CARBURETTORS] * CARBURETTOR_WORDS, thread, threads)


_LIMITS = {} if config.ENABLE_CUDASIM else {"max_registers": REGISTERS}  # type: ignore[attr-defined]
MARCH = cuda.jit(march_cycles, **_LIMITS)  # the simulator knows no registers


@cuda.jit
def copy_columns(source, rows, first, target):
    """target[n] = a stretch of source[rows[n]] from column `first`, a block for each row."""
    n = cuda.blockIdx.x
    for k in range(cuda.threadIdx.x, target.shape[1], cuda.blockDim.x):
        target[n, k] = source[rows[n], first + k]


@cuda.jit
def gather(cylinders, run, cells, rows, first, target):
    """target[n] = cylinders[rows[n]], then run, then cells from column `first` to the end; a block for each row."""
    n = cuda.blockIdx.x
    a, b = cylinders.shape[1], cylinders.shape[1] + run.shape[1]
    for k in range(cuda.threadIdx.x, target.shape[1], cuda.blockDim.x):
        if k < a:
            target[n, k] = cylinders[rows[n], k]
        elif k < b:
            target[n, k] = run[rows[n], k - a]
        else:
            target[n, k] = cells[rows[n], first + k - b]
