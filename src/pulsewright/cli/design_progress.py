"""Progress over designs on standard error, with the time left: a bar on a terminal, else a line now and then."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

LINE_EVERY = 30.0  # [s] where there is no terminal

Progress = Callable[[int, int], None]


@contextmanager
def design_progress(quiet: bool) -> Iterator[Progress | None]:
    """A function to call with (designs finished, designs in all); None where nobody wants to see it."""
    if quiet:
        yield None
    elif sys.stderr.isatty():
        with _bar() as tell:
            yield tell
    else:
        yield _lines()


def time_left(finished: int, total: int, found: int, seconds: float) -> str:
    """How long the rest takes at the pace so far; `found` designs were there at the start, `seconds` ago."""
    if finished <= found:
        return "time left not known yet"
    left = round((total - finished) * seconds / (finished - found))
    hours, minutes = left // 3600, left // 60 % 60
    return f"{hours} h {minutes:02d} min left" if hours else f"{minutes} min {left % 60:02d} s left"


def _lines() -> Progress:
    begin = time.monotonic()
    found, last = -1, begin

    def tell(finished: int, total: int) -> None:
        nonlocal found, last
        now = time.monotonic()
        if found >= 0 and now - last < LINE_EVERY and finished < total:
            return
        found, last = finished if found < 0 else found, now
        click.echo(f"{finished} of {total} designs, {time_left(finished, total, found, now - begin)}", err=True)

    return tell


@contextmanager
def _bar() -> Iterator[Progress]:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (BarColumn(), MofNCompleteColumn(), TimeElapsedColumn(), TextColumn("{task.description}"))
    begin, found = time.monotonic(), -1
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)

        def tell(finished: int, total: int) -> None:
            nonlocal found
            found = finished if found < 0 else found
            left = time_left(finished, total, found, time.monotonic() - begin)
            bar.update(task, completed=finished, total=total, description=left)

        yield tell
