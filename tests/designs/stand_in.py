"""A cheap stand-in for the model, and a run of designs with it in a process of its own that can be killed.

python -c "import stand_in; stand_in.main()" FOLDER DESIGNS SECONDS threads|local|ADDRESS
"""

import csv
import os
import sys
import time
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from pulsewright.errors import CancelledError, PulsewrightError
from pulsewright.many.axis import Axis
from pulsewright.many.design import CONVERGED, Design, DesignResult
from pulsewright.many.on_cluster import on_cluster
from pulsewright.many.on_threads import on_threads
from pulsewright.many.plan import Plan
from pulsewright.many.run_plan import LOG, run_plan
from pulsewright.many.stop_signals import stop_signals

SHEET = Path(__file__).parents[2] / "examples" / "narrow-twin" / "setup.toml"
DEADLY = 13  # number of the design that ends its worker, where asked for


@dataclass(frozen=True)
class StandIn:
    """Sleeps, and gives a torque that tells which design it was."""

    seconds: float
    deadly: bool = False

    def __call__(self, design: Design, stopped) -> DesignResult:
        begin = time.perf_counter()
        if self.deadly and design.number == DEADLY:
            os._exit(1)
        while time.perf_counter() - begin < self.seconds:
            time.sleep(min(self.seconds, 0.01))
            if stopped():
                raise CancelledError
        curves = {"rpm": [3000.0], "torque_nm": [torque(design.number)], "power_kw": [1.0], "outcome": [CONVERGED]}
        seconds = time.perf_counter() - begin
        return DesignResult(number=design.number, id=design.id, outcome=CONVERGED, seconds=seconds, curves=curves)


def torque(number: int) -> float:
    return 7.0 * number + 1.0


def plan_of(designs: int) -> Plan:
    axis = Axis("exhaust.route.1.1.length", 800.0, 1000.0, designs, "mm")
    return Plan(sheet_text=SHEET.read_text(encoding="utf-8"), axes=(axis,), speeds=(3000.0,))


def check_whole(folder: Path, designs: int) -> None:
    """Every design once in the log and once in the table, with its own result."""
    lines = (folder / LOG).read_bytes().splitlines()
    assert sorted(int(line.split(b" ", 2)[1]) for line in lines) == list(range(1, designs + 1))
    with (folder / "designs.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [int(row["number"]) for row in rows] == list(range(1, designs + 1))
    assert len({row["design"] for row in rows}) == designs
    assert [float(row["torque_max_nm"]) for row in rows] == [torque(n) for n in range(1, designs + 1)]


def run(folder: Path, designs: int, model: StandIn, where: str, patience: float = 60.0) -> None:
    with stop_signals() as stop:
        if where == "threads":
            engine = partial(on_threads, model, workers=2, stopped=stop.is_set)
        else:
            told = partial(print, file=sys.stderr)
            engine = partial(
                on_cluster, model, address=where, workers=2, stopped=stop.is_set, tell=told, patience=patience
            )
        summary = run_plan(plan_of(designs), folder, engine)
    print(f"{summary.computed} computed, {summary.left} left")
    if summary.left:
        raise CancelledError


def main() -> None:
    folder, designs, seconds, where = sys.argv[1:5]
    try:
        run(Path(folder), int(designs), StandIn(float(seconds), deadly="deadly" in sys.argv), where)
    except PulsewrightError as error:
        print(error, file=sys.stderr)
        sys.exit(error.exit_code)
