"""Several processes share one cache of compiled kernels, and each loads what it saved."""

import subprocess
import sys
from pathlib import Path

from numba.core.caching import IndexDataCacheFile

from pulsewright.physics.shared_cache import make_cache_shareable

NAMES = """
import numba, pulsewright.physics.compiled
from numba.core.itanium_mangler import mangle_type
from pulsewright.kernel.layout import cells_dtype
print(*(mangle_type(numba.from_dtype(cells_dtype(n))) for n in {}))
"""
WRITER = """
import sys
from numba.core.caching import IndexDataCacheFile
from pulsewright.physics.shared_cache import make_cache_shareable
make_cache_shareable()
cache = IndexDataCacheFile(sys.argv[1], "kernel", 0)
print(flush=True)
sys.stdin.readline()
for n in range({}):
    cache.save((sys.argv[2], n), (sys.argv[2], n))
"""
SAVES = 60


def names_of_records(*capacities: int) -> dict[int, str]:
    """What a fresh process calls the records of these capacities in its machine code."""
    done = subprocess.run([sys.executable, "-c", NAMES.format(capacities)], capture_output=True, text=True, check=True)
    return dict(zip(capacities, done.stdout.split(), strict=True))


def test_every_process_calls_a_record_the_same_and_no_other_so():
    first, second = names_of_records(64, 112), names_of_records(112, 64)
    assert first == second
    assert first[64] != first[112]


def test_two_processes_that_save_at_once_lose_nothing(tmp_path: Path):
    order = [sys.executable, "-c", WRITER.format(SAVES), str(tmp_path)]
    writers = [subprocess.Popen([*order, who], stdin=-1, stdout=-1, text=True) for who in ("a", "b")]
    for writer in writers:
        assert writer.stdout
        assert writer.stdout.readline()
    for writer in writers:
        assert writer.stdin
        writer.stdin.write("\n")
        writer.stdin.flush()
    for writer in writers:
        writer.communicate()
        assert writer.returncode == 0
    make_cache_shareable()
    cache = IndexDataCacheFile(str(tmp_path), "kernel", 0)
    keys = [(who, n) for who in ("a", "b") for n in range(SAVES)]
    assert [cache.load(key) for key in keys] == keys
