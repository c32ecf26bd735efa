"""What a setup changed, in words a customer can read."""

from __future__ import annotations

from pulsewright.bench.describe import describe_route
from pulsewright.bench.session import SessionSetup

NOTHING = "nothing on the sheet"


def changes_in_words(setup: SessionSetup) -> str:
    """The changes of a setup in one line: "main jet 1.98 mm; exhaust: single pipe 920 mm, plate 14 mm ..."."""
    words: dict[str, None] = {}  # keeps the order and drops repeats, such as the same pipe on both cylinders
    for path, value in setup.changes:
        words[_in_words(setup, path.split("."), value)] = None
    return "; ".join(words) or NOTHING


def _in_words(setup: SessionSetup, path: list[str], value: object) -> str:
    if path[:2] == ["exhaust", "route"] and len(path) >= 3 and path[2].isdigit():
        return f"exhaust: {describe_route(setup.setup.exhaust.route[int(path[2])])}"
    if path[:2] == ["exhaust", "after"] and len(path) >= 3:
        return f"after {path[2]}: {describe_route(setup.setup.exhaust.after[path[2]])}"
    if path[0] == "carburettor" and path[-1] == "needle_clip":
        return f"needle clip in groove {value}"
    name = _name(setup, path)
    return f"{name} {value}" if isinstance(value, str | int | float) else name


def _name(setup: SessionSetup, path: list[str]) -> str:
    """What the shop calls the part: the intermediate circuit of a carburettor with a needle is its pilot circuit."""
    name = path[-1].replace("_", " ")
    if path[0] == "carburettor" and len(path) >= 3 and setup.setup.carburettors[int(path[1]) - 1].needle:
        return name.replace("intermediate", "pilot")
    return name
