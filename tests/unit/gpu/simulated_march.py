"""Run by a test in a process of its own: a few steps of some cases on Numba's CUDA simulator, kept in a file.

Then some of them are laid to starts drawn through others, and their tables are kept once more.

NUMBA_ENABLE_CUDASIM=1 NUMBA_DISABLE_JIT=1 python simulated_march.py RPM FILE
"""

import sys

import numpy as np
from numba.cuda.simulator.cudadrv.devicearray import FakeCUDAArray, FakeWithinKernelCUDAArray
from numba.cuda.simulator.kernelapi import FakeCUDAShared
from tests.unit.gpu.small_cases import small_cases

from pulsewright.gpu import warps
from pulsewright.gpu.batch import Batch, Job

# Starts drawn once the cycle has run. Of the second, pressures in its cylinders would fall below a third.
DRAWN, THROUGH, SHARES = [0, 1], [[2, 3], [2, 3]], [[1.2, -0.2], [-3.0, 4.0]]
# Up to so many cases for each multiprocessor, of which the simulator has one: warps for cells, and warps that help.
LAYOUTS = ((1, 2, 10), (2, 2, 2), (6, 2, 0))
LEAKY, LIFTED = 2, 3
JOBS, SIDE_BY_SIDE = (0, 1, LEAKY, LIFTED, LEAKY, LIFTED), ([2], [3, 4], [0, 1, 5])
TABLES = ("run", "cells", "joints", "reservoirs", "cylinders", "carburettors", "leaks")


def fields_come_first() -> None:
    """The simulator takes the field T of a record for its transpose; a card does not."""
    attribute = FakeWithinKernelCUDAArray.__getattr__

    def field_or_attribute(self, name: str):
        names = self._item._ary.dtype.names
        return self[name] if names and name in names else attribute(self, name)

    FakeWithinKernelCUDAArray.__getattr__ = field_or_attribute  # type: ignore[method-assign]


def shared_records_have_fields() -> None:
    """Nor does the simulator know the fields of records in shared memory; a card does."""
    plain = FakeCUDAShared.array

    def with_fields(self, shape: int, dtype):
        found = plain(self, shape, dtype)
        return FakeWithinKernelCUDAArray(FakeCUDAArray(found)) if found.dtype.names else found

    FakeCUDAShared.array = with_fields  # type: ignore[method-assign]


def main(rpm: float, states: str, results: str) -> None:
    fields_come_first()
    shared_records_have_fields()
    cases = small_cases(rpm)
    with np.load(states) as kept:
        for n, case in enumerate(cases):
            case.arrays |= {name: kept[f"{n}.{name}"] for name in case.arrays}
    batch = Batch(cases, [Job(n, rpm) for n in JOBS])
    warps.LAYOUTS = LAYOUTS
    for numbers in SIDE_BY_SIDE:
        batch.run_cycle(np.array(numbers))
    tables = {name: batch.table(name) for name in TABLES}
    seen = batch.watched(np.arange(len(cases)))
    tables |= {f"seen.{name}": seen[name] for name in seen.dtype.names or ()}
    batch.draw(np.array(DRAWN), np.array(THROUGH), np.array(SHARES))
    tables |= {f"drawn.{name}": batch.table(name) for name in TABLES}
    np.savez(results, **tables)  # pyright: ignore[reportArgumentType]


if __name__ == "__main__":
    main(float(sys.argv[1]), sys.argv[2], sys.argv[3])
