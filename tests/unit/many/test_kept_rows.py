"""Rows on the disk: whole lines count, torn ones do not, the first of one key stays."""

import math
from pathlib import Path

from pulsewright.many.kept_rows import KeptRows


def test_rows_come_back_with_what_is_not_known(tmp_path: Path):
    row = {"torque": [1.0, math.nan], "knock": [0.5, 0.25]}
    with KeptRows(tmp_path / "runs.log") as kept:
        kept.put("a", row)
    with KeptRows(tmp_path / "runs.log") as again:
        found = again.get("a")
        assert found is not None
        assert found["knock"] == [0.5, 0.25]
        assert found["torque"][0] == 1.0
        assert math.isnan(found["torque"][1])
        assert again.get("b") is None


def test_a_torn_line_costs_itself_only(tmp_path: Path):
    path = tmp_path / "runs.log"
    with KeptRows(path) as kept:
        kept.put("a", {"x": [1.0]})
        kept.put("b", {"x": [2.0]})
    path.write_bytes(path.read_bytes()[:-5])
    with KeptRows(path) as again:
        assert again.get("a") == {"x": [1.0]}
        assert again.get("b") is None
        again.put("b", {"x": [3.0]})
    with KeptRows(path) as third:
        assert third.get("b") == {"x": [3.0]}
        assert len(third) == 2


def test_a_damaged_line_does_not_count(tmp_path: Path):
    path = tmp_path / "runs.log"
    with KeptRows(path) as kept:
        kept.put("a", {"x": [1.0]})
    path.write_bytes(path.read_bytes().replace(b"1.0", b"9.0"))
    with KeptRows(path) as again:
        assert again.get("a") is None


def test_the_first_of_a_key_stays_and_an_empty_store_is_still_a_store(tmp_path: Path):
    with KeptRows(tmp_path / "runs.log") as kept:
        assert len(kept) == 0
        kept.put("a", {"x": [1.0]})
        kept.put("a", {"x": [2.0]})
        assert kept.get("a") == {"x": [1.0]}
