from pathlib import Path

import numpy as np
import pytest

from pulsewright.cli.json_output import plain, write_json


def test_arrays_become_lists_and_not_a_number_becomes_null():
    data = {
        "a": np.array([1.0, np.nan]),
        "b": (np.float64(2.0), np.int64(3)),
        "c": float("inf"),
        4: Path("x"),
    }
    assert plain(data) == {"a": [1.0, None], "b": [2.0, 3], "c": None, "4": "x"}


def test_an_object_without_a_format_is_not_written(tmp_path: Path):
    with pytest.raises(ValueError, match="format"):
        write_json({"a": 1}, str(tmp_path / "x.json"))
    assert not (tmp_path / "x.json").exists()
