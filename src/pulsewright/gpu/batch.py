"""Many cases on the card: laid side by side, marched cycle by cycle, read back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numba import config

from pulsewright.errors import LimitError
from pulsewright.gpu import march_on_card as march
from pulsewright.gpu.card import open_card
from pulsewright.gpu.cells_on_card import shared_numbers
from pulsewright.gpu.drawn_starts import CARRIED, DRAWING, draw, drawn_words, judge
from pulsewright.gpu.tables_on_card import TABLES, WORD, aligned, places_of
from pulsewright.gpu.warps import WARP, warps_of
from pulsewright.kernel import layout
from pulsewright.network.case import Case
from pulsewright.network.engine_parts import spark_advance
from pulsewright.simulate.carried_state import LEAST_SHARE
from pulsewright.simulate.cycle import WIND

cuda = march.cuda

# Tables that every case has for itself, in the order of `march_on_card.march_cycles`, and their padded ones.
OWN = ("cells", "run", "joints", "reservoirs", "cylinders", "carburettors", "leaks")
SHARED = ("ends", "skin", "valves")  # and those that cases of one design share
PADDED = ("joints", "reservoirs", "cylinders", "carburettors", "leaks", "ends")  # in the order of the counts
MEANS = tuple(name for name in layout.FIELDS if name.startswith("mean_"))
KEPT_NUMBERS = 8  # lists of jobs that stay on the card


@dataclass(frozen=True, slots=True)
class Job:
    """One design at one speed: number of the design in its batch, engine speed [rpm]."""

    design: int
    rpm: float


class Batch:
    """Cases of one capacity class on the card, a row for each job; starts from the state of each design's case.

    Raises
    ------
    MissingToolError : no card, or the package for it is missing.
    LimitError : more cells than the fast memory of the card holds.
    """

    def __init__(self, cases: Sequence[Case], jobs: Sequence[Job]) -> None:
        self.cases, self.jobs = cases, jobs
        self.design_of = np.array([job.design for job in jobs], dtype=np.int64)
        self.capacity = cases[0].arrays["cells"]["rho"].shape[1]
        most = [self._rows_of(name) for name in TABLES]
        places, self.shared_bytes = places_of(most, 8 * shared_numbers(self.capacity))
        card = open_card()
        if self.shared_bytes > card.shared_memory:
            raise LimitError(
                f"a case of {self.capacity} cells needs {self.shared_bytes} bytes of shared memory, "
                f"{card.name} has {card.shared_memory} for it",
                hint="use longer cells, or compute on the processor",
            )
        stacked = {name: self._stacked(name) for name in (*OWN, *SHARED)}
        self._own_tables = {name: self._own(name, stacked[name]) for name in OWN}
        own = [self._as_the_card_reads(name, stacked[name].dtype) for name in OWN]
        shared = [cuda.to_device(stacked[name].view(aligned(stacked[name].dtype))) for name in SHARED]
        counts, outside = cuda.to_device(self._counts()), cuda.to_device(self._outside())
        self._arguments = (
            cuda.to_device(self.design_of), counts, cuda.to_device(places), *own, *shared, outside,
        )  # fmt: skip
        self._march: Any = None  # compiled for these arguments
        self._numbers: dict[bytes, Any] = {}  # of jobs, as they lie on the card

    def run_cycle(self, order: np.ndarray) -> None:
        """March the jobs of these numbers through one cycle; put the longest (slowest speed) first."""
        for_cells, helpers = self._warps(len(order))
        arguments = (self._on_card(order), helpers, *self._arguments)
        if self._march is None:
            self._march = self._compiled(arguments)
        self._march[len(order), (for_cells + helpers) * WARP, 0, self.shared_bytes](*arguments)
        cuda.synchronize()

    def draw(self, targets: np.ndarray, sources: np.ndarray, weights: np.ndarray) -> None:
        """Lay the start of jobs through the states of others, nearest first. (targets,), (targets, n), their weights"""
        believed = cuda.to_device(np.ones(len(targets), dtype=np.int64))
        rows = [cuda.to_device(np.ascontiguousarray(numbers, dtype=np.int64)) for numbers in (targets, sources)]
        shares = cuda.to_device(np.ascontiguousarray(weights))
        carried = {name: cuda.to_device(drawn_words(name, self._row_of(name), self._rows_of(name))) for name in CARRIED}
        for name, words in carried.items():
            numbers = self._own_tables[name].view(np.float64)
            judge[len(targets), DRAWING](numbers, *rows[1:], shares, words, LEAST_SHARE, believed)
        for name, words in carried.items():
            draw[len(targets), DRAWING](self._own_tables[name].view(np.float64), *rows, shares, words, believed)

    def table(self, name: str, rows: np.ndarray | None = None) -> np.ndarray:
        """A table of every job, or of the jobs of these numbers, as it is now. (jobs, longest)"""
        words = self._own_tables[name]
        if rows is not None:
            picked = cuda.device_array((len(rows), words.shape[1]), dtype=WORD)
            march.copy_columns[len(rows), 128](words, self._on_card(rows), 0, picked)
            words = picked
        return words.copy_to_host().view(self.cases[0].arrays[name].dtype)

    def means(self, rows: np.ndarray) -> np.ndarray:
        """Sums over the last cycle of every cell for the jobs of these numbers. (jobs, 1) of `MEANS`"""
        first = layout.FIELDS.index(MEANS[0]) * self.capacity
        picked = cuda.device_array((len(rows), len(MEANS) * self.capacity), dtype=WORD)
        march.copy_columns[len(rows), 128](self._own_tables["cells"], self._on_card(rows), first, picked)
        return picked.copy_to_host().view(np.dtype([(name, "f8", (self.capacity,)) for name in MEANS]))

    def watched(self, rows: np.ndarray) -> np.ndarray:
        """What tells whether the jobs of these numbers repeat themselves, brought back in one go. (jobs,)

        Fields: `cylinders` (longest,), `run` (1,), and of every cell the sum over the cycle `mean_fuel` (cells,).
        """
        tables = [self._own_tables[name] for name in ("cylinders", "run", "cells")]
        seen = np.dtype(
            [(name, self._row_of(name), (self._rows_of(name),)) for name in ("cylinders", "run")]
            + [("mean_fuel", "f8", (self.capacity,))]
        )
        first = layout.FIELDS.index("mean_fuel") * self.capacity
        picked = cuda.device_array((len(rows), seen.itemsize // 8), dtype=WORD)
        march.gather[len(rows), 128](*tables, self._on_card(rows), first, picked)
        return picked.copy_to_host().view(seen)[:, 0]

    def case_after(self, job: int, tables: dict[str, np.ndarray]) -> Case:
        """A job's case with the rows of `tables` that its last cycle left, padding cut off."""
        case = self.cases[self.jobs[job].design]
        own = {name: row[: case.arrays[name].shape[0]] for name, row in tables.items()}
        return replace(case, arrays=case.arrays | own)

    def _on_card(self, numbers: np.ndarray) -> Any:
        """Numbers of jobs on the card. From cycle to cycle they are mostly the same, and to bring them takes time."""
        key = numbers.tobytes()
        if key not in self._numbers:
            if len(self._numbers) >= KEPT_NUMBERS:
                self._numbers.clear()
            self._numbers[key] = cuda.to_device(numbers.astype(np.int64))
        return self._numbers[key]

    def _warps(self, cases: int) -> tuple[int, int]:
        """Warps for the cells of each of so many cases, and warps that help."""
        slots = max(int(case.arrays["run"]["slots"][0]) for case in self.cases)
        tasks = max(self._rows_of("joints"), self._rows_of("reservoirs"))
        return warps_of(-(-cases // open_card().multiprocessors), slots, tasks)

    def _as_the_card_reads(self, name: str, dtype: np.dtype) -> Any:
        """A table as records, or as words where it is laid into a block's memory."""
        words = self._own_tables[name]
        return words if name in TABLES else words.view(aligned(dtype))

    def _compiled(self, arguments: tuple[Any, ...]) -> Any:
        """The compiled march, allowed to take as much shared memory as the batch needs."""
        if config.ENABLE_CUDASIM:  # type: ignore[attr-defined]
            return march.MARCH
        from cuda.bindings import driver  # pyright: ignore[reportMissingImports]  # comes with the extra

        compiled = march.MARCH.specialize(*arguments)
        function = next(iter(compiled.overloads.values()))._codelibrary.get_cufunc()
        what = driver.CUfunction_attribute.CU_FUNC_ATTRIBUTE_MAX_DYNAMIC_SHARED_SIZE_BYTES
        (status,) = driver.cuKernelSetAttribute(what, self.shared_bytes, function.handle, cuda.get_current_device().id)
        if status != driver.CUresult.CUDA_SUCCESS:
            raise LimitError(f"the card does not give {self.shared_bytes} bytes of shared memory to a case ({status})")
        return compiled

    def _row_of(self, name: str) -> np.dtype:
        return self.cases[0].arrays[name].dtype

    def _rows_of(self, name: str) -> int:
        return max(case.arrays[name].shape[0] for case in self.cases)

    def _stacked(self, name: str) -> np.ndarray:
        """A table of every design, shorter ones padded. (designs, longest, ...)"""
        tables = [case.arrays[name] for case in self.cases]
        longest = max(1, self._rows_of(name))
        stacked = np.zeros((len(tables), longest, *tables[0].shape[1:]), dtype=tables[0].dtype)
        for row, table in zip(stacked, tables, strict=True):
            row[: table.shape[0]] = table
        return stacked

    def _own(self, name: str, stacked: np.ndarray) -> Any:
        """A table on the card with a row of words for each job."""
        if name in ("run", "cylinders", "carburettors"):
            return cuda.to_device(_words(self._at_speed(name, stacked[self.design_of])))
        target = cuda.device_array((len(self.jobs), stacked.shape[1] * stacked.dtype.itemsize // 8), dtype=WORD)
        rows = cuda.to_device(self.design_of)
        march.copy_columns[len(self.jobs), 128](cuda.to_device(_words(stacked)), rows, 0, target)
        return target

    def _at_speed(self, name: str, rows: np.ndarray) -> np.ndarray:
        """As `simulate.cycle.set_speed`, for every job."""
        if name == "carburettors":
            for row, job in zip(rows, self.jobs, strict=True):
                case = self.cases[job.design]
                trim = case.options.calibration.trim_at(job.rpm)
                row["circuit"]["jet"][: len(case.jets)] = trim * case.jets
            return rows
        rows["rpm"] = np.array([job.rpm for job in self.jobs])[:, None]
        if name == "cylinders":
            sparks = [spark_advance(self.cases[job.design].setup, job.rpm) for job in self.jobs]
            rows["spark"] = np.array(sparks)[:, None]
        return rows

    def _counts(self) -> np.ndarray:
        return np.array([[case.arrays[name].shape[0] for name in PADDED] for case in self.cases], dtype=np.int64)

    def _outside(self) -> np.ndarray:
        airs = [case.charge.air for case in self.cases]
        warmths = [case.options.calibration.wall_warmth for case in self.cases]
        rows = zip(airs, warmths, strict=True)
        return np.array([[air.temperature, air.pressure, WIND, warmth] for air, warmth in rows])


def _words(table: np.ndarray) -> np.ndarray:
    """A table (rows, ...) of records as rows of words."""
    return np.ascontiguousarray(table).view(WORD).reshape(table.shape[0], -1)
