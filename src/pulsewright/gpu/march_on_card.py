"""One engine cycle of many cases at once, a block of threads for each.

A thread takes a cell (several, where there are more cells than threads). Two warps stand behind those of the
cells: in `ends` each lane takes a joint and then a chamber or mouth, in `rooms` a carburettor, a cylinder or a leak,
beside the cells where these do not touch them. Everything that is computed is a function of `kernel`; what is
written here is only who does it, and when all wait for all.
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

WARP = 32
# Registers of a thread: with few cases as many as there are; of many, fewer let more run side by side, but spill.
REGISTERS_OF_FEW, REGISTERS_OF_MANY = 255, 168
ENDS_AND_ROOMS = 2 * WARP  # threads behind those of the cells
# Rows used of each padded table of a case.
JOINTS, RESERVOIRS, CYLINDERS, CARBURETTORS, LEAKS, ENDS = range(6)
JOINT_WORDS, RESERVOIR_WORDS, CYLINDER_WORDS, CARBURETTOR_WORDS = (
    row.itemsize // 8 for row in (JOINT_ROW, RESERVOIR_ROW, CYLINDER_ROW, CARBURETTOR_ROW)
)


@cuda.jit(device=True)
def fill_room(k, reservoirs, joints):
    """All that flows into reservoir k, in the order of joints, as on the CPU; no branches, so that lanes keep step."""
    mass, energy, burned, vapour, burned_fuel = 0.0, 0.0, 0.0, 0.0, 0.0
    for m in range(joints.shape[0]):
        j = joints[m]
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
    """Fastest signal of every 32nd cell; infinite where a cell is lost. [1/s]"""
    fastest, total = 0.0, 0.0
    for i in range(lane, slots, WARP):
        speed = c.speed[i]
        total += speed
        fastest = speed if speed > fastest else fastest
    return fastest if total == total else math.inf


@cuda.jit(device=True)
def largest_of(partial):
    """Largest of a warp's numbers, four chains of comparisons side by side."""
    a, b, c, d = partial[0], partial[1], partial[2], partial[3]
    for k in range(4, WARP, 4):
        a = a if a > partial[k] else partial[k]
        b = b if b > partial[k + 1] else partial[k + 1]
        c = c if c > partial[k + 2] else partial[k + 2]
        d = d if d > partial[k + 3] else partial[k + 3]
    a, b = a if a > b else b, c if c > d else d
    return a if a > b else b


def march_cycles(
    order, spread, design_of, counts, places, all_cells, all_runs, all_joints, all_reservoirs, all_cylinders,
    all_carburettors, all_leaks, all_ends, all_skins, all_valves, outside,
):  # fmt: skip
    """One cycle of the cases in `order`, a block each, then friction, heat and walls for the next cycle.

    order (blocks,): case of each block. spread: number of warps that share the joints, 1: `ends` alone.
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
    partial = cuda.shared.array(WARP, float64)
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
    workers = threads - ENDS_AND_ROOMS
    first = thread if thread < workers else n  # of the cells of this thread: none for `ends` and `rooms`
    end_lane = thread - workers if workers <= thread < workers + WARP else n
    room_lane = thread - workers - WARP if thread >= workers + WARP else n
    first_joint = end_lane
    if spread > 1:  # next neighbours go to different warps, and fewer lanes wait for each other
        first_joint = thread // WARP + thread % WARP * spread if thread < spread * WARP else n

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
    if thread < WARP:
        partial[thread] = largest_signal(c, slots, thread)
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
        for k in range(first_joint, joints.shape[0], spread * WARP):
            solve_joint(c, reservoirs, valves, joints[k], degrees + 0.5 * width, dt)
        for k in range(room_lane, carburettors.shape[0], WARP):
            meter_fuel(c, carburettors[k : k + 1], reservoirs, dt)
        for m in range(room_lane, cylinders.shape[0], WARP):  # of a room, `ends` reads nothing that changes here
            turn_crank(c, cylinders[m], reservoirs[cylinders[m].reservoir], degrees, width, dt)
        cuda.syncthreads()
        i = first
        while i < slots:
            if c.inverse_volume[i] > 0.0:
                balance(c, i, dt)
                gas_state(c, i, stocks_of(c))
            i += workers
        for k in range(end_lane, reservoirs.shape[0], WARP):
            if cylinder_of(k, cylinders) < 0:
                fill_room(k, reservoirs, joints)
                move_reservoirs(c, reservoirs[k : k + 1], dt)
        for m in range(room_lane, cylinders.shape[0], WARP):
            fill_room(cylinders[m].reservoir, reservoirs, joints)
            move_cylinder(c, cylinders[m], reservoirs[cylinders[m].reservoir], degrees, dt)
        for k in range(room_lane, carburettors.shape[0], WARP):
            move_pistons(carburettors[k : k + 1], joints, dt)
        cuda.syncthreads()
        if leaks.shape[0] > 0:
            for k in range(room_lane, leaks.shape[0], WARP):
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
                if c.inverse_volume[i] > 0.0:  # `ends` writes the ghosts meanwhile
                    add_to_means(c, i, unsummed)
                i += workers
            unsummed = 0.0
        if thread < WARP:
            partial[thread] = largest_signal(c, slots, thread)
        for k in range(end_lane, ends.shape[0], WARP):
            fill_ghosts(c, ends[k : k + 1])
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


def _compiled_for(registers: int) -> Any:
    plain = config.ENABLE_CUDASIM  # type: ignore[attr-defined]  # the simulator knows no registers
    return cuda.jit(march_cycles) if plain else cuda.jit(march_cycles, max_registers=registers)


MARCH_FEW, MARCH_MANY = _compiled_for(REGISTERS_OF_FEW), _compiled_for(REGISTERS_OF_MANY)


@cuda.jit
def copy_rows(source, rows, target):
    """target[n] = source[rows[n]], a block for each row."""
    n = cuda.blockIdx.x
    for k in range(cuda.threadIdx.x, source.shape[1], cuda.blockDim.x):
        target[n, k] = source[rows[n], k]


@cuda.jit
def copy_columns(source, rows, first, target):
    """target[n] = a stretch of source[rows[n]] from column `first`, a block for each row."""
    n = cuda.blockIdx.x
    for k in range(cuda.threadIdx.x, target.shape[1], cuda.blockDim.x):
        target[n, k] = source[rows[n], first + k]
