"""Who does what in the block of threads that marches a case.

Behind the warps of the cells stand some that help: the first of them take joints, and then chambers and mouths, the
last but one cylinders, the last carburettors, beside the cells where these do not touch them. With two helpers one
does the work of the last two; with more, the warps of the cells take joints too, since each joint that a warp has alone
makes a step shorter; without any, the first two warps of the cells do it all, and nobody waits for long.
"""

from __future__ import annotations

import math
from typing import Any

import numba.cuda

cuda: Any = numba.cuda  # what it offers inside a kernel has no types

WARP = 32
NONE = 1 << 20  # number of a task that nobody has
# With up to so many cases for each multiprocessor, at most so many warps for cells, and so many that help. A case that
# has a multiprocessor to itself takes all the warps for which there are registers, so that few joints share one; of
# many cases, every warp does some of everything, and nobody waits for long.
MOST_WARPS = 8  # of 32 threads, each with 256 of the 65,536 registers of a multiprocessor
LAYOUTS = ((1, 5, MOST_WARPS), (3, 2, 2), (math.inf, 2, 0))


def warps_of(cases_each: int, slots: int, tasks: int) -> tuple[int, int]:
    """Warps for the cells of each case, and warps that help.

    cases_each : cases for each multiprocessor.
    slots : cells and their ghosts.
    tasks : joints, or chambers and mouths, whichever are more.
    """
    most, helpers = next((most, helpers) for up_to, most, helpers in LAYOUTS if cases_each <= up_to)
    for_cells = max(min(-(-slots // WARP), most), 2 - helpers)  # without help it takes two to do all
    useful = tasks + 2  # and one each for cylinders and fuel
    return for_cells, min(helpers, MOST_WARPS - for_cells, useful)


@cuda.jit(device=True)
def tasks_of(thread, workers, helpers):
    """First joint of a thread and how far on its next one is, the same for rooms, and its cylinder and carburettor.

    They are dealt out to the warps one by one, since lanes that go different ways wait for each other.
    """
    lane, warp, cell_warps = thread % WARP, thread // WARP, workers // WARP
    helper = warp - cell_warps if helpers > 0 else warp
    with_rooms = max(helpers - 2, 1)
    first_room = helper + lane * with_rooms if 0 <= helper < with_rooms else NONE
    cylinder = lane if helper == with_rooms else NONE
    fuel = lane if helper == max(helpers - 1, 1) else NONE
    if helpers <= 2:
        return first_room, WARP, first_room, WARP, cylinder, fuel
    with_joints = with_rooms + cell_warps
    turn = helper if helper >= 0 else with_rooms + warp
    # to and fro: the last joints are valves, and where two share a warp, neighbours are of one kind
    turn = turn if lane % 2 == 0 else with_joints - 1 - turn
    first_joint = turn + lane * with_joints if helper < with_rooms else NONE
    return first_joint, with_joints * WARP, first_room, with_rooms * WARP, cylinder, fuel
