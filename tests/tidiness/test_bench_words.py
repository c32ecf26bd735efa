"""The ./bench script: its words, its manners, and that every one of them is described."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
WORDS = ("demo", "test", "lint", "types", "docs", "speed")


def bench(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, str(ROOT / "bench"), *words], capture_output=True, text=True)


def test_help_lists_every_word():
    shown = bench("--help")
    assert shown.returncode == 0
    assert tuple(line.split()[0] for line in shown.stdout.splitlines()[2:]) == WORDS


@pytest.mark.parametrize("words", [(), ("nonsense",)])
def test_a_word_that_is_none_is_usage(words: tuple[str, ...]):
    assert bench(*words).returncode == 2


@pytest.mark.parametrize("word", WORDS)
def test_every_word_is_described(word: str):
    pages = (ROOT / "README.md").read_text("utf-8") + (ROOT / "CONTRIBUTING.md").read_text("utf-8")
    assert f"./bench {word}" in pages


def test_the_script_needs_only_the_standard_library():
    # -S leaves out site-packages, -I the folder of the script and the environment's paths
    command = [sys.executable, "-I", "-S", str(ROOT / "bench"), "--help"]
    assert subprocess.run(command, capture_output=True).returncode == 0


def test_continuous_integration_says_the_same_words():
    text = (ROOT / ".ci" / "run").read_text("utf-8")
    assert "./bench test" in text
    assert "install" not in text
