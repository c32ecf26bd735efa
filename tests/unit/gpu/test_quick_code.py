"""Arithmetic and indices as they are written for the card, compiled for this processor instead."""

import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[2]


def test_numbers_and_views_are_right(tmp_path: Path):
    """In a process of its own: what is compiled there keeps the card's way of writing them."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "src")])}
    run = subprocess.run(
        [sys.executable, str(HERE / "quick_code_here.py")], env=environment, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr[-3000:]
    assert run.stdout.split() == ["numbers", "views"]
