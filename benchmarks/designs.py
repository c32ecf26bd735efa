"""Many designs: what one costs, what more workers bring, and what handing designs out through Dask costs.

Promise: tasks of 100 ms take less than 10 % longer when Dask hands them out. Processor time depends little on
neighbours; wall time, and with it the gain by more workers, is worth something on an idle machine only.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SHEET = Path(__file__).resolve().parent.parent / "examples" / "narrow-twin" / "setup.toml"
SPEEDS = tuple(1500.0 + 250.0 * n for n in range(19))  # of the cost of a design
FEW_SPEEDS = SPEEDS[::3]  # of the runs with 1 to 8 workers
DESIGNS = 8
WORKERS = (1, 2, 4, 8)
TASK, TASKS, DASK_WORKERS = 0.1, 200, 2  # [s], how many, on how many
DASK_PROMISE = 0.10


@dataclass(frozen=True)
class Sleep:
    """A design that takes a set time and no processor."""

    seconds: float

    def __call__(self, design: Any, _stopped: Any) -> Any:
        from pulsewright.many.design import CONVERGED, DesignResult

        begin = time.perf_counter()
        time.sleep(self.seconds)
        seconds = time.perf_counter() - begin
        return DesignResult(number=design.number, id=design.id, outcome=CONVERGED, seconds=seconds)


def plan_of(designs: int, speeds: tuple[float, ...]) -> Any:
    """A Sobol sample over length of both pipes, jet and bleed."""
    from pulsewright.many.axis import parse_vary
    from pulsewright.many.plan import Plan

    text = SHEET.read_text(encoding="utf-8")
    ranges = ("exhaust.route.1.1.length=600:1200 mm", "exhaust.route.2.1.length=600:1200 mm",
              "carburettor.1.main_jet=1.7:2.1 mm", "carburettor.1.main_air_bleed=0.9:1.3 mm")  # fmt: skip
    axes = tuple(parse_vary(each, text, str(SHEET)) for each in ranges)
    return Plan(sheet_text=text, axes=axes, speeds=speeds, sample=designs, seed=1)


def one_design() -> dict[str, float]:
    """Processor time of designs one after the other, and of reading the sheet alone. [s] a design"""
    from pulsewright.bench.changes import changed_text
    from pulsewright.bench.sheet import setup_from_text
    from pulsewright.many.code_version import code_version
    from pulsewright.many.design_model import DesignModel

    plan = plan_of(4, SPEEDS)
    designs = list(plan.designs(plan.points()))
    model = DesignModel(plan.sheet_text, plan.speeds, code_version())
    model(designs[0])  # loads the kernels
    begin = time.process_time()
    for design in designs:
        model(design)
    whole = (time.process_time() - begin) / len(designs)
    begin = time.process_time()
    for design in designs:
        setup_from_text(changed_text(plan.sheet_text, design.changes), "design", lines=False)
    return {"design_cpu_s": whole, "reading_cpu_s": (time.process_time() - begin) / len(designs)}


def scaling() -> list[dict[str, float]]:
    """Wall and processor time of the same designs by number of threads."""
    from pulsewright.many.code_version import code_version
    from pulsewright.many.design_model import DesignModel, never
    from pulsewright.many.on_threads import on_threads

    plan = plan_of(DESIGNS, FEW_SPEEDS)
    model = DesignModel(plan.sheet_text, plan.speeds, code_version())
    designs = list(plan.designs(plan.points()))
    rows = []
    for workers in WORKERS:
        wall, cpu = time.perf_counter(), time.process_time()
        for _ in on_threads(model, designs, workers=workers, stopped=never):
            pass
        rows.append({"workers": workers, "wall_s": time.perf_counter() - wall, "cpu_s": time.process_time() - cpu})
    return rows


def dask_overhead() -> dict[str, float] | None:
    """What sleeping tasks cost beyond their sleep, as a fraction of it; None without Dask.

    Processor time of scheduler, workers and this process, which is what the designs would be short of on busy
    cores; and wall time, which on an idle machine shows whether workers wait for tasks.
    """
    try:
        import psutil  # comes with Dask
        from distributed import Client  # noqa: F401
    except ImportError:
        return None
    from pulsewright.many import on_cluster as cluster
    from pulsewright.many.design_model import never

    def processor() -> float:
        me = psutil.Process()
        return sum(sum(each.cpu_times()[:2]) for each in (me, *me.children(recursive=True)))

    cluster.BATCH_SECONDS = TASK  # one design a task
    os.environ["PYTHONPATH"] = str(Path(__file__).parent)  # where the workers find Sleep
    plan = plan_of(TASKS, SPEEDS)
    finished = cluster.on_cluster(
        sleeper(TASK), plan.designs(plan.points()), address=cluster.LOCAL, workers=DASK_WORKERS, stopped=never,
        tell=print,
    )  # fmt: skip
    next(finished)
    begin, used, slept, wall, cpu = time.perf_counter(), processor(), 0.0, 0.0, 0.0
    for results in finished:
        slept += sum(each.seconds for each in results)
        wall, cpu = time.perf_counter() - begin, processor() - used
    return {"processor": cpu / slept, "wall": wall * DASK_WORKERS / slept - 1.0}


def sleeper(seconds: float) -> Any:
    """A `Sleep` of this file as a module, so that other processes can load it."""
    sys.path.insert(0, str(Path(__file__).parent))
    from designs import Sleep as Importable  # type: ignore[import-not-found]

    return Importable(seconds)


def log_cost() -> float:
    """Wall time of keeping one result on the disk, flushed. [s]"""
    from pulsewright.many.design import DesignResult
    from pulsewright.many.results_log import ResultsLog

    curves = {f"curve {n}": [1.23456] * len(SPEEDS) for n in range(20)}
    with tempfile.TemporaryDirectory() as folder, ResultsLog(Path(folder) / "log", 50) as log:
        begin = time.perf_counter()
        for n in range(1, 51):
            log.add([DesignResult(number=n, id="0" * 20, outcome="converged", curves=curves)])
        return (time.perf_counter() - begin) / 50


def main(arguments: list[str]) -> int:
    found: dict[str, Any] = {**one_design(), "scaling": scaling(), "log_s": log_cost(), "dask": dask_overhead()}
    if "--json" in arguments:
        print(json.dumps({"format": "pulsewright designs benchmark 1", **found}))
    else:
        tell(found)
    dask = found["dask"]
    kept = dask is None or dask["wall"] < DASK_PROMISE
    said = "not measured, Dask is not installed" if dask is None else "kept" if kept else "BROKEN"
    print(f"Dask under {DASK_PROMISE:.0%} at tasks of {1e3 * TASK:.0f} ms: {said}", file=sys.stderr)
    return 0 if kept else 1


def tell(found: dict[str, Any]) -> None:
    share = found["reading_cpu_s"] / found["design_cpu_s"]
    print(f"a design of {len(SPEEDS)} speeds: {found['design_cpu_s']:.2f} s processor, {share:.1%} of it the sheet")
    first = found["scaling"][0]
    print(f"{DESIGNS} designs of {len(FEW_SPEEDS)} speeds on threads, load {os.getloadavg()[0]:.1f} at the end:")
    for row in found["scaling"]:
        gain, more = first["wall_s"] / row["wall_s"], row["cpu_s"] / first["cpu_s"]
        print(
            f"  {row['workers']} workers: {row['wall_s']:6.2f} s wall, {gain:.2f} times as fast; processor x {more:.2f}"
        )
    print(f"keeping a result on the disk: {1e3 * found['log_s']:.1f} ms")
    if found["dask"]:
        used, waited = found["dask"]["processor"], found["dask"]["wall"]
        print(f"Dask, tasks of {1e3 * TASK:.0f} ms on {DASK_WORKERS} workers: {used:.1%} more processor time, "
              f"{waited:.1%} more wall time")  # fmt: skip


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
