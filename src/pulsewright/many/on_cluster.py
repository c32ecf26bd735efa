"""Designs on a Dask cluster: one that is there, or one made on this machine for the run.

Only this process keeps results, so that a design counts once however often workers computed it. Whatever is
lost on the way (a worker, the scheduler, the network) was not kept, and is handed out again.
"""

from __future__ import annotations

import logging
import math
import queue
import time
import uuid
import warnings
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from itertools import islice
from typing import TYPE_CHECKING, Any

from pulsewright.errors import InputError, LimitError, MissingToolError, PulsewrightError
from pulsewright.many.design import FAILED, Design, DesignResult
from pulsewright.many.design_model import Compute, Stopped, never

if TYPE_CHECKING:
    from distributed import Future

LOCAL = "local"
BATCH_SECONDS = 0.5  # of work in one task: handing out a task costs about a millisecond
LARGEST_BATCH = 1000
AHEAD = 4  # tasks handed out for every thread of the cluster, so that none waits for this process
POLL = 0.5  # [s] between two looks at the connection, the workers and whether to stop
FIRST_PATIENCE = 20.0  # [s] for the first answer of a scheduler
PATIENCE = 300.0  # [s] for a lost scheduler to come back
PAUSE = 1.0  # [s] between two tries

# Dask watches itself and its tasks closely; for tasks of this kind nobody looks at that.
CALM = {
    "distributed.worker.profile.enabled": False,
    "distributed.admin.tick.interval": "1s",
    "distributed.admin.tick.limit": "60s",
    "distributed.admin.system-monitor.interval": "5s",
    "distributed.scheduler.work-stealing-interval": "1s",
}

Batch = list[Design]
Tell = Callable[[str], None]


class ConnectionLost(Exception):
    """The scheduler, or a result on its way here, is out of reach."""


def on_cluster(
    compute: Compute,
    designs: Iterable[Design],
    *,
    address: str,
    workers: int,
    stopped: Stopped,
    tell: Tell,
    patience: float = PATIENCE,
) -> Iterator[list[DesignResult]]:
    """Results as they come, in any order. When `stopped` says True, ends and leaves the rest undone.

    Parameters
    ----------
    address : of the scheduler, such as tcp://127.0.0.1:8786, or "local".
    workers : processes of a local cluster; one that is there has its own.
    tell : called with a line for the person when the cluster is lost and found.
    patience : how long to wait for a lost scheduler. [s]

    Raises
    ------
    MissingToolError : Dask is not installed.
    InputError : no scheduler at the address.
    LimitError : the scheduler did not come back, or the workers cannot run the designs.
    """
    work = _Work(compute, designs)
    with ExitStack() as stack:
        stack.enter_context(_quiet())
        if address == LOCAL:
            address = stack.enter_context(_local_cluster(workers))
        known, since = False, time.monotonic()
        while work.left() and not stopped():
            try:
                with _client(address, FIRST_PATIENCE if not known else PAUSE * 5) as client:
                    if known:
                        tell("the cluster is back")
                    known = True
                    for results in _run(client, work, stopped):
                        since = time.monotonic()
                        yield results
            except (ConnectionLost, OSError) as error:
                if not known:
                    raise _no_scheduler(address, error) from None
                work.hand_out_again()
                if time.monotonic() - since > patience:
                    hint = "what is finished is kept; bring the cluster up and run the same command again"
                    raise LimitError("the cluster did not come back", where=address, hint=hint) from error
                tell("the cluster is lost; waiting for it")
                time.sleep(PAUSE)


def compute_batch(compute: Compute, batch: Batch) -> list[DesignResult]:
    """What one task does on a worker."""
    return [compute(design, never) for design in batch]


class _Work:
    """Designs that are still to be done, in batches of about equal time."""

    def __init__(self, compute: Compute, designs: Iterable[Design]) -> None:
        self.compute = compute
        self.running: dict[Future, Batch] = {}
        self._fresh = iter(designs)
        self._again: deque[Batch] = deque()
        self._suspects: deque[Design] = deque()
        self._alone: Design | None = None  # the suspect that is running
        self._mean = math.inf  # [s] a design took lately

    def left(self) -> bool:
        """Whether anything is running or waiting."""
        if not (self.running or self._again or self._suspects):
            self._again.extend([each] for each in islice(self._fresh, 1))
        return bool(self.running or self._again or self._suspects)

    def next_batch(self) -> Batch:
        """Designs for one task; empty where there are none to hand out now."""
        if self._suspects or self._alone:
            if self.running:
                return []
            self._alone = self._suspects.popleft()
            return [self._alone]
        if self._again:
            return self._again.popleft()
        size = BATCH_SECONDS / self._mean if self._mean > 0.0 else LARGEST_BATCH
        return list(islice(self._fresh, max(1, min(int(size), LARGEST_BATCH))))

    def timed(self, results: list[DesignResult]) -> None:
        """Learn from finished designs how many make a batch."""
        mean = sum(each.seconds for each in results) / len(results)
        self._mean = mean if math.isinf(self._mean) else 0.8 * self._mean + 0.2 * mean

    def ended(self, future: Future) -> None:
        """Note that a task is over."""
        batch = self.running.pop(future)
        if self.alone(batch):
            self._alone = None

    def alone(self, batch: Batch) -> bool:
        """Whether a batch is the one suspect that is running alone."""
        return batch[0] is self._alone

    def suspect(self, batch: Batch) -> None:
        """Have each of these designs computed while nothing else is."""
        self._suspects.extend(batch)

    def hand_out_again(self) -> None:
        """Take back everything that is running."""
        if self._alone is not None:
            self._suspects.appendleft(self._alone)
        self._again.extend(batch for batch in self.running.values() if not self.alone(batch))
        self._alone = None
        self.running.clear()


