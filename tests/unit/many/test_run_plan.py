"""A plan from folder to tables, with a stand-in for the model."""

import csv
import json
import threading
import time
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from pulsewright.errors import CancelledError, InputError
from pulsewright.many.axis import Axis
from pulsewright.many.design import CONVERGED, REFUSED, Design, DesignResult
from pulsewright.many.design_model import DesignModel, never
from pulsewright.many.on_threads import POLL, on_threads
from pulsewright.many.plan import Plan
from pulsewright.many.run_plan import run_plan

SHEET = (Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml").read_text(encoding="utf-8")
PLAN = Plan(sheet_text=SHEET, axes=(Axis("exhaust.route.1.1.length", 800.0, 1000.0, 8, "mm"),), speeds=(3000.0, 4000.0))


def stand_in(design: Design, stopped=never) -> DesignResult:
    if design.number == 3:
        return DesignResult(number=3, id=design.id, outcome=REFUSED, why="cannot be")
    curves = {
        "rpm": [3000.0, 4000.0], "torque_nm": [design.number + 0.5, None], "power_kw": [1.0, 2.0],
        "outcome": [CONVERGED, "no"],
    }  # fmt: skip
    return DesignResult(number=design.number, id=design.id, outcome=CONVERGED, seconds=0.5, curves=curves)


def on_two(compute=stand_in, stopped=never):
    return partial(on_threads, compute, workers=2, stopped=stopped)


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_design_is_a_row_in_the_order_of_the_plan(tmp_path):
    summary = run_plan(PLAN, tmp_path / "out", on_two())
    assert (summary.designs, summary.found, summary.computed, summary.left) == (8, 0, 8, 0)
    assert summary.outcomes == {CONVERGED: 7, REFUSED: 1}
    designs = rows(tmp_path / "out" / "designs.csv")
    assert [int(row["number"]) for row in designs] == list(range(1, 9))
    assert designs[2]["why"] == "cannot be"
    assert designs[2]["torque_max_nm"] == ""
    assert designs[4]["torque_max_nm"] == designs[4]["torque_mean_nm"] == "5.5"
    assert designs[4]["rpm_at_torque_max"] == "3000.0"
    assert (designs[4]["power_max_kw"], designs[4]["rpm_at_power_max"]) == ("2.0", "4000.0")
    assert (designs[4]["speeds"], designs[4]["speeds_converged"]) == ("2", "1")
    assert float(designs[-1]["exhaust.route.1.1.length [mm]"]) == 1000.0
    curves = rows(tmp_path / "out" / "curves.csv")
    assert len(curves) == 14
    assert curves[1] == {**curves[0], "rpm": "4000.0", "torque_nm": "", "power_kw": "2.0", "outcome": "no"}


def test_a_second_run_computes_nothing_and_says_the_same(tmp_path):
    run_plan(PLAN, tmp_path / "out", on_two())
    before = (tmp_path / "out" / "designs.csv").read_bytes()

    def nothing(designs: Iterable[Design]) -> Iterator[list[DesignResult]]:
        assert not list(designs)
        yield from ()

    summary = run_plan(PLAN, tmp_path / "out", nothing)
    assert (summary.found, summary.computed) == (8, 0)
    assert (tmp_path / "out" / "designs.csv").read_bytes() == before


def test_a_stopped_run_goes_on(tmp_path):
    stop = threading.Event()
    seen: list[int] = []

    def progress(finished: int, _total: int) -> None:
        seen.append(finished)
        if finished >= 3:
            stop.set()

    first = run_plan(PLAN, tmp_path / "out", on_two(stopped=stop.is_set), progress=progress)
    assert 3 <= first.computed < 8
    assert len(rows(tmp_path / "out" / "designs.csv")) == first.computed
    second = run_plan(PLAN, tmp_path / "out", on_two())
    assert (second.found, second.computed) == (first.computed, 8 - first.computed)
    assert seen == sorted(seen)


def test_stopping_breaks_off_what_is_under_way(tmp_path):
    stop = threading.Event()

    def slow(design: Design, stopped) -> DesignResult:
        if design.number > 4:
            stop.set()
            assert stop.wait(10)
            if stopped():
                raise CancelledError
        return stand_in(design)

    summary = run_plan(PLAN, tmp_path / "out", on_two(slow, stop.is_set))
    assert summary.computed == 4


def test_what_finishes_while_the_run_stops_is_kept(tmp_path):
    stop = threading.Event()

    def heedless(design: Design, _stopped) -> DesignResult:
        if design.number == 2:
            stop.set()
            time.sleep(2.0 * POLL)
        return stand_in(design)

    summary = run_plan(PLAN, tmp_path / "out", on_two(heedless, stop.is_set))
    assert summary.left
    assert "2" in {row["number"] for row in rows(tmp_path / "out" / "designs.csv")}


def test_another_plan_is_refused_with_what_differs(tmp_path):
    run_plan(PLAN, tmp_path / "out", on_two())
    with pytest.raises(InputError, match=r"rpm: there \[3000.0, 4000.0\], asked \[3000.0\]"):
        run_plan(replace(PLAN, speeds=(3000.0,)), tmp_path / "out", on_two())


def test_a_folder_with_other_things_is_refused(tmp_path):
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(InputError, match=r"letter\.txt"):
        run_plan(PLAN, tmp_path, on_two())


def test_a_broken_plan_is_told(tmp_path):
    (tmp_path / "plan.json").write_text("{")
    with pytest.raises(InputError, match="cannot be read"):
        run_plan(PLAN, tmp_path, on_two())


def test_parquet_says_the_same_as_csv(tmp_path):
    pq = pytest.importorskip("pyarrow.parquet")
    summary = run_plan(PLAN, tmp_path / "out", on_two(), parquet=True)
    assert {path.suffix for path in summary.files} == {".csv", ".parquet"}
    for name in ("designs", "curves"):
        table = pq.read_table(tmp_path / "out" / f"{name}.parquet").to_pylist()
        texts = [{key: "" if value is None else str(value) for key, value in row.items()} for row in table]
        assert texts == rows(tmp_path / "out" / f"{name}.csv")


def test_other_code_computes_nothing(tmp_path):
    model = DesignModel(SHEET, PLAN.speeds, "other code")
    with pytest.raises(InputError, match="other code"):
        run_plan(PLAN, tmp_path / "out", on_two(model))
    assert json.loads((tmp_path / "out" / "plan.json").read_text())["format"] == "pulsewright sweep plan 1"
