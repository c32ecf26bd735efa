"""A sweep of 25 speeds of the example twin, converged: time, memory, and where the time goes.

Promises: under 0.6 s with warm kernels on two idle cores, under 500 MB, first start ever under 30 s; ends, cylinders
and carburettor under 45 % of the passes.
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
from typing import Any

SHEET = Path(__file__).resolve().parent.parent / "examples" / "narrow-twin" / "setup.toml"
SPEEDS = [1500.0 + 187.5 * n for n in range(25)]
WARM_PROMISE, MEMORY_PROMISE, FIRST_PROMISE, SHARE_PROMISE = 0.6, 500.0, 30.0, 0.45  # [s], [MB], [s], [-]
SHARE_SPEED = 3500.0  # [rpm]
SHARE_ANGLES = [15.0 + 30.0 * n for n in range(24)]  # [deg]
REPEATS, TRIES = 3000, 5  # steps for the shares, and how often


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
    """Seconds a step by pass, mean over the crank angles of a settled cycle; "whole step" is one as it is marched.

    At each angle the case stands as the march left it there. The time step is next to nothing, so that a pass can be
    repeated by itself.
    """
    from pulsewright.bench.sheet import read_setup
    from pulsewright.kernel import carburettor, cells, cylinder, duct_ends, joints, march, porous_walls, reservoirs
    from pulsewright.network.case import build_case
    from pulsewright.network.options import Options
    from pulsewright.simulate.settle import settle

    case = build_case(read_setup(SHEET), Options(), SHARE_SPEED)
    settle(case, SHARE_SPEED)
    a, dt, width = case.arrays, 1e-12, 1e-9
    c, r, ends, leaks = a["cells"][0], a["reservoirs"], a["ends"], a["leaks"]
    passes: dict[str, tuple[Callable, tuple]] = {
        "cells: face states": (cells.face_states, (c, dt)),
        "cells: face flows": (cells.face_flows, (c,)),
        "cells: new states": (cells.new_states, (c, dt)),
        "cells: fastest signal": (cells.fastest_signal, (c, a["run"][0]["slots"])),
        "cells: means": (cells.means, (c, dt)),
        "ends: joints": (joints.solve_joints, (c, a["joints"], r, a["valves"], "angle", dt)),
        "ends: into the rooms": (joints.fill_reservoirs, (a["joints"], r)),
        "ends: ghosts": (duct_ends.fill_ghosts, (c, ends)),
        "rooms: carburettor": (carburettor.meter_fuel, (c, a["carburettors"], r, dt)),
        "rooms: porous walls": (porous_walls.porous_walls, (c, leaks, dt)),
        "rooms: pistons": (carburettor.move_pistons, (a["carburettors"], a["joints"], dt)),
        "rooms: cylinders": (cylinder.move_cylinders, (c, a["cylinders"], r, "angle", width, dt)),
        "rooms: chambers, mouths": (reservoirs.move_reservoirs, (c, r, dt)),
    }
    repeats = {name: repeated(function, len(arguments)) for name, (function, arguments) in passes.items()}
    found, at = dict.fromkeys(passes, 0.0), 0.0
    for angle in SHARE_ANGLES:
        at = march_to(case, at, angle)
        for name, (_function, arguments) in passes.items():
            now = [at if isinstance(argument, str) else argument for argument in arguments]
            seconds = seconds_a_call(repeats[name], now, case) / len(SHARE_ANGLES)
            found[name] += seconds / march.MEANS_EVERY if name == "cells: means" else seconds
    settle(case, SHARE_SPEED)
    cycle = (c, a["run"][0], ends, a["joints"], r, a["cylinders"], a["carburettors"], leaks, a["valves"])
    whole = []
    for _ in range(TRIES):
        begin = time.thread_time()
        march.march_cycle(*cycle, a["traces"], a["reservoir_traces"])
        whole.append((time.thread_time() - begin) / a["run"][0]["steps"])
    return {**found, "whole step": min(whole)}


def march_to(case: Any, at: float, angle: float) -> float:
    """March a case from a crank angle to the first step beyond another; returns where that ends. [deg]"""
    from pulsewright.kernel.cells import fastest_signal
    from pulsewright.kernel.march import next_step, one_step

    a, run = case.arrays, case.arrays["run"][0]
    c = a["cells"][0]
    while at < angle:
        dt, width = next_step(run, fastest_signal(c, run["slots"]), at)
        one_step(
            c, a["ends"], a["joints"], a["reservoirs"], a["cylinders"], a["carburettors"], a["leaks"], a["valves"],
            at, width, dt,
        )  # fmt: skip
        at += width
    return at


def repeated(function: Callable, arguments: int) -> Callable:
    """A compiled loop over calls, without what a call from Python costs."""
    import numba

    names = ", ".join(f"x{n}" for n in range(arguments))
    source = f"def repeat(times, {names}):\n    for _ in range(times):\n        function({names})\n"
    room: dict[str, Callable] = {"function": function}
    exec(source, room)
    return numba.njit(nogil=True, error_model="numpy")(room["repeat"])


def seconds_a_call(repeat: Callable, arguments: list, case: Any) -> float:
    """Shortest mean time of a call, from the state in which `case` is and stays. [s]"""
    kept = {name: a.copy() for name, a in case.arrays.items()}
    found = []
    for n in range(TRIES + 1):
        begin = time.thread_time()
        repeat(REPEATS if n else 1, *arguments)  # the first compiles
        found.append(time.thread_time() - begin)
        for name, a in kept.items():
            case.arrays[name][...] = a
    return min(found[1:]) / REPEATS


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
        print(f"a step: {1e6 * whole:.2f} us as marched, {1e6 * total:.2f} us pass by pass")
        for name, seconds in parts.items():
            print(f"  {name:28s} {1e6 * seconds:6.3f} us  {seconds / total:5.1%}")
        for name in ("first", "next"):
            wall, cpu = start[f"{name}_wall_s"], start[f"{name}_cpu_s"]
            print(f"{name} start with one speed: {wall:.1f} s wall, {cpu:.1f} s processor")
    around = sum(seconds for name, seconds in parts.items() if not name.startswith("cells")) / total
    kept = {
        f"ends, cylinders, carburettor {around:.1%} of the passes, under {SHARE_PROMISE:.0%}": around < SHARE_PROMISE,
        f"sweep under {WARM_PROMISE:.1f} s": found["wall_s"] < WARM_PROMISE,
        f"memory under {MEMORY_PROMISE:.0f} MB": found["memory_mb"] < MEMORY_PROMISE,
        f"first start under {FIRST_PROMISE:.0f} s": start["first_wall_s"] < FIRST_PROMISE,
    }
    for promise, ok in kept.items():
        print(f"{promise}: {'kept' if ok else 'BROKEN'}", file=sys.stderr)
    return 0 if all(kept.values()) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