def _run(client: Any, work: _Work, stopped: Stopped) -> Iterator[list[DesignResult]]:
    """Keep the cluster busy until nothing is left; raises ConnectionLost."""
    finished: queue.SimpleQueue[Future] = queue.SimpleQueue()
    mark = uuid.uuid4().hex[:12]  # no task of an earlier connection may be taken for one of this
    handed, room, looked = 0, AHEAD, -math.inf
    while work.left() and not stopped():
        if time.monotonic() - looked > POLL:
            looked = time.monotonic()
            _check(client)
            room = AHEAD * max(1, sum(client.nthreads().values()))
        while len(work.running) < room and (batch := work.next_batch()):
            handed += 1
            key = f"pulsewright-{mark}-{handed}"
            future = client.submit(compute_batch, work.compute, batch, key=key, pure=False)
            work.running[future] = batch
            future.add_done_callback(finished.put)
        for future in _take(finished):
            results = _results(future, work)
            work.ended(future)
            if results:
                yield results


def _take(finished: queue.SimpleQueue[Future]) -> Iterator[Future]:
    """Tasks that have ended; waits a moment for the first."""
    try:
        yield finished.get(timeout=POLL)
        while True:
            yield finished.get_nowait()
    except queue.Empty:
        return


def _results(future: Future, work: _Work) -> list[DesignResult]:
    """Results of an ended task; none where its designs must be handed out again."""
    from distributed import KilledWorker

    if future.status in ("cancelled", "lost"):
        raise ConnectionLost
    try:
        results = future.result()
    except KilledWorker as error:
        return _after_deaths(work, work.running[future], str(error.last_worker))
    except PulsewrightError:
        raise
    except (OSError, TimeoutError) as error:
        raise ConnectionLost from error
    except Exception as error:
        if type(error).__name__ in ("FutureCancelledError", "CancelledError"):  # the name moved between releases
            raise ConnectionLost from error
        hint = "every worker needs the same version of pulsewright; `pulsewright version` shows it"
        raise LimitError(f"the workers cannot run the designs: {type(error).__name__}: {error}", hint=hint) from error
    work.timed(results)
    return results


def _after_deaths(work: _Work, batch: Batch, worker: str) -> list[DesignResult]:
    """Several workers have ended over a batch, or beside it: only a design that was alone is known to do it."""
    if not work.alone(batch):
        work.suspect(batch)
        return []
    design = batch[0]
    why = f"its workers ended again and again while they computed it (last: {worker}); too little memory?"
    return [DesignResult(number=design.number, id=design.id, outcome=FAILED, why=why)]


def _check(client: Any) -> None:
    if client.status != "running":
        raise ConnectionLost


def _no_scheduler(address: str, error: Exception) -> InputError:
    hint = "give the address that the scheduler prints, like tcp://127.0.0.1:8786, or --cluster local"
    return InputError(f"no scheduler answers ({type(error).__name__})", where=f"--cluster {address}", hint=hint)


@contextmanager
def _client(address: str, timeout: float) -> Iterator[Any]:
    from distributed import Client

    try:
        client = Client(address, timeout=timeout, set_as_default=False)
    except ValueError as error:  # an address of a form that Dask does not know
        raise _no_scheduler(address, error) from None
    try:
        yield client
    finally:
        client.close(timeout=2.0)


@contextmanager
def _local_cluster(workers: int) -> Iterator[str]:
    """A scheduler and single-threaded workers on this machine; nothing of it can be reached from outside."""
    from dask import config
    from distributed import LocalCluster

    inside = {"host": "127.0.0.1", "dashboard_address": "127.0.0.1:0", "worker_dashboard_address": "127.0.0.1:0"}
    made: Any = {"n_workers": workers, "threads_per_worker": 1, "silence_logs": logging.CRITICAL}
    with config.set(CALM):
        cluster: Any = LocalCluster(**inside, **made)
        with cluster:
            yield cluster.scheduler_address


@contextmanager
def _quiet() -> Iterator[None]:
    """Without Dask's own lines about connections: what matters of them is told in our words."""
    try:
        import distributed  # noqa: F401
    except ImportError:
        raise MissingToolError(
            "--cluster needs Dask", where="--cluster", hint="pip install 'pulsewright[cluster]'"
        ) from None
    logger = logging.getLogger("distributed")
    before = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message=".*Mismatched versions.*")  # DesignModel compares what matters
            yield
    finally:
        logger.setLevel(before)
