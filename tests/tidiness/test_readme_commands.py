"""What the README and the manual tell a person to type is typed here, in a copy, and must work.

Only ```console blocks are run, line by line; what follows a `$` must be a `pulsewright` command. A block that
takes longer than a few seconds starts with the line `# slow`, which puts it among the slow tests.
"""

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
BLOCK = re.compile(r"^```console\n(.*?)^```", re.DOTALL | re.MULTILINE)
NEEDED = ("examples", "docs/pictures")  # what a command on a page may read


def console_blocks(text: str) -> list[list[str]]:
    """The lines of every ```console block, as written."""
    return [body.splitlines() for body in BLOCK.findall(text)]


def commands_of(block: list[str]) -> list[str]:
    """The typed lines of a block, a line that ends in a backslash joined with the next."""
    joined = "\n".join(block).replace("\\\n", " ")
    return [line[2:].split(" # ")[0].strip() for line in joined.splitlines() if line.startswith("$ ")]


def as_python(command: str) -> list[str]:
    """The command as this Python runs it; anything but `pulsewright ...` has no place in a console block."""
    words = shlex.split(command)
    assert words[0] == "pulsewright", f"only pulsewright is run from a page, not: {command}"
    assert not set(words) & {"|", ">", ">>", "&&", ";"}, f"no shell signs in a console block: {command}"
    return [sys.executable, "-m", "pulsewright", *words[1:]]


def found_blocks() -> list:
    cases = []
    for page in PAGES:
        for number, block in enumerate(console_blocks(page.read_text(encoding="utf-8")), start=1):
            marks = [pytest.mark.slow] if block[0].strip() == "# slow" else []
            cases.append(pytest.param(block, id=f"{page.relative_to(ROOT)}-{number}", marks=marks))
    return cases


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A folder that looks like the checkout to a command that reads from it."""
    for name in NEEDED:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, tmp_path / name)
    return tmp_path


@pytest.mark.parametrize("block", found_blocks())
def test_what_a_page_says_can_be_typed(block: list[str], copy: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("PULSEWRIGHT_STORE", str(copy / "store"))
    commands = commands_of(block)
    assert commands, f"a console block without a command: {block}"
    for command in commands:
        done = subprocess.run(as_python(command), cwd=copy, capture_output=True, text=True, timeout=600)
        assert done.returncode == 0, f"{command}\n{done.stderr}"


def test_the_readme_has_something_to_type():
    assert console_blocks((ROOT / "README.md").read_text(encoding="utf-8"))


def test_lines_are_read_as_they_are_meant():
    text = "```console\n# slow\n$ pulsewright a b \\\n    --c 1  # why\nanswer\n$ pulsewright d\n```\n"
    (block,) = console_blocks(text)
    assert [shlex.split(line) for line in commands_of(block)] == [
        ["pulsewright", "a", "b", "--c", "1"],
        ["pulsewright", "d"],
    ]


@pytest.mark.parametrize("command", ["rm -r x", "pulsewright a | cat", "pulsewright a > f"])
def test_nothing_else_is_run(command: str):
    with pytest.raises(AssertionError):
        as_python(command)
