"""One round of each kind of accident. The seed chooses the moment."""

import csv
import random
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from processes import Processes, finished_lines, free_port, kill, processes, wait_for
from stand_in import DEADLY, check_whole

DESIGNS, SECONDS = 120, 0.05
# From a hiccup to longer than the 11 s after which a silent worker is given up. [s]
CUT = (1.0, 6.0, 14.0, 20.0)
HOST = "127.0.0.1"


def run_killed(tmp_path: Path, seed: int) -> None:
    """The run itself is killed three times, and its log torn by hand once more."""
    chance = random.Random(seed)
    folder = tmp_path / "out"
    with processes(tmp_path / "logs") as started:
        for part in (0.2, 0.5, 0.8):
            run = started.run(folder, DESIGNS, 0.01, "threads")
            goal = int(DESIGNS * part) + chance.randrange(10)
            wait_for(lambda goal=goal: finished_lines(folder) >= goal)
            kill(run)
        with (folder / "results.log").open("ab") as log:
            log.write(b'deadbeef 7 {"number":7,"id"')
        finish(started, started.run(folder, DESIGNS, 0.01, "threads"), folder)


def worker_killed(tmp_path: Path, seed: int) -> None:
    """One of two workers is killed in the middle; another one comes later."""
    with cluster(tmp_path) as (started, address, _, workers):
        run = started_run(started, tmp_path, address, seed)
        kill(workers[seed % 2])
        started.worker(address, HOST)
        finish(started, run, tmp_path / "out")


def scheduler_restarted(tmp_path: Path, seed: int) -> None:
    """The scheduler is killed in the middle and started again at the same address, with new workers."""
    with cluster(tmp_path) as (started, address, scheduler, workers):
        run = started_run(started, tmp_path, address, seed)
        kill(scheduler)
        started.scheduler(HOST, int(address.rpartition(":")[2]))
        for worker in workers:
            kill(worker)
            started.worker(address, HOST)
        finish(started, run, tmp_path / "out")


def network_cut(tmp_path: Path, seed: int) -> None:
    """The line between the host of the scheduler and the host of one worker is cut, and mended later."""
    with two_hosts() as (near, far, link), processes(tmp_path / "logs") as started:
        address = "tcp://10.199.0.1:8786"
        started.scheduler("10.199.0.1", 8786, near)
        started.worker(address, "10.199.0.1", near)
        started.worker(address, "10.199.0.2", far, nanny=True)
        run = started_run(started, tmp_path, address, seed, space=near)
        ip("-n", near, "link", "set", link, "down")
        time.sleep(CUT[seed % len(CUT)])
        ip("-n", near, "link", "set", link, "up")
        finish(started, run, tmp_path / "out")


def client_cut(tmp_path: Path, seed: int) -> None:
    """The line between the run and the whole cluster is cut, and mended later."""
    with two_hosts() as (near, far, link), processes(tmp_path / "logs") as started:
        address = "tcp://10.199.0.2:8786"
        started.scheduler("10.199.0.2", 8786, far)
        for _ in range(2):
            started.worker(address, "10.199.0.2", far)
        run = started_run(started, tmp_path, address, seed, space=near)
        ip("-n", near, "link", "set", link, "down")
        time.sleep(CUT[seed % len(CUT)])
        ip("-n", near, "link", "set", link, "up")
        finish(started, run, tmp_path / "out")


ROUNDS: dict[str, Callable[[Path, int], None]] = {
    "run killed": run_killed,
    "worker killed": worker_killed,
    "scheduler restarted": scheduler_restarted,
    "network cut to a worker": network_cut,
    "network cut to the cluster": client_cut,
}


def end_worker_for_good(tmp_path: Path) -> None:
    """A design that ends every worker that takes it is told as failed, and all others are computed."""
    with processes(tmp_path / "logs") as started:
        run = started.run(tmp_path / "out", 30, 0.01, "local", "deadly")
        assert run.wait(120) == 0, started.told()
    with (tmp_path / "out" / "designs.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [int(row["number"]) for row in rows] == list(range(1, 31))
    assert {int(row["number"]) for row in rows if row["outcome"] == "failed"} == {DEADLY}
    assert "workers ended" in rows[DEADLY - 1]["why"]


def finish(started: Processes, run: subprocess.Popen, folder: Path) -> None:
    try:
        code = run.wait(120)
    except subprocess.TimeoutExpired:
        raise AssertionError(f"{finished_lines(folder)} designs, then no end\n{started.told()}") from None
    assert code == 0, started.told()
    check_whole(folder, DESIGNS)


def started_run(started: Processes, tmp_path: Path, address: str, seed: int, space: str = "") -> subprocess.Popen:
    """A run over the cluster, returned in the middle of its work."""
    folder = tmp_path / "out"
    run = started.run(folder, DESIGNS, SECONDS, address, space=space)
    goal = random.Random(seed).randrange(5, DESIGNS - 40)
    try:
        wait_for(lambda: finished_lines(folder) >= goal or run.poll() is not None)
    except AssertionError:
        raise AssertionError(started.told()) from None
    assert run.poll() is None, started.told()
    return run


@contextmanager
def cluster(tmp_path: Path) -> Iterator[tuple[Processes, str, subprocess.Popen, list[subprocess.Popen]]]:
    port = free_port()
    address = f"tcp://{HOST}:{port}"
    with processes(tmp_path / "logs") as started:
        scheduler = started.scheduler(HOST, port)
        workers = [started.worker(address, HOST) for _ in range(2)]
        yield started, address, scheduler, workers


@contextmanager
def two_hosts() -> Iterator[tuple[str, str, str]]:
    """Two network namespaces with a line between them; nothing of it touches the network of this machine."""
    mark = f"{random.SystemRandom().randrange(16**6):06x}"
    near, far, link, other = f"pw-{mark}-a", f"pw-{mark}-b", f"pw{mark}a", f"pw{mark}b"
    try:
        for space in (near, far):
            ip("netns", "add", space)
            ip("-n", space, "link", "set", "lo", "up")
        ip("-n", near, "link", "add", link, "type", "veth", "peer", "name", other, "netns", far)
        for space, name, address in ((near, link, "10.199.0.1/24"), (far, other, "10.199.0.2/24")):
            ip("-n", space, "address", "add", address, "dev", name)
            ip("-n", space, "link", "set", name, "up")
        yield near, far, link
    finally:
        for space in (near, far):
            subprocess.run(["ip", "netns", "delete", space], capture_output=True)


def ip(*words: str) -> None:
    subprocess.run(["ip", *words], check=True, capture_output=True)


def network_spaces() -> str:
    """Why no network namespaces can be made here; empty where they can."""
    if shutil.which("ip") is None:
        return "there is no `ip`"
    try:
        with two_hosts():
            return ""
    except subprocess.CalledProcessError as error:
        return f"no network namespaces here: {error.stderr.decode(errors='replace').strip()}"


def needs_network_spaces(kind: str) -> pytest.MarkDecorator:
    """Leaves a round out, with the reason, where the system does not allow what it needs."""
    reason = network_spaces() if kind.startswith("network") else ""
    return pytest.mark.skipif(bool(reason), reason=reason)
