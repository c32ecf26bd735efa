"""A needle jet that is swapped leaves its needle as it is, also where the sheet fills the needle in from the jet."""

import re
from collections.abc import Iterable, Iterator
from typing import Any

from pulsewright.errors import InputError
from pulsewright.units import show

NEEDLE_JET = re.compile(r"carburettor\.(\d+)\.needle_jet")


HELD = "as with the jet before, which was changed alone"


def held_needles(before: str, after: Any, paths: Iterable[str]) -> Iterator[tuple[int, str]]:
    """Numbers of carburettors whose needle jet was changed alone, and the diameters of their needles.

    before : TOML text of the sheet without the changes; after : the changed document, plain; paths : what was changed.
    """
    from pulsewright.bench.sheet import setup_from_text  # which reads changed sheets itself

    numbers = [int(found[1]) for found in map(NEEDLE_JET.fullmatch, paths) if found]
    unnamed = [n for n in numbers if "needle_diameter" not in after["carburettor"][n - 1]]
    if not unnamed:
        return
    try:
        parts = setup_from_text(before, "the sheet", lines=False).carburettors
    except InputError:  # a sheet that only its changes make whole has had no needle before them
        return
    for n in unnamed:
        needle = parts[n - 1].needle
        if needle is not None:
            yield n, show(needle.diameter, "length", digits=6)
