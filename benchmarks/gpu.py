"""The graphics card against the processor: the same cycle to 1e-8, one sweep alone, many sweeps at once.

Promises on an H100-class card in float64: one sweep of 25 speeds under 0.3 s, 1,000 sweeps at 100 a second or
better. Compiling is reported beside them and counts in neither. Needs the extra [gpu] and a card.

    python benchmarks/gpu.py [--json] [--sweeps N]
"""

from __future__ import annotations

import argparse
import datetime
import json
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

SHEET = Path(__file__).resolve().parent.parent / "examples" / "narrow-twin" / "setup.toml"
SPEEDS = [float(rpm) for rpm in np.linspace(1500.0, 6000.0, 25)]
CYCLES_BEFORE, COMPARED_SPEEDS = 2, (1500.0, 3500.0, 6000.0)
AGREEMENT, ALONE_PROMISE, RATE_PROMISE = 1e-8, 0.3, 100.0  # [-], [s], [1/s]
ENOUGH_FOR_ALL = 11  # sweeps, with which all that is compiled for many has been compiled
TABLES = ("run", "cells", "reservoirs", "cylinders", "joints", "carburettors")


def agreement() -> dict[str, float]:
    """Largest difference of card and processor after a cycle from the same state, over the largest value of its field.

    The state is what a few cycles leave: from gas at rest, rounding decides which way the first flows go.
    """
    from pulsewright.bench.sheet import read_setup
    from pulsewright.gpu.batch import Batch, Job
    from pulsewright.network.case import build_case
    from pulsewright.network.options import Options
    from pulsewright.simulate.cycle import run_cycle, set_speed

    setup = read_setup(SHEET)
    cases = [build_case(setup, Options(), rpm) for rpm in COMPARED_SPEEDS]
    for case, rpm in zip(cases, COMPARED_SPEEDS, strict=True):
        set_speed(case, rpm)
        for _ in range(CYCLES_BEFORE):
            run_cycle(case)
    batch = Batch(cases, [Job(n, rpm) for n, rpm in enumerate(COMPARED_SPEEDS)])
    batch.run_cycle(np.arange(len(cases)))
    tables = {name: batch.table(name) for name in TABLES}
    worst: dict[str, float] = {}
    for row, case in enumerate(cases):
        run_cycle(case)
        for name, table in tables.items():
            for field, off in differences(case.arrays, name, table[row]).items():
                worst[field] = max(worst.get(field, 0.0), off)
    return worst


def differences(arrays: dict[str, np.ndarray], name: str, found: np.ndarray) -> dict[str, float]:
    """By field of a table, over the largest value that the field has in this case."""
    live = arrays["skin"]["live"] == 1
    off = {}
    for field in found.dtype.names or ():
        if field.startswith(("left_", "right_", "flow_")):  # of one step, and never read from the card
            continue
        a, b = arrays[name][field], found[: arrays[name].shape[0]][field]
        if a.dtype.names or not a.size:
            continue
        if name == "cells" and a.shape[-1] == live.size:
            a, b = a[:, live], b[:, live]
        largest = float(np.max(np.abs(a)))
        off[f"{name}.{field}"] = float(np.max(np.abs(a - b))) / largest if largest > 0.0 else 0.0
    return off


def sweeps(count: int) -> dict[str, float]:
    """Time of `count` converged sweeps of one sheet: building apart, on the card, and until results are read."""
    from pulsewright.bench.sheet import read_setup
    from pulsewright.gpu.batch import Job
    from pulsewright.gpu.settle_many import settle_many
    from pulsewright.gpu.sweep_many import speed_points
    from pulsewright.network.calibration import Calibration
    from pulsewright.network.case import build_case
    from pulsewright.network.options import Options

    setup = read_setup(SHEET)
    cases = [
        build_case(setup, Options(calibration=Calibration(loss_position=n / max(count, 2))), SPEEDS[0])
        for n in range(count)
    ]
    jobs = [Job(n, rpm) for n in range(count) for rpm in SPEEDS]
    begin = time.perf_counter()
    result = settle_many(cases, jobs)
    settled = time.perf_counter()
    points = speed_points(result) if count <= 100 else []
    return {
        "sweeps": count,
        "seconds": settled - begin,
        "sweeps_a_second": count / (settled - begin),
        "results_s": time.perf_counter() - settled if points else float("nan"),
        "cycles": int(result.cycles.sum()),
        "steps_last_cycles": int(result.batch.table("run")["steps"].sum()),
        "converged": result.outcome.count("converged"),
        "jobs": len(jobs),
        "torque_sum": float(np.nansum(result.torque)),
    }


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--sweeps", type=int, default=1000)
    words = parser.parse_args(arguments)
    from pulsewright.errors import PulsewrightError
    from pulsewright.gpu.card import open_card

    try:
        card = open_card()
    except PulsewrightError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    begin = time.perf_counter()
    apart = agreement()
    sweeps(ENOUGH_FOR_ALL)
    first = time.perf_counter() - begin
    worst = sorted(apart.items(), key=lambda item: -item[1])
    alone = min((sweeps(1) for _ in range(3)), key=lambda run: run["seconds"])
    many = [sweeps(n) for n in (10, 100, words.sweeps) if n <= words.sweeps]
    found: dict[str, Any] = {
        "format": "pulsewright gpu benchmark 1",
        "card": card.name,
        "date": datetime.datetime.now(datetime.UTC).date().isoformat(),
        "first_use_s": first,
        "worst_differences": dict(worst[:8]),
        "alone": alone,
        "many": many,
    }
    print(json.dumps(found, indent=None if words.json else 1))
    kept = {
        f"agreement within {AGREEMENT:g} over a cycle": all(off <= AGREEMENT for off in apart.values()),
        f"one sweep under {ALONE_PROMISE:g} s": alone["seconds"] < ALONE_PROMISE,
        f"{RATE_PROMISE:g} sweeps a second": many[-1]["sweeps_a_second"] >= RATE_PROMISE,
    }
    for promise, ok in kept.items():
        print(f"{promise}: {'kept' if ok else 'BROKEN'}", file=sys.stderr)
    return 0 if all(kept.values()) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
