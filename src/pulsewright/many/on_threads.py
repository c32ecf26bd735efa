"""Designs on the threads of this process: the kernels let go of the interpreter while they compute."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from itertools import islice

from pulsewright.errors import CancelledError
from pulsewright.many.design import Design, DesignResult
from pulsewright.many.design_model import Compute, Stopped

AHEAD = 2  # designs handed out for every worker, so that none waits for the disk
POLL = 0.2  # [s] between two looks at whether to stop


def on_threads(
    compute: Compute, designs: Iterable[Design], *, workers: int, stopped: Stopped
) -> Iterator[list[DesignResult]]:
    """Results as they come, in any order. When `stopped` says True, ends with what is finished by then."""
    queue = iter(designs)
    with ThreadPoolExecutor(workers) as pool:
        pending = {pool.submit(compute, each, stopped) for each in islice(queue, AHEAD * workers)}
        while pending:
            done, pending = wait(pending, POLL, FIRST_COMPLETED)
            if stopped():
                for future in pending:
                    future.cancel()
                done, pending = done | wait(pending).done, set()
            pending |= {pool.submit(compute, each, stopped) for each in islice(queue, 0 if stopped() else len(done))}
            yield [future.result() for future in done if not _broken_off(future)]


def _broken_off(future: Future[DesignResult]) -> bool:
    return future.cancelled() or isinstance(future.exception(), CancelledError)
