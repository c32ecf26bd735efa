"""How a case's warps are laid out: never more than there are registers for, and nobody's task is left."""

import pytest

from pulsewright.gpu.march_on_card import REGISTERS
from pulsewright.gpu.warps import WARP, tasks_of, warps_of

REGISTERS_OF_A_MULTIPROCESSOR = 65536  # 32 bits each, of every card since compute capability 7.0: CUDA C++ guide
HANDED_OUT_IN = 8  # a thread gets whole eights of them


@pytest.mark.parametrize("tasks", [1, 9, 30])
@pytest.mark.parametrize("slots", [20, 40, 106, 284, 648])
@pytest.mark.parametrize("cases_each", [1, 2, 3, 4, 500])
def test_a_case_fits_the_registers_and_all_its_tasks_have_somebody(cases_each: int, slots: int, tasks: int):
    for_cells, helpers = warps_of(cases_each, slots, tasks)
    registers = -(-REGISTERS // HANDED_OUT_IN) * HANDED_OUT_IN
    assert (for_cells + helpers) * WARP * registers <= REGISTERS_OF_A_MULTIPROCESSOR
    assert for_cells >= 1
    assert helpers >= 2 or (helpers == 0 and for_cells >= 2)


def test_few_cases_have_more_warps_each_than_many():
    each = [sum(warps_of(cases_each, 106, 9)) for cases_each in (1, 3, 500)]
    assert each == sorted(each, reverse=True)
    assert each[0] > each[-1]


def test_no_more_help_than_there_are_tasks():
    assert warps_of(1, 20, 1) == (1, 3)  # a joint, the cylinders, the fuel


def test_every_task_is_done_once_in_every_layout():
    plain = tasks_of.py_func
    for for_cells, helpers in ((4, 4), (5, 3), (2, 2), (2, 0), (1, 7)):
        threads = (for_cells + helpers) * WARP
        tasks = [plain(thread, for_cells * WARP, helpers) for thread in range(threads)]
        for first, stride in ((0, 1), (2, 3)):  # joints and rooms
            done = [k for task in tasks for k in range(task[first], 100, task[stride])]
            assert sorted(done) == list(range(100)), (for_cells, helpers)
        for lane in (4, 5):  # cylinders and carburettors
            assert sorted(task[lane] for task in tasks if task[lane] < WARP) == list(range(WARP))
