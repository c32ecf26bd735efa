"""Loading of the compiled solver (compiling it where it never ran on this machine) ahead of the first run."""

from __future__ import annotations

from pulsewright.bench.setup import Setup
from pulsewright.network.case import build_case
from pulsewright.network.options import Options
from pulsewright.physics.compiled import CACHE_FOLDER
from pulsewright.simulate.compile_ahead import compile_side_by_side, nothing_compiled
from pulsewright.simulate.cycle import run_cycle
from pulsewright.simulate.sweep import usable_cores

ONE_STEP_RPM = 1e9  # so fast that a cycle is over within one time step

_loaded: set[int] = set()  # capacity classes: each is compiled and loaded by itself


def load_kernels(setup: Setup, options: Options) -> None:
    """Have everything ready that `setup` needs; takes a moment from the disk cache, else tens of seconds."""
    case = build_case(setup, options, 3000.0)
    capacity = case.arrays["cells"]["rho"].shape[1]
    if capacity in _loaded:
        return
    if CACHE_FOLDER is not None and nothing_compiled() and usable_cores() > 1:
        compile_side_by_side(capacity)
    case.arrays["run"]["rpm"] = case.arrays["cylinders"]["rpm"] = ONE_STEP_RPM
    run_cycle(case)
    _loaded.add(capacity)
