"""Cases of different size in one process must never share a compiled kernel."""

import gc

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


def test_the_smallest_class_that_fits_is_taken():
    assert layout.capacity_for(1) == layout.CAPACITIES[0]
    assert layout.capacity_for(layout.CAPACITIES[0] + 1) == layout.CAPACITIES[1]
