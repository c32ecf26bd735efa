"""One turn of a slider and one step of the fit, by the model alone, over a sweep from rest in the same run.

Promises: a turn of 13 speeds at level drag under 80 ms on two idle cores, and under 0.6 of the processor time of the
same sweep from rest. Slopes of the fit, the work of one Gauss-Newton step, cost
less for each of their runs than a run from rest.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path as File
from typing import Any

SHEET = File(__file__).resolve().parent.parent / "examples" / "narrow-twin" / "setup.toml"
SPEEDS = [1500.0 + 375.0 * n for n in range(13)]
SLIDERS = {
    "main jet": ("carburettor.1.main_jet", [f"{1.95 - 0.01 * n:.2f} mm" for n in range(7)]),
    "pipe": ("exhaust.route.1.1.length", [f"{900 + 5 * n} mm" for n in range(7)]),
    "air bleed": ("carburettor.1.main_air_bleed", [f"{1.10 + 0.02 * n:.2f} mm" for n in range(7)]),
}
WALL_PROMISE, SHARE_PROMISE = 0.08, 0.6  # [s], of a sweep from rest


def timed(function: Callable, *arguments: Any, **more: Any) -> tuple[float, float, Any]:
    """Wall and processor time of a call [s], and what it gives back."""
    wall, cpu = time.perf_counter(), time.process_time()
    given = function(*arguments, **more)
    return time.perf_counter() - wall, time.process_time() - cpu, given


def turns() -> dict[str, dict[str, float]]:
    """Medians of the turns of every slider, and of the same sweeps from rest."""
    from pulsewright.bench.sheet import read_setup
    from pulsewright.simulate.fidelity import DRAG
    from pulsewright.simulate.predict import predict
    from pulsewright.simulate.warm_start import Path

    rows: dict[str, dict[str, float]] = {}
    predict(read_setup(SHEET), SPEEDS, level=DRAG)  # loads the kernels
    for name, (place, sizes) in SLIDERS.items():
        path, along, rest = Path(), [], []
        for size in sizes:
            setup = read_setup(SHEET, [(place, size)])
            along.append(timed(predict, setup, SPEEDS, level=DRAG, path=path))
            rest.append(timed(predict, setup, SPEEDS, level=DRAG))
        cycles = [sum(p.cycles) / len(SPEEDS) for _, _, p in along[1:]]
        rows[name] = {
            "wall_s": statistics.median(w for w, _, _ in along[1:]),
            "cpu_s": statistics.median(c for _, c, _ in along[1:]),
            "over_rest": statistics.median(a[1] / b[1] for a, b in zip(along[1:], rest[1:], strict=True)),
            "cycles": statistics.median(cycles),
        }
    return rows


def fit_step() -> dict[str, float]:
    """Slopes of the fit of the example session over a run of the same setups from rest, by processor time."""
    import numpy as np

    from pulsewright.bench.session import read_session
    from pulsewright.fit.machine import FIT_LEVEL
    from pulsewright.fit.model_error import points_of
    from pulsewright.fit.observations import observations
    from pulsewright.fit.session_model import SessionModel
    from pulsewright.pulls.session_pulls import read_session_pulls

    session = read_session(SHEET.parent)
    seen = observations(session, read_session_pulls(session))
    jobs: list[None] = []
    model = SessionModel(seen, points_of(seen.setups), FIT_LEVEL, done=lambda: jobs.append(None))
    at = np.zeros(len(model.names))
    model.run(at + 0.01)  # loads the kernels
    _, rest, value = timed(model.run, at)
    from_rest = len(jobs) // 2
    wall, cpu, _ = timed(model.slopes, at, value)
    runs = len(jobs) / from_rest - 2
    return {"wall_s": wall, "cpu_s": cpu, "runs": runs, "a_run_over_rest": cpu / rest / runs}


def main(arguments: list[str]) -> int:
    rows, fit = turns(), fit_step()
    if "--json" in arguments:
        print(json.dumps({"format": "pulsewright slider benchmark 1", "turns": rows, "fit_step": fit}))
    else:
        for name, row in rows.items():
            print(
                f"{name:10s} a turn of {len(SPEEDS)} speeds: {1e3 * row['wall_s']:.0f} ms wall, "
                f"{1e3 * row['cpu_s']:.0f} ms processor, "
                f"{row['cycles']:.1f} cycles a speed, {row['over_rest']:.2f} of the sweep from rest"
            )
        print(
            f"slopes of the fit: {fit['runs']:.0f} runs of all setups, {fit['wall_s']:.1f} s wall, "
            f"{fit['cpu_s']:.1f} s processor, {fit['a_run_over_rest']:.2f} of a run from rest each"
        )
    kept = {
        f"a turn under {1e3 * WALL_PROMISE:.0f} ms": max(row["wall_s"] for row in rows.values()) < WALL_PROMISE,
        f"a turn under {SHARE_PROMISE} of a sweep from rest": max(r["over_rest"] for r in rows.values())
        < SHARE_PROMISE,
        "a run for the slopes under one from rest": fit["a_run_over_rest"] < 1.0,
    }
    for promise, ok in kept.items():
        print(f"{promise}: {'kept' if ok else 'BROKEN'}", file=sys.stderr)
    return 0 if all(kept.values()) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
