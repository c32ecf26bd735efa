"""Progress over engine speeds, on a terminal only and never on standard output."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Progress = Callable[[int, int, float], None]


@contextmanager
def progress_of(what: str, total: int, quiet: bool) -> Iterator[Progress | None]:
    """A function to call with (done, in all, last speed), or None where nobody would see it."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=total)

        def tell(done: int, in_all: int, rpm: float) -> None:
            bar.update(task, completed=done, total=in_all, description=f"{what}, {rpm:.0f} rpm")

        yield tell
