"""A sweep of 25 speeds of the example twin, converged: time, memory, and where the time goes.

Promises: under 0.6 s with warm kernels on two idle cores, under 500 MB, first start ever under 30 s.
Wall time is a promise on an idle machine only; the processor time beside it does not depend on neighbours.
The shares are measured on the arrays of one case, pass by pass, in one process, so that they are ratios.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

SHEET = Path(__file__).resolve().parent.parent / "examples" / "narrow-twin" / "setup.toml"
SPEEDS = [1500.0 + 187.5 * n for n in range(25)]
WARM_PROMISE, MEMORY_PROMISE, FIRST_PROMISE = 0.6, 500.0, 30.0  # [s], [MB], [s]
SHARE_SPEED = 3500.0  # [rpm]
REPEATS = 20_000  # steps for the shares


def sweep() -> dict[str, float]:
    """A warm sweep in this process: wall [s], processor time [s], cycles, cell updates."""
    from pulsewright.bench.sheet import read_setup
    from pulsewright.simulate.predict import predict

    setup = read_setup(SHEET)
    predict(setup, SPEEDS[-1:])  # loads the kernels
    wall, cpu = time.perf_counter(), time.process_time()
    prediction = predict(setup, SPEEDS)
    return {
        "wall_s": time.perf_counter() - wall,
        "cpu_s": time.process_time() - cpu,
        "cycles": sum(prediction.cycles),
        "converged": sum(outcome == "converged" for outcome in prediction.outcome),
        "memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0,
    }


def shares() -> dict[str, float]:
    """Seconds a step by pass, on the arrays of a settled case; "whole step" is all of it as it is marched.

    The gas hardly moves on: the time step is next to nothing, so that a pass can be repeated by itself.
    """
    from pulsewright.bench.sheet import read_setup
    from pulsewright.kernel import carburettor, cells, cylinder, joints, march, porous_walls, reservoirs
    from pulsewright.network.case import build_case
    from pulsewright.network.options import Options
    from pulsewright.simulate.settle import settle

    case = build_case(read_setup(SHEET), Options(), SHARE_SPEED)
    settle(case, SHARE_SPEED)
    a, dt, at, width = case.arrays, 1e-12, 200.0, 1e-9
    c, r, slots = a["cells"][0], a["reservoirs"], a["run"][0]["slots"]
    whole = (
        c,
        a["ends"],
        a["joints"],
        r,
        a["cylinders"],
        a["carburettors"],
        a["leaks"],
        a["valves"],
        at,
        width,
        dt,
    )
    passes: dict[str, tuple[Callable, tuple]] = {
        "cells: face states": (cells.face_states, (c, dt)),
        "cells: face flows": (cells.face_flows, (c,)),
        "cells: new states": (cells.new_states, (c, dt)),
        "cells: fastest signal": (cells.fastest_signal, (c, slots)),
        "ends: joints": (joints.solve_joints, (c, a["joints"], r, a["valves"], at, dt)),
        "ends: ghosts": (joints.fill_ghosts, (c, a["ends"])),
        "rooms: carburettor": (carburettor.meter_fuel, (c, a["carburettors"], r, dt)),
        "rooms: porous walls": (porous_walls.porous_walls, (c, a["leaks"], dt)),
        "rooms: pistons": (carburettor.move_pistons, (a["carburettors"], a["joints"], dt)),
        "rooms: cylinders": (cylinder.move_cylinders, (c, a["cylinders"], r, at, width, dt)),
        "rooms: chambers, mouths": (reservoirs.move_reservoirs, (c, r, dt)),
        "whole step": (march.one_step, whole),
    }
    return {name: seconds_a_call(function, arguments) for name, (function, arguments) in passes.items()}


def seconds_a_call(function: Callable, arguments: tuple, tries: int = 5) -> float:
    """Shortest mean time of a call from compiled code, without what a call from Python costs. [s]"""
    import numba

    names = ", ".join(f"x{n}" for n in range(len(arguments)))
    source = f"def repeat(times, {names}):\n    for _ in range(times):\n        function({names})\n"
    room: dict[str, Callable] = {"function": function}
    exec(source, room)
    repeat = numba.njit(nogil=True, error_model="numpy")(room["repeat"])
    repeat(1, *arguments)
    found = []
    for _ in range(tries):
        begin = time.perf_counter()
        repeat(REPEATS // tries, *arguments)
        found.append((time.perf_counter() - begin) / (REPEATS // tries))
    return min(found)


def first_start() -> dict[str, float]:
    """Wall and processor time of a first prediction ever: a new process, an empty cache of kernels. [s]"""
    with tempfile.TemporaryDirectory() as folder:
        words = ["-m", "pulsewright", "predict", str(SHEET), "--rpm", "4000", "--quiet"]
        environment = {**os.environ, "PULSEWRIGHT_CACHE": folder}
        times = {}
        for name in ("first", "next"):
            before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
            subprocess.run([sys.executable, *words], env=environment, check=True, capture_output=True)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            times[f"{name}_wall_s"] = time.perf_counter() - begin
            times[f"{name}_cpu_s"] = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return times


def main(arguments: list[str]) -> int:
    found, parts, start = sweep(), shares(), first_start()
    whole = parts.pop("whole step")
    total = sum(parts.values())
    if "--json" in arguments:
        print(
            json.dumps(
                {
                    "format": "pulsewright sweep benchmark 1",
                    **found,
                    **start,
                    "whole_step_s": whole,
                    "passes_s": parts,
                }
            )
        )
    else:
        print(
            f"{len(SPEEDS)} speeds, {found['converged']:.0f} converged, {found['cycles']:.0f} cycles: "
            f"{found['wall_s']:.2f} s wall, {found['cpu_s']:.2f} s processor, {found['memory_mb']:.0f} MB"
        )
        print(f"a step: {1e6 * whole:.1f} us as marched, {1e6 * total:.1f} us pass by pass")
        for name, seconds in parts.items():
            print(f"  {name:28s} {1e6 * seconds:6.2f} us  {seconds / total:5.1%}")
        for name in ("first", "next"):
            wall, cpu = start[f"{name}_wall_s"], start[f"{name}_cpu_s"]
            print(f"{name} start with one speed: {wall:.1f} s wall, {cpu:.1f} s processor")
    kept = {
        f"sweep under {WARM_PROMISE:.1f} s": found["wall_s"] < WARM_PROMISE,
        f"memory under {MEMORY_PROMISE:.0f} MB": found["memory_mb"] < MEMORY_PROMISE,
        f"first start under {FIRST_PROMISE:.0f} s": start["first_wall_s"] < FIRST_PROMISE,
    }
    for promise, ok in kept.items():
        print(f"{promise}: {'kept' if ok else 'BROKEN'}", file=sys.stderr)
    return 0 if all(kept.values()) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
