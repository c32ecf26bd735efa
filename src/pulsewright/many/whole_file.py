"""Files that are there whole or not at all, also after a crash."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A path to write to, which becomes `path` at the end; an error leaves what was there before."""
    draft = path.with_name(f".writing-{path.name}")
    try:
        yield draft
        with draft.open("rb") as file:
            os.fsync(file.fileno())
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)
