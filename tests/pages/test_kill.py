"""The server is killed at random moments: what was confirmed is there, nothing is half there, and it starts again."""

from __future__ import annotations

import os
import random
import re
import threading
import time
from collections import Counter
from contextlib import suppress
from pathlib import Path

import httpx
import pytest
from tests.pages.conftest import keep_answers
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
        self.setups: list[tuple[int, str]] = []
        self.fits: list[tuple[int, str]] = []
        self.reports: list[str] = []

    def work(self, dice: random.Random) -> None:
        with suppress(httpx.HTTPError):
            while True:
                self._job(dice)

    def _job(self, dice: random.Random) -> None:
        answer = self._post("/new/sheet", {"machine": f"m{dice.random()}"}, files={"sheet": ("setup.toml", SHEET)})
        job = int(answer.headers["location"].rpartition("/")[2])
        self.jobs.append(job)
        steps = [self._edit, self._add_setup, self._upload, self._upload, self._fit, self._report]
        for step in dice.sample(steps, len(steps)):
            step(job, dice)

    def _edit(self, job: int, dice: random.Random) -> None:
        complaint = f"said {dice.random()}"
        if self._post(f"/jobs/{job}/details", {"machine": "m", "complaint": complaint}).status_code == 303:
            self.notes.append((job, complaint))

    def _add_setup(self, job: int, dice: random.Random) -> None:
        change = {"name": "B", "based_on": "A", "change": f"carburettor.1.main_jet=1.{dice.randint(60, 99)} mm"}
        if self._post(f"/jobs/{job}/setups", change).status_code == 303:
            self.setups.append((job, change["change"].rpartition("=")[2]))

    def _upload(self, job: int, dice: random.Random) -> None:
        path = dice.choice([p for p in PULLS if (job, p.name) not in self.pulls])
        files = [("files", (path.name, path.read_bytes()))]
        if 'class="good"' in self._post(f"/jobs/{job}/pulls", {"setup": "A"}, files=files).text:
            self.pulls.append((job, path.name))

    def _fit(self, job: int, dice: random.Random) -> None:
        how, kind = dice.choice([("first", "explain"), ("fit", "fit")])
        if self._post(f"/jobs/{job}/cause", {"how": how}).status_code == 303:
            self.fits.append((job, kind))

    def _report(self, _job: int, dice: random.Random) -> None:
        """Of the job that has its answers; as a PDF at times, which another program prints."""
        kind = dice.choice(["page", "page?save=1", "pdf"])
        if self.client.get(f"/jobs/1/report/{kind}").status_code == 200:
            self.reports.append(kind)

    def look(self, before: Hand) -> None:
        """What was confirmed before the kill is shown after it, and every page of it is whole."""
        for job in before.jobs[-2:]:
            pages = [self.client.get(f"/jobs/{job}{step}") for step in ("", "/pulls", "/cause", "/plan", "/report")]
            assert [p.status_code for p in pages] == [200] * 5
            assert all(said in pages[0].text for of, said in before.notes if of == job)
            assert all(f"main jet {size}" in pages[0].text for of, size in before.setups if of == job)
            assert all(name in pages[1].text for of, name in before.pulls if of == job)
        assert "comes mainly from the echo" in self.client.get("/jobs/1/report/page").text

    def _post(self, path: str, data: dict[str, str], **more) -> httpx.Response:
        return self.client.post(path, data={"token": self.token, **data}, **more)


def kill_at_a_random_moment(place: Path, dice: random.Random, longest: float, before: Hand | None = None) -> Hand:
    """Start, look at what the last one left, work, kill, and look into the store."""
    server = Server(place)
    hand = Hand(server.address)
    if before is not None:
        hand.look(before)
    thread = threading.Thread(target=hand.work, args=(dice,), daemon=True)
    thread.start()
    time.sleep(dice.uniform(0.05, longest))
    assert thread.is_alive(), "the hand found something that it did not expect"
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
        for job, size in hand.setups:
            assert [row.changes[0][1] for row in store.setup_history(job, "B")] == [size]
        for job, kind in hand.fits:
            assert kind in [work.kind for work in store.works(job)]
        for work in store.works(None, "running", "waiting"):
            store.ask_to_stop(work.id)  # so that the next round begins with its own
    return hand


def kill_often(place: Path, rounds: int, longest: float, seed: int) -> dict[str, int]:
    """How many things of each kind were confirmed over all rounds, and held."""
    with Store.open(place) as store:
        keep_answers(store, store.take_in(SESSION).id)
    dice, before, counts = random.Random(seed), None, Counter[str]()
    for _ in range(rounds):
        before = kill_at_a_random_moment(place, dice, longest, before)
        for kind in ("jobs", "notes", "setups", "pulls", "fits", "reports"):
            counts[kind] += len(getattr(before, kind))
    return dict(counts)


@pytest.mark.parametrize("seed", [1, 2])
def test_nothing_that_was_confirmed_is_lost(tmp_path: Path, seed: int):
    kill_often(tmp_path / "store", rounds=2, longest=3.0, seed=seed)


@pytest.mark.slow
def test_nothing_that_was_confirmed_is_lost_two_hundred_times(tmp_path: Path):
    counts = kill_often(tmp_path / "store", rounds=200, longest=4.0, seed=int(os.environ.get("PULSEWRIGHT_SEED", "7")))
    print(counts)
    assert min(counts.values()) > 20


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
