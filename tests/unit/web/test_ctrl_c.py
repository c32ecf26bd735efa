"""Ctrl-C while kernels are compiled for the first time: the server ends soon, and nothing is spoiled by it."""

import os
import pickle
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from tests.pages.screen_server import Server

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

SOON = 10.0  # [s] the aim is two; compiling goes on for tens
MARCH = "march.march_cycle-*.nbi"  # the kernel that is compiled last


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A place for kernels where nothing is compiled yet."""
    place = tmp_path / "kernels"
    monkeypatch.setenv("PULSEWRIGHT_CACHE", str(place))
    return place


def until(there: Callable[[], bool]) -> None:
    for _ in range(1200):
        if there():
            return
        time.sleep(0.1)
    raise AssertionError("it never came to that")


def compiling(cache: Path) -> bool:
    """Whether the first kernels are kept and the last is not: some thread compiles now."""
    return any(cache.rglob("*.nbc")) and not any(cache.rglob(MARCH))


def seconds_to_end(server: Server) -> float:
    begin = time.monotonic()
    server.process.send_signal(signal.SIGINT)
    server.process.wait(60)
    return time.monotonic() - begin


def members(group: int) -> list[str]:
    """Commands of the processes that a server started, itself among them."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
            if int(fields[2]) == group and fields[0] != "Z":
                found.append((stat.parent / "cmdline").read_text().replace("\0", " "))
        except OSError:
            continue  # it has ended meanwhile
    return found


def assert_whole(cache: Path) -> None:
    """Everything that an index of the cache names is there and can be read, but the one that was being compiled."""
    indices = list(cache.rglob("*.nbi"))
    assert indices
    for index in indices:
        with index.open("rb") as file:
            pickle.load(file)
            _, names = pickle.loads(file.read())
        for name in names.values():
            assert pickle.loads((index.parent / name).read_bytes())
    assert not list(cache.rglob("*.tmp*"))


@pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")
def test_the_server_does_not_wait_for_the_first_compile(tmp_path: Path, cache: Path):
    place, said = tmp_path / "store", []
    with Store.open(place) as store:
        job = store.take_in(SESSION).id
    server = Server(place)

    def ask() -> None:
        said.append(httpx.get(f"{server.address}/jobs/{job}/start.json", timeout=120))

    asking = threading.Thread(target=ask)
    asking.start()
    until(lambda: compiling(cache))
    time.sleep(1.0)
    assert compiling(cache)
    assert seconds_to_end(server) < SOON
    assert compiling(cache)  # nobody waited for the last kernel
    asking.join(10)
    assert server.process.returncode == 130
    assert server.process.stdout is not None
    assert server.process.stdout.read().split() == ["pulsewright:", "stopped"]
    server.stop()
    assert said[0].status_code == 503
    assert "pulsewright serve" in said[0].text
    until(lambda: members(server.process.pid) == [])
    assert_whole(cache)
    with Store.open(place) as store:
        assert store.check() == []


@pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")
def test_long_work_that_compiles_is_left_and_taken_up_again(tmp_path: Path, cache: Path):
    place = tmp_path / "store"
    with Store.open(place) as store:
        work = store.queue_work(store.take_in(SESSION).id, "explain", {"fitted": False})
    server = Server(place)
    until(lambda: compiling(cache))
    with Store.open(place) as store:
        assert store.work(work.id).state == "running"
    assert seconds_to_end(server) < SOON
    assert compiling(cache)
    server.stop()
    until(lambda: members(server.process.pid) == [])
    assert_whole(cache)
    with Store.open(place) as store:
        assert store.check() == []
        assert [left.id for left in store.resume_left_over()] == [work.id]
        assert store.work(work.id).state == "waiting"


def test_a_server_in_the_background_of_a_script_is_ended_by_its_signal(tmp_path: Path):
    """A shell lets what it starts there ignore Ctrl-C; the signal that is sent to it counts all the same."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        server = Server(tmp_path / "store")
    finally:
        signal.signal(signal.SIGINT, before)
    assert httpx.get(server.address).status_code == 200
    assert seconds_to_end(server) < SOON
    assert server.process.returncode == 130
    server.stop()


@pytest.mark.slow
def test_what_was_compiled_before_ctrl_c_computes_the_same(tmp_path: Path, cache: Path):
    """One kernel after the other is left half done; the next process takes what is there and compiles the rest."""
    predict = [
        sys.executable,
        "-m",
        "pulsewright",
        "predict",
        str(SESSION / "setup.toml"),
        "--rpm",
        "3000",
        "--json",
        "-",
    ]
    for wait in (2.0, 5.0, 8.0):
        running = subprocess.Popen(
            predict, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        until(lambda: cache.exists())
        time.sleep(wait)
        os.killpg(running.pid, signal.SIGINT)
        running.wait(60)
        assert_whole(cache)

    def computed() -> str:
        found = subprocess.run(predict, capture_output=True, text=True, check=True).stdout
        return found.partition('"wall_s"')[0]

    after = computed()
    os.environ["PULSEWRIGHT_CACHE"] = str(tmp_path / "fresh")
    assert computed() == after
