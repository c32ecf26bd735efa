"""A plan from its folder to its tables: what is there already is not computed again."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pulsewright.errors import InputError
from pulsewright.many.design import Design, DesignResult
from pulsewright.many.plan import Plan, differences
from pulsewright.many.results_log import ResultsLog
from pulsewright.many.tables import write_tables
from pulsewright.many.whole_file import whole_file

FORMAT = "pulsewright sweep 1"
PLAN, LOG = "plan.json", "results.log"

Engine = Callable[[Iterable[Design]], Iterator[list[DesignResult]]]
Progress = Callable[[int, int], None]  # designs finished, designs in all


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """How a run went."""

    folder: Path
    designs: int  # in the plan
    found: int  # finished before this run
    computed: int  # by this run
    recomputed_lines: int  # damaged lines of the log, whose designs were computed again
    outcomes: dict[str, int]
    wall_s: float
    files: list[Path]

    @property
    def left(self) -> int:
        """Designs that are not done."""
        return self.designs - self.found - self.computed

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "format": FORMAT, "folder": str(self.folder), "designs": self.designs, "found": self.found,
            "computed": self.computed, "left": self.left, "damaged_lines": self.recomputed_lines,
            "outcomes": self.outcomes, "wall_s": round(self.wall_s, 3), "files": [str(f) for f in self.files],
        }  # fmt: skip


def run_plan(
    plan: Plan, folder: Path, engine: Engine, *, progress: Progress | None = None, parquet: bool = False
) -> Summary:
    """Compute what is missing of a plan and write its tables; ends early when the engine does.

    Raises
    ------
    InputError : the folder holds another plan or other things, or another run is writing to it.
    """
    begin = time.perf_counter()
    points = plan.points()
    _settle_folder(plan, folder)
    with ResultsLog(folder / LOG, len(points)) as log:
        found = len(log)
        missing = (design for design in plan.designs(points) if design.number not in log)
        if progress is not None:
            progress(found, len(points))
        for results in engine(missing):
            log.add(results)
            if progress is not None:
                progress(len(log), len(points))
        headings = [axis.heading for axis in plan.axes]
        files, outcomes = write_tables(folder, log, headings, points, parquet=parquet)
        return Summary(
            folder=folder, designs=len(points), found=found, computed=len(log) - found,
            recomputed_lines=log.unreadable, outcomes=dict(outcomes), wall_s=time.perf_counter() - begin, files=files,
        )  # fmt: skip


def _settle_folder(plan: Plan, folder: Path) -> None:
    """Make the folder with its plan, or see that it holds this very plan."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / PLAN
    if not path.exists():
        others = sorted(each.name for each in folder.iterdir() if not each.name.startswith(".writing-"))
        if others:
            raise InputError(
                f"the folder holds other things: {', '.join(others[:3])}", where=str(folder), hint="name a new folder"
            )
        with whole_file(path) as draft:
            draft.write_text(json.dumps(plan.as_json(), ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
        return
    try:
        there = json.loads(path.read_text(encoding="utf-8"))
    except ValueError:
        raise InputError("the plan cannot be read", where=str(path), hint="name a new folder") from None
    different = differences(there, json.loads(json.dumps(plan.as_json())))
    if different:
        raise InputError(
            f"the folder holds another plan; {'; '.join(different)}",
            where=str(path),
            hint="name a new folder, or ask for the same plan to go on with it",
        )
