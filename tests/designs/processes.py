"""Processes of a cluster that tests start, kill and start again: scheduler, workers, and the run itself."""

import os
import random
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

RIG = Path(__file__).parent
SOURCE = RIG.parents[1] / "src"
FAST = {  # a broken connection is seen soon; Dask takes no less than 11 s
    "DASK_DISTRIBUTED__COMM__TIMEOUTS__TCP": "11s",
    "DASK_DISTRIBUTED__COMM__TIMEOUTS__CONNECT": "5s",
    "DASK_DISTRIBUTED__SCHEDULER__WORKER_TTL": "11s",
    "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "1",  # after two dead workers Dask gives a task up
}


class Processes:
    """Starts processes in one network namespace or another, and ends all of them."""

    def __init__(self, logs: Path) -> None:
        self._logs = logs
        self._all: list[subprocess.Popen] = []

    def start(self, *words: str, space: str = "") -> subprocess.Popen:
        path = os.pathsep.join([str(RIG), str(SOURCE)])
        environment = {**os.environ, **FAST, "PYTHONPATH": path, "PYTHONWARNINGS": "ignore",
                       "DASK_TEMPORARY_DIRECTORY": str(self._logs)}  # fmt: skip
        prefix = ["ip", "netns", "exec", space] if space else []
        log = (self._logs / f"{len(self._all)}.log").open("wb")
        with log:
            process = subprocess.Popen(
                [*prefix, sys.executable, *words], env=environment, stdout=log, stderr=log, start_new_session=True
            )
        self._all.append(process)
        return process

    def scheduler(self, host: str, port: int, space: str = "") -> subprocess.Popen:
        return self.start("-m", "distributed.cli.dask_scheduler", "--host", host, "--port", str(port),
                          "--dashboard-address", "127.0.0.1:0", space=space)  # fmt: skip

    def worker(self, address: str, host: str, space: str = "", *, nanny: bool = False) -> subprocess.Popen:
        kind = "--nanny" if nanny else "--no-nanny"
        return self.start("-m", "distributed.cli.dask_worker", address, "--host", host, "--nthreads", "1", kind,
                          "--dashboard-address", "127.0.0.1:0", space=space)  # fmt: skip

    def run(
        self, folder: Path, designs: int, seconds: float, where: str, *more: str, space: str = ""
    ) -> subprocess.Popen:
        return self.start("-c", "import stand_in; stand_in.main()", str(folder), str(designs), str(seconds), where,
                          *more, space=space)  # fmt: skip

    def told(self) -> str:
        """The last of what every process wrote, for a failed test."""
        return "\n".join(
            f"{p.name}:\n{p.read_text(errors='replace')[-1500:]}" for p in sorted(self._logs.glob("*.log"))
        )

    def end(self) -> None:
        for process in self._all:
            kill(process)


@contextmanager
def processes(logs: Path) -> Iterator[Processes]:
    logs.mkdir(exist_ok=True)
    started = Processes(logs)
    try:
        yield started
    finally:
        started.end()


def kill(process: subprocess.Popen) -> None:
    """End a process and its children at once, without asking."""
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(30)


def free_port() -> int:
    """A port that nobody uses, below those that the system gives to whoever asks for any."""
    while True:
        port = random.randrange(20_000, 30_000)
        with socket.socket() as listener, suppress(OSError):
            listener.bind(("127.0.0.1", port))
            return port


def wait_for(what: Callable[[], bool], seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end, f"waited {seconds:.0f} s for {what}"
        time.sleep(0.02)


def finished_lines(folder: Path) -> int:
    log = folder / "results.log"
    return log.read_bytes().count(b"\n") if log.exists() else 0
