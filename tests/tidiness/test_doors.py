"""The house has floors: a lower room never imports an upper one, and the two wings meet only in `fit`."""

import ast
from pathlib import Path

import pytest

import pulsewright

SOURCE = Path(pulsewright.__file__).parent

GROUND = ("errors", "units")
PREDICTION_WING = ("kernel", "network", "simulate", "gpu", "many", "sound")
MEASUREMENT_WING = ("pulls",)
UPSTAIRS = (
    "fit", "new", "cause", "remedies", "records", "figures", "report", "outside", "demo", "web", "cli", "__main__",
)  # fmt: skip
# Bottom to top. A room sees what stands before it, except across the wings.
FLOORS = (*GROUND, "physics", "bench", *PREDICTION_WING, *MEASUREMENT_WING, *UPSTAIRS)


def may_import(room: str, other: str) -> bool:
    """Whether `room` has a door to `other`."""
    if other in MEASUREMENT_WING and room in PREDICTION_WING:
        return False
    if other in PREDICTION_WING and room in MEASUREMENT_WING:
        return False
    return room == other or FLOORS.index(other) < FLOORS.index(room)


def room_of(path: Path, source: Path) -> str:
    """The room that a file belongs to; the package's own __init__ is in none."""
    inside = path.relative_to(source)
    if len(inside.parts) > 1:
        return inside.parts[0]
    return "" if inside.stem == "__init__" else inside.stem


def rooms_imported(path: Path, source: Path) -> list[tuple[int, str]]:
    """(line, room) of every import of our own package in a file, at the top or inside a function."""
    package = ["pulsewright", *path.relative_to(source).parent.parts]
    found: list[tuple[int, str]] = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            names = [f"{module}.{alias.name}" for alias in node.names]
        for name in names:
            parts = name.split(".")
            if parts[0] == "pulsewright" and len(parts) > 1 and not parts[1].startswith("__"):
                found.append((getattr(node, "lineno", 0), parts[1]))
    return found


def broken_doors(source: Path) -> list[str]:
    """One line for every import that goes up or across, and for every room without a floor."""
    wrong: list[str] = []
    for path in sorted(source.rglob("*.py")):
        room = room_of(path, source)
        if room and room not in FLOORS:
            wrong.append(f"{path.relative_to(source)}: room '{room}' has no floor; add it to FLOORS")
            continue
        for line, other in rooms_imported(path, source):
            if other not in FLOORS:
                wrong.append(f"{path.relative_to(source)}:{line}: '{other}' is no room of the house")
            elif not room or not may_import(room, other):
                wrong.append(f"{path.relative_to(source)}:{line}: {room or 'the package itself'} imports {other}")
    return wrong


def test_no_door_leads_up():
    assert list(SOURCE.rglob("*.py")), f"no source under {SOURCE}"
    assert not broken_doors(SOURCE)


@pytest.mark.parametrize(
    ("file", "text", "complaint"),
    [
        ("physics/gas.py", "from pulsewright.bench.parts import Pipe\n", "physics imports bench"),
        ("physics/gas.py", "def f():\n    import pulsewright.kernel.march\n", "physics imports kernel"),
        ("bench/parts.py", "from pulsewright import simulate\n", "bench imports simulate"),
        ("bench/parts.py", "from ..network import ducts\n", "bench imports network"),
        ("pulls/read.py", "from pulsewright.simulate import sweep\n", "pulls imports simulate"),
        ("simulate/sweep.py", "from pulsewright.pulls import read\n", "simulate imports pulls"),
        ("units.py", "from .physics import gas\n", "units imports physics"),
        ("__init__.py", "from pulsewright.units import show\n", "the package itself imports units"),
        ("attic/box.py", "x = 1\n", "room 'attic' has no floor"),
        ("cli/check.py", "from pulsewright.attic import box\n", "'attic' is no room"),
    ],
)
def test_a_broken_door_is_seen(tmp_path: Path, file: str, text: str, complaint: str):
    path = tmp_path / file
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    assert len(broken_doors(tmp_path)) == 1
    assert complaint in broken_doors(tmp_path)[0]


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("units.py", "from pulsewright.errors import InputError\n"),
        ("bench/sheet.py", "from pulsewright.units import quantity\nfrom .parts import Pipe\n"),
        ("fit/unknowns.py", "from pulsewright.pulls import holes\nfrom pulsewright.simulate import sweep\n"),
        ("cli/main.py", "from pulsewright import __version__\nimport numpy\n"),
    ],
)
def test_a_proper_door_is_left_alone(tmp_path: Path, file: str, text: str):
    path = tmp_path / file
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    assert not broken_doors(tmp_path)
