"""The screen on a real disk that fills up, or that nobody may write to: it says so, and nothing is lost."""

import random
import tempfile
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from tests.pages.screen_server import Server
from tests.small_disk import SmallDisk, small_disk
from tests.unit.web.conftest import Screen

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

PULL = (SESSION / "pulls" / "01.csv").read_text(encoding="utf-8", errors="surrogateescape")


@pytest.fixture
def disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SmallDisk]:
    with small_disk(tmp_path / "disk", "6m") as made:
        monkeypatch.setenv("XDG_CACHE_HOME", str(made.place / "cache"))
        yield made


def large_upload() -> list[tuple[str, tuple[str, bytes]]]:
    """A pull with a megabyte of remarks that nothing can press together."""
    noise = random.Random(1).randbytes(500_000).hex()
    remarks = "".join(f"# {noise[k : k + 1000]}\n" for k in range(0, len(noise), 1000))
    return [("files", ("large.csv", (remarks + PULL).encode("utf-8", errors="surrogateescape")))]


def test_on_a_full_disk_the_person_is_told_and_nothing_is_lost(disk: SmallDisk):
    screen = Screen(disk.place / "store")
    job = screen.example()
    kept = {pull.sha256: screen.store.raw(pull) for pull in screen.store.pull_files(job)}
    assert screen.client.get(f"/jobs/{job}/pulls").status_code == 200
    disk.fill(leave=100_000)
    answer = screen.post(f"/jobs/{job}/pulls", {"setup": "A"}, files=large_upload())
    assert "the disk is full; nothing was kept of this" in answer.text
    assert answer.status_code < 500
    disk.fill()
    told = screen.post("/new/copy", {"of": str(job), "machine": "again"})
    assert told.status_code == 400
    assert "the disk is full" in told.text
    assert "make room" in told.text
    for page in ("/", f"/jobs/{job}", f"/jobs/{job}/pulls", f"/jobs/{job}/cause"):
        assert screen.client.get(page).status_code == 200, page
    said = {"machine": "m", "complaint": "said on a full disk"}  # few letters may still find room
    confirmed = screen.post(f"/jobs/{job}/details", said, follow_redirects=False).status_code == 303
    shown = screen.client.get(f"/jobs/{job}").text
    assert said["complaint"] in shown or "the disk is full" in shown
    disk.empty()
    assert screen.store.check() == []
    assert (screen.store.job(job).complaint == said["complaint"]) == confirmed
    assert {pull.sha256: screen.store.raw(pull) for pull in screen.store.pull_files(job)} == kept
    again = screen.post(f"/jobs/{job}/pulls", {"setup": "A"}, files=large_upload())
    assert 'class="good"' in again.text
    screen.store.close()


def test_without_room_for_temporary_files_that_is_said(
    screen: Screen, disk: SmallDisk, monkeypatch: pytest.MonkeyPatch
):
    job = screen.example()
    monkeypatch.setattr(tempfile, "tempdir", str(disk.place))
    disk.fill()
    files = [*large_upload(), ("files", ("more.csv", large_upload()[0][1][1]))]
    answer = screen.post(f"/jobs/{job}/pulls", {"setup": "A"}, files=[(n, (f, d * 2)) for n, (f, d) in files])
    assert answer.status_code == 400
    assert "the disk is full" in answer.text
    assert "make room" in answer.text
    assert len(screen.store.pull_files(job)) == 10


def test_on_a_read_only_disk_that_is_said_and_nothing_is_lost(disk: SmallDisk):
    screen = Screen(disk.place / "store")
    job = screen.example()
    assert screen.client.get(f"/jobs/{job}/pulls").status_code == 200
    screen.store._engine.dispose()  # a mount with open files cannot be made read-only
    disk.read_only(True)
    edited = screen.post(f"/jobs/{job}/details", {"machine": "m", "complaint": "new"})
    uploaded = screen.post(f"/jobs/{job}/pulls", {"setup": "A"}, files=large_upload())
    asked = screen.post(f"/jobs/{job}/cause", {"how": "first"})
    for told in (edited, uploaded, asked):
        assert "the store is read-only: it can be looked at, and nothing can be kept in it" in told.text
    assert [told.status_code for told in (edited, asked)] == [400, 400]
    for page in ("", "/pulls", "/cause", "/change", "/plan", "/report"):
        shown = screen.client.get(f"/jobs/{job}{page}")
        assert shown.status_code == 200, page
        assert "nothing can be changed or kept" in shown.text
    assert "01.csv" in screen.client.get(f"/jobs/{job}/pulls").text
    assert len(screen.client.get(f"/jobs/{job}/curves.json").json()["curves"]) == 3
    assert "Narrow twin" in screen.client.get("/", params={"words": "narrow"}).text
    screen.store._engine.dispose()
    disk.read_only(False)
    assert screen.store.job(job).complaint != "new"
    assert screen.store.check() == []
    assert "nothing can be changed or kept" not in screen.client.get(f"/jobs/{job}").text
    assert screen.post(f"/jobs/{job}/details", {"machine": "m", "complaint": "new"}).status_code == 200
    assert screen.store.job(job).complaint == "new"
    screen.store.close()


def test_the_screen_does_not_start_where_no_store_is_and_none_can_be_made(
    disk: SmallDisk, capsys: pytest.CaptureFixture[str]
):
    from pulsewright.cli.main import run

    disk.read_only(True)
    assert run(["--store", str(disk.place / "store"), "serve", "--no-browser", "--port", "0"]) == 4
    said = capsys.readouterr().err
    assert "read-only" in said.lower()
    assert "--store" in said
    assert "Traceback" not in said


def test_the_screen_starts_on_a_read_only_disk_and_shows_the_store(
    disk: SmallDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """What can be made again at any time is laid into the user's cache, which lies elsewhere."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    place = disk.place / "store"
    with Store.open(place) as store:
        job = store.take_in(SESSION).id
    disk.read_only(True)
    server = Server(place)
    try:
        found = httpx.get(f"{server.address}/jobs/{job}/pulls", timeout=60)
        assert found.status_code == 200
        assert "nothing can be changed or kept" in found.text
        assert "01.csv" in found.text
    finally:
        server.stop()
