"""The log of results: what is in it counts once, what is torn does not count."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pulsewright.errors import InputError
from pulsewright.many import results_log as module
from pulsewright.many.design import DesignResult
from pulsewright.many.results_log import ResultsLog

DESIGNS = 6


def result(number: int, why: str = "") -> DesignResult:
    curves = {"rpm": [3000.0], "torque_nm": [None], "outcome": ["läuft"]}
    return DesignResult(number=number, id=f"id{number}", outcome="converged", why=why, seconds=0.1, curves=curves)


def filled(path: Path, numbers: list[int]) -> bytes:
    with ResultsLog(path, DESIGNS) as log:
        log.add(result(n) for n in numbers)
    return path.read_bytes()


def test_results_come_back_in_the_order_of_the_plan(tmp_path):
    filled(tmp_path / "log", [3, 1])
    with ResultsLog(tmp_path / "log", DESIGNS) as log:
        assert log.add([result(2)]) == 1
        assert list(log.in_order()) == [result(1), result(2), result(3)]
        assert len(log) == 3
        assert 2 in log
        assert 4 not in log


def test_a_design_counts_once(tmp_path):
    filled(tmp_path / "log", [1])
    with ResultsLog(tmp_path / "log", DESIGNS) as log:
        assert log.add([result(1, "again"), result(2), result(2, "again")]) == 1
        assert [each.why for each in log.in_order()] == ["", ""]
    assert (tmp_path / "log").read_bytes().count(b"\n") == 2


@given(cut=st.integers(min_value=0, max_value=10_000))
def test_wherever_a_crash_cuts_the_log_whole_lines_are_kept(tmp_path_factory, cut):
    path = tmp_path_factory.mktemp("log") / "log"
    whole = filled(path, [1, 2, 3])
    cut %= len(whole) + 1
    path.write_bytes(whole[:cut])
    kept = whole[:cut].count(b"\n")
    with ResultsLog(path, DESIGNS) as log:
        assert [each.number for each in log.in_order()] == [1, 2, 3][:kept]
        log.add([result(n) for n in (1, 2, 3, 4)])
        assert [each.number for each in log.in_order()] == [1, 2, 3, 4]
        assert log.unreadable == 0


@given(place=st.integers(min_value=0, max_value=10_000), byte=st.integers(min_value=0, max_value=255))
def test_a_damaged_line_does_not_count_and_spoils_no_other(tmp_path_factory, place, byte):
    path = tmp_path_factory.mktemp("log") / "log"
    whole = bytearray(filled(path, [1, 2, 3]))
    place %= len(whole)
    same = whole[place] == byte
    line = bytes(whole[:place]).count(b"\n") + 1
    whole[place] = byte
    path.write_bytes(whole)
    with ResultsLog(path, DESIGNS) as log:
        there = [each.number for each in log.in_order()]
        assert set(there) >= {1, 2, 3} - {line, line + 1}  # a lost line end joins two lines
        assert (line in there) == same
        log.add([result(n) for n in (1, 2, 3)])
    with ResultsLog(path, DESIGNS) as log:
        assert list(log.in_order()) == [result(1), result(2), result(3)]


def test_two_runs_cannot_write_to_one_log(tmp_path):
    with ResultsLog(tmp_path / "log", DESIGNS), pytest.raises(InputError, match="another run"):
        ResultsLog(tmp_path / "log", DESIGNS)
    ResultsLog(tmp_path / "log", DESIGNS).__exit__(None, None, None)  # free again


def test_a_full_disk_is_told_and_what_was_kept_stays(tmp_path, monkeypatch):
    filled(tmp_path / "log", [1])

    def half(file: int, data: bytes) -> None:
        module.os.write(file, data[: len(data) // 2])
        raise OSError(28, "No space left on device")

    with ResultsLog(tmp_path / "log", DESIGNS) as log:
        monkeypatch.setattr(module, "_write", half)
        with pytest.raises(InputError, match="No space left"):
            log.add([result(2)])
        assert 2 not in log
    with ResultsLog(tmp_path / "log", DESIGNS) as log:
        assert [each.number for each in log.in_order()] == [1]
