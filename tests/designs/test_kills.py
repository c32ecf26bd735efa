"""Whatever is killed or cut off in the middle of a run: no design is lost, none counts twice.

The stand-in takes milliseconds, so that many kills fit into a test; what is tested is the keeping of results.
One round of each here, twenty in a row in `test_kills_study.py`.
"""

from pathlib import Path

import pytest

pytest.importorskip("distributed")

from kill_rounds import ROUNDS, end_worker_for_good, needs_network_spaces


@pytest.mark.parametrize("kind", [pytest.param(k, marks=needs_network_spaces(k)) for k in ROUNDS])
def test_nothing_is_lost_or_counted_twice(tmp_path: Path, kind: str):
    ROUNDS[kind](tmp_path, 1)


def test_a_design_that_ends_its_workers_is_a_row(tmp_path: Path):
    end_worker_for_good(tmp_path)
