"""The rounds of `test_kills.py`, twenty times in a row, each at another moment."""

from pathlib import Path

import pytest

pytest.importorskip("distributed")

from kill_rounds import ROUNDS, needs_network_spaces

TIMES = 20


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2, TIMES + 2))
@pytest.mark.parametrize("kind", [pytest.param(k, marks=needs_network_spaces(k)) for k in ROUNDS])
def test_nothing_is_lost_or_counted_twice(tmp_path: Path, kind: str, seed: int):
    ROUNDS[kind](tmp_path, seed)
