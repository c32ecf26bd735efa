"""The kernels' cache folder follows the sources, and old folders go."""

import os
import subprocess
import sys
import time
from pathlib import Path

from pulsewright.physics import compiled

PROBE = "from pulsewright.physics.compiled import CACHE_FOLDER as f; print(f)"


def ask(cache: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-c", PROBE],
        env={**os.environ, "PULSEWRIGHT_CACHE": str(cache)},
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.strip()


def test_the_environment_names_the_place(tmp_path: Path):
    assert Path(ask(tmp_path)) == tmp_path / f"kernels-{compiled.source_hash()}"
    assert Path(ask(tmp_path)).is_dir()


def test_where_nothing_can_be_written_nothing_is_cached(tmp_path: Path):
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    assert ask(blocked) == "None"


def test_a_changed_source_is_another_folder(tmp_path: Path, monkeypatch):
    for room in compiled.COMPILED_ROOMS:
        (tmp_path / room).mkdir()
    source = tmp_path / "kernel" / "march.py"
    source.write_text("a = 1\n")
    (tmp_path / "physics" / "compiled.py").write_text("")
    monkeypatch.setattr(compiled, "__file__", str(tmp_path / "physics" / "compiled.py"))
    before = compiled.source_hash()
    assert compiled.source_hash() == before
    source.write_text("a = 2\n")
    assert compiled.source_hash() != before


def test_only_kernels_unused_for_long_are_removed(tmp_path: Path):
    old, young, keep, other = (tmp_path / n for n in ("kernels-old", "kernels-young", "kernels-keep", "mine"))
    for folder in (old, young, keep, other):
        folder.mkdir()
    long_ago = time.time() - 31 * 86400
    for folder in (old, keep, other):
        os.utime(folder, (long_ago, long_ago))
    assert compiled.forget_old_kernels(tmp_path, keep=keep) == [old]
    assert not old.exists()
    assert all(folder.exists() for folder in (young, keep, other))
