"""Cases of different size in one process must never share a compiled kernel."""

import gc

import numpy as np
import pytest

from pulsewright.kernel import layout


def test_a_capacity_has_one_dtype_for_the_life_of_the_process():
    first = layout.cells_dtype(layout.CAPACITIES[0])
    address = id(first)
    del first
    gc.collect()
    again = layout.cells_dtype(layout.CAPACITIES[0])
    other = layout.cells_dtype(layout.CAPACITIES[1])
    assert id(again) == address
    assert other is not again
    assert other["rho"].shape != again["rho"].shape


def test_no_capacity_puts_all_fields_into_the_same_cache_sets():
    assert all(capacity % 512 for capacity in layout.CAPACITIES)


@pytest.mark.parametrize("capacity", layout.CAPACITIES)
def test_passes_and_lanes_begin_on_a_cache_line(capacity: int):
    c = layout.on_cache_lines(np.zeros(1, dtype=layout.cells_dtype(capacity)))[0]
    assert {c[name][1:].ctypes.data % layout.CACHE_LINE for name in layout.FIELDS} == {0}
    names = layout.PASSING.names or ()
    assert {c["passing"][name].ctypes.data % layout.CACHE_LINE for name in names} == {0}


@pytest.mark.parametrize("capacity", layout.CAPACITIES)
def test_the_tiles_of_all_slots_fit_into_the_smallest_class_that_has_room(capacity: int):
    held = [slots for slots in range(1, layout.CAPACITIES[-1]) if layout.TILE * layout.tiles_of(slots) + 2 <= capacity]
    assert layout.capacity_for(max(held)) == capacity
    assert layout.TILE * layout.tiles_of(max(held)) >= max(held) - 1
    if capacity < layout.CAPACITIES[-1]:
        assert layout.capacity_for(max(held) + 1) > capacity


def test_more_than_the_largest_class_holds_is_refused():
    with pytest.raises(ValueError, match=str(layout.CAPACITIES[-1])):
        layout.capacity_for(layout.CAPACITIES[-1])
