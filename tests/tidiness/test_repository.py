"""What may not be in the repository: addresses of registries, large files, a lock without hashes."""

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOCKS = sorted((ROOT / "requirements").glob("*.txt"))
LARGEST = 600_000  # [byte]
ADDRESS = re.compile(r"(--(extra-)?index-url|files\.pythonhosted|pypi\.org/simple|registry\.npmjs)")
TEXT = {".py", ".toml", ".txt", ".md", ".yaml", ".yml", ".cfg", ".json", ""}


def kept_files() -> list[Path]:
    """Files under version control; outside a checkout, those that would be."""
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True)
    if done.returncode == 0 and done.stdout:
        return [path for name in done.stdout.split("\0") if name and (path := ROOT / name).is_file()]
    return [path for folder in ("src", "tests", "docs", "requirements") for path in (ROOT / folder).rglob("*.*")]


def test_no_file_is_large():
    assert not [str(path) for path in kept_files() if path.stat().st_size > LARGEST]


def test_no_address_of_a_registry_is_kept():
    here = Path(__file__)
    texts = [path for path in kept_files() if path.suffix in TEXT and path != here]
    assert len(texts) > 20
    assert not [str(path) for path in texts if ADDRESS.search(path.read_text(encoding="utf-8"))]


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.name)
def test_every_locked_version_has_a_hash(lock: Path):
    text = lock.read_text(encoding="utf-8")
    entries = re.split(r"\n(?=[a-z0-9])", text)
    assert len(entries) > 20
    assert not [entry.split("\n")[0] for entry in entries if "--hash=sha256:" not in entry]


def names_in(requirements: list[str]) -> set[str]:
    return {re.split(r"[\[<>=!~; ]", line)[0].lower().replace("_", "-") for line in requirements}


def test_the_locks_hold_what_the_project_asks_for():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    run = names_in(project["project"]["dependencies"])
    wanted = {"run": run}
    wanted |= {name: run | names_in(group) for name, group in project["dependency-groups"].items()}
    assert {lock.stem for lock in LOCKS} == set(wanted)
    for lock in LOCKS:
        lines = [line for line in lock.read_text(encoding="utf-8").splitlines() if line and line[0].isalnum()]
        assert wanted[lock.stem] <= names_in(lines), lock.name


def test_the_locks_agree_on_what_runs():
    """The test and docs locks hold the run lock unchanged, so that one environment serves all."""
    run = set((ROOT / "requirements" / "run.txt").read_text(encoding="utf-8").splitlines())
    pinned = {line for line in run if "==" in line}
    for lock in LOCKS:
        assert pinned <= set(lock.read_text(encoding="utf-8").splitlines()), lock.name
