"""How a case's warps are laid out: never more than there are registers for, and nobody's task is left."""

import pytest
from tests.unit.gpu.small_cases import small_cases

from pulsewright.gpu import batch as module
from pulsewright.gpu import march_on_card as march
from pulsewright.gpu.batch import Batch
from pulsewright.gpu.card import Card

REGISTERS_OF_A_MULTIPROCESSOR = 65536  # 32 bits each, of every card since compute capability 7.0: CUDA C++ guide
HANDED_OUT_IN = 8  # a thread gets whole eights of them
MULTIPROCESSORS = 10


def _laid_out(monkeypatch, cases: int, slots: int) -> tuple[int, int]:
    monkeypatch.setattr(module, "open_card", lambda: Card("a card", 1 << 18, MULTIPROCESSORS))
    batch = Batch.__new__(Batch)
    batch.cases = small_cases(3000.0)
    for case in batch.cases:
        case.arrays["run"]["slots"] = slots
    return batch._warps(cases)


@pytest.mark.parametrize("slots", [20, 40, 106, 284, 648])
@pytest.mark.parametrize("cases", [1, 10, 11, 30, 31, 5000])
def test_a_case_fits_the_registers_and_all_its_tasks_have_somebody(monkeypatch, cases: int, slots: int):
    for_cells, helpers = _laid_out(monkeypatch, cases, slots)
    registers = -(-march.REGISTERS // HANDED_OUT_IN) * HANDED_OUT_IN
    assert (for_cells + helpers) * march.WARP * registers <= REGISTERS_OF_A_MULTIPROCESSOR
    assert for_cells >= 1
    assert helpers >= 2 or (helpers == 0 and for_cells >= 2)


def test_few_cases_have_more_warps_each_than_many(monkeypatch):
    each = [sum(_laid_out(monkeypatch, cases, 106)) for cases in (10, 30, 5000)]
    assert each == sorted(each, reverse=True)
    assert each[0] > each[-1]


def test_every_task_is_done_once_in_every_layout():
    plain = march.tasks_of.py_func
    for for_cells, helpers in ((4, 4), (5, 3), (2, 2), (2, 0), (1, 7)):
        threads = (for_cells + helpers) * march.WARP
        tasks = [plain(thread, for_cells * march.WARP, helpers) for thread in range(threads)]
        for first, stride in ((0, 1), (2, 3)):  # joints and rooms
            done = [k for task in tasks for k in range(task[first], 100, task[stride])]
            assert sorted(done) == list(range(100)), (for_cells, helpers)
        for lane in (4, 5):  # cylinders and carburettors
            assert sorted(task[lane] for task in tasks if task[lane] < march.WARP) == list(range(march.WARP))
