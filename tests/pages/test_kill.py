"""The server is killed at random moments: what was confirmed is there, nothing is half there, and it starts again."""

from __future__ import annotations

import os
import random
import re
import threading
import time
from contextlib import suppress
from pathlib import Path

import httpx
import pytest
from tests.pages.screen_server import Server

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

SHEET = (SESSION / "setup.toml").read_bytes()
PULLS = sorted((SESSION / "pulls").glob("*.csv"))


class Hand:
    """A person who does one thing after the other, and knows what was confirmed."""

    def __init__(self, address: str) -> None:
        self.client = httpx.Client(base_url=address, timeout=60)
        found = re.search('pulsewright-token" content="([^"]+)"', self.client.get("/look").text)
        assert found is not None
        self.token = found.group(1)
        self.jobs: list[int] = []
        self.pulls: list[tuple[int, str]] = []
        self.notes: list[tuple[int, str]] = []

    def work(self, dice: random.Random) -> None:
        with suppress(httpx.HTTPError):
            while True:
                self._job(dice)

    def _job(self, dice: random.Random) -> None:
        answer = self._post("/new/sheet", {"machine": f"m{dice.random()}"}, files={"sheet": ("setup.toml", SHEET)})
        job = int(answer.headers["location"].rpartition("/")[2])
        self.jobs.append(job)
        complaint = f"said {dice.random()}"
        if self._post(f"/jobs/{job}/details", {"machine": "m", "complaint": complaint}).status_code == 303:
            self.notes.append((job, complaint))
        for path in dice.sample(PULLS, 2):
            files = [("files", (path.name, path.read_bytes()))]
            if 'class="good"' in self._post(f"/jobs/{job}/pulls", {"setup": "A"}, files=files).text:
                self.pulls.append((job, path.name))
        self._post(f"/jobs/{job}/cause", {"how": "first"})
        self.client.get(f"/jobs/{job}/report")

    def _post(self, path: str, data: dict[str, str], **more) -> httpx.Response:
        return self.client.post(path, data={"token": self.token, **data}, **more)


def kill_at_a_random_moment(place: Path, dice: random.Random, longest: float) -> None:
    server = Server(place)
    hand = Hand(server.address)
    thread = threading.Thread(target=hand.work, args=(dice,), daemon=True)
    thread.start()
    time.sleep(dice.uniform(0.2, longest))
    server.kill()
    thread.join(30)
    hand.client.close()
    with Store.open(place) as store:
        assert store.check() == []
        kept = {line.id for line in store.jobs()}
        assert set(hand.jobs) <= kept
        assert all(store.job(job).complaint == said for job, said in hand.notes)
        for job, name in hand.pulls:
            found = [p for p in store.pull_files(job) if p.file_name == name]
            assert len(found) == 1
            assert store.raw(found[0]) == (SESSION / "pulls" / name).read_bytes()


@pytest.mark.parametrize("seed", [1, 2])
def test_nothing_that_was_confirmed_is_lost(tmp_path: Path, seed: int):
    kill_at_a_random_moment(tmp_path / "store", random.Random(seed), 3.0)


@pytest.mark.slow
def test_nothing_that_was_confirmed_is_lost_two_hundred_times(tmp_path: Path):
    dice = random.Random(int(os.environ.get("PULSEWRIGHT_SEED", "7")))
    for _ in range(200):
        kill_at_a_random_moment(tmp_path / "store", dice, 6.0)


def test_work_that_was_broken_off_goes_on(tmp_path: Path):
    """Long work whose server was killed is taken up by the next one, as soon as the orphaned worker has left."""
    place = tmp_path / "store"
    with Store.open(place) as store:
        job = store.take_in(SESSION).id
        work = store.queue_work(job, "explain", {"fitted": False})
    server = Server(place)
    with Store.open(place) as store:
        for _ in range(1500):
            if store.work(work.id).state == "running":
                break
            time.sleep(0.1)
        assert store.work(work.id).state == "running"
        server.kill_alone()
        again = Server(place)
        for _ in range(1500):
            if store.work(work.id).tries == 2:
                break
            time.sleep(0.1)
        assert store.work(work.id).tries == 2
        again.kill()
