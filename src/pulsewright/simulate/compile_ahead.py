"""First start on a machine: the kernels are compiled by two processes side by side, into the same disk cache.

Each kernel is called once on tables without rows, which compiles and keeps it without computing anything.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Callable

import numpy as np

from pulsewright.kernel import carburettor, cells, cylinder, duct_ends, joints, layout, porous_walls, reservoirs, skin
from pulsewright.physics.compiled import CACHE_FOLDER
from pulsewright.physics.shared_cache import end_process

TOLD_TO = "from pulsewright.simulate.compile_ahead import help_compiling; help_compiling({half}, {capacity})"
HALVES = 2
PATIENCE = 180.0  # [s] for the other process; what it has not done by then is compiled here


def nothing_compiled() -> bool:
    """True where this machine has not yet compiled the march of these sources, or cannot keep it."""
    return CACHE_FOLDER is None or not any(CACHE_FOLDER.rglob("march.march_cycle-*.nbi"))


def compile_side_by_side(capacity: int) -> None:
    """Compile the kernels of one capacity class on two cores; whatever goes wrong is left to the first run."""
    order = TOLD_TO.format(half=1, capacity=capacity)
    nothing, line = subprocess.DEVNULL, subprocess.PIPE
    with subprocess.Popen([sys.executable, "-c", order], stdin=line, stdout=nothing, stderr=nothing) as other:
        compile_half(0, capacity)
        try:
            other.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            other.kill()


def help_compiling(half: int, capacity: int) -> None:
    """What the other process does, for as long as the one that asked it lives and holds the other end of the line."""
    threading.Thread(target=_leave_at_the_end_of, args=(sys.stdin.fileno(),), daemon=True).start()
    compile_half(half, capacity)


def _leave_at_the_end_of(line: int) -> None:
    while os.read(line, 1):
        pass
    end_process(1)


def compile_half(half: int, capacity: int) -> None:
    """Compile one of two halves that take about as long as each other."""
    c = np.zeros(1, dtype=layout.cells_dtype(capacity))[0]
    rooms = np.zeros(0, dtype=layout.RESERVOIR)
    first: list[Callable[[], object]] = [
        lambda: joints.solve_joints(
            c, np.zeros(0, dtype=layout.JOINT), rooms, np.zeros((2, layout.DEGREES + 2)), 0.0, 0.0
        ),
        lambda: duct_ends.fill_ghosts(c, np.zeros((0, 3), dtype=np.int64)),
        lambda: reservoirs.move_reservoirs(c, rooms, 0.0),
        lambda: porous_walls.porous_walls(c, np.zeros(0, dtype=layout.LEAK), 1e-6),
        lambda: carburettor.move_pistons(np.zeros(0, dtype=layout.CARBURETTOR), np.zeros(0, dtype=layout.JOINT), 0.0),
        lambda: carburettor.meter_fuel(c, np.zeros(0, dtype=layout.CARBURETTOR), rooms, 0.0),
    ]
    second: list[Callable[[], object]] = [
        lambda: cells.face_states(c, 0.0),
        lambda: cells.face_flows(c),
        lambda: cells.new_states(c, 0.0),
        lambda: cylinder.move_cylinders(c, np.zeros(0, dtype=layout.CYLINDER_DTYPE), rooms, 0.0, 0.0, 0.0),
        lambda: skin.renew_skin(c, np.zeros(0, dtype=skin.SKIN), 1.0, 300.0, 1e5, 1.0, 1.0),
    ]
    for kernel in (first, second)[half]:
        kernel()
