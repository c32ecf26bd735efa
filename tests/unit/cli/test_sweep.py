"""The sweep command: one small real run, what is refused, and stopping by Ctrl-C."""

import csv
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pulsewright.cli.design_progress import time_left
from pulsewright.cli.main import run

SHEET = str(Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml")
LENGTH = "exhaust.route.1.1.length=-100 mm:900 mm:3"
FEW = [SHEET, "--rpm", "4000", "--vary", LENGTH]


def test_a_small_real_run(tmp_path, capsys):
    folder = tmp_path / "out"
    assert run(["sweep", *FEW, "-o", str(folder), "--json"]) == 0
    told = capsys.readouterr()
    data = json.loads(told.out)
    assert data["format"] == "pulsewright sweep 1"
    assert (data["designs"], data["computed"], data["left"]) == (3, 3, 0)
    assert data["outcomes"] == {"converged": 2, "refused": 1}
    assert "3 of 3 designs" in told.err
    with (folder / "designs.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["outcome"] for row in rows] == ["refused", "converged", "converged"]
    assert run(["sweep", *FEW, "-o", str(folder), "--quiet"]) == 0
    assert "3 of them before" in capsys.readouterr().out
    assert run(["sweep", *FEW, "-o", str(folder), "--rpm", "4500"]) == 4
    assert "asked [4500.0]" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        ([SHEET], 2, "--vary"),
        ([*FEW, "--vary", LENGTH], 2, "twice"),
        ([*FEW, "--seed", "3"], 2, "--sample"),
        ([*FEW, "--sample", "random", "3"], 2, "sobol"),
        ([*FEW, "--sample", "sobol", "0"], 2, "0"),
        ([SHEET, "--vary", "engine.boar=90 mm:95 mm:2"], 4, "engine.bore"),
        ([SHEET, "--vary", "engine.bore=90 mm:95 mm"], 2, "how many"),
        ([*FEW, "--set", "engine.bore=-90 mm"], 4, "bore"),
        ([*FEW, "--rpm", "fast"], 2, "no number"),
    ],
)
def test_what_cannot_work_is_refused(tmp_path, capsys, arguments, code, said):
    assert run(["sweep", *arguments, "-o", str(tmp_path / "out")]) == code
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_no_scheduler_is_told(tmp_path, capsys, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("pulsewright.many.on_cluster.FIRST_PATIENCE", 0.5)
    assert run(["sweep", *FEW, "-o", str(tmp_path / "out"), "--cluster", "tcp://127.0.0.1:9"]) == 4
    assert "no scheduler answers" in capsys.readouterr().err


def test_what_a_missing_extra_says(tmp_path, capsys, monkeypatch):
    for package, words in (("distributed", ["--cluster", "local"]), ("pyarrow", ["--parquet"])):
        monkeypatch.setitem(sys.modules, package, None)
        assert run(["sweep", *FEW, "-o", str(tmp_path / "out"), *words]) == 3
        assert "pip install 'pulsewright[" in capsys.readouterr().err


def test_ctrl_c_keeps_what_is_finished(tmp_path):
    folder = tmp_path / "out"
    words = ["--rpm", "4000", "--vary", "exhaust.route.1.1.length=800 mm:900 mm:200", "-o", str(folder)]
    process = subprocess.Popen(
        [sys.executable, "-m", "pulsewright", "sweep", SHEET, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    log = folder / "results.log"
    end = time.monotonic() + 120
    while not (log.exists() and log.read_bytes().count(b"\n") >= 2):
        assert time.monotonic() < end
        assert process.poll() is None
        time.sleep(0.05)
    os.kill(process.pid, signal.SIGINT)
    _, told = process.communicate(timeout=60)
    assert process.returncode == 130
    assert b"the same command goes on" in told
    assert b"Traceback" not in told
    with (folder / "designs.csv").open(encoding="utf-8") as file:
        finished = len(list(csv.DictReader(file)))
    assert finished == log.read_bytes().count(b"\n") >= 2


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ((0, 10, 0, 5.0), "time left not known yet"),
        ((4, 4, 4, 5.0), "time left not known yet"),
        ((3, 10, 1, 60.0), "3 min 30 s left"),
        ((1, 1001, 0, 36.0), "10 h 00 min left"),
    ],
)
def test_time_left(numbers, said):
    assert time_left(*numbers) == said
