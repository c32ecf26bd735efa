"""plotly.js as its installed package brings it: nothing is copied, nothing comes from a network."""

from __future__ import annotations

import functools
import re
from importlib.resources import files
from pathlib import Path


@functools.cache
def plotly_file() -> Path:
    """Where plotly.js lies."""
    return Path(str(files("plotly").joinpath("package_data", "plotly.min.js")))


@functools.cache
def plotly_text() -> bytes:
    """plotly.js, kept in memory: five megabytes in pieces from a disk take a browser 0.1 s longer."""
    return plotly_file().read_bytes()


@functools.cache
def mark_of_plotly() -> str:
    """The id of a style sheet that plotly.js would put into a page for maps, which our policy forbids.

    An element of that id keeps it from trying.
    """
    found = re.search(r'getElementById\("([0-9a-f]{64})"\)', plotly_text().decode("utf-8"))
    return found.group(1) if found else "no-such-mark"
