"""Strangers stay outside: names that are not ours, pages that are not ours, writes without our token, floods."""

import pytest
from tests.unit.web.conftest import Screen, TestClient

from pulsewright.web import guard
from pulsewright.web.door import MOST_WRONG, Door


@pytest.mark.parametrize("host", ["evil.example", "evil.example:80", "127.0.0.1.evil.example", "", "127.0.0.1:81"])
def test_a_name_that_is_not_ours_is_refused(screen: Screen, host: str):
    assert screen.client.get("/", headers={"Host": host}).status_code == 421


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "[::1]", "127.0.0.1:80", "LOCALHOST"])
def test_our_own_names_are_known(screen: Screen, host: str):
    assert screen.client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1:81", "http://localhost"]
)
def test_a_write_from_another_page_is_refused(screen: Screen, origin: str):
    answer = screen.post("/new/example", headers={"Origin": origin})
    assert answer.status_code == 403
    assert screen.store.jobs() == []


def test_a_write_that_the_browser_says_is_cross_site_is_refused(screen: Screen):
    assert screen.post("/new/example", headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403


def test_a_write_without_our_token_is_refused(screen: Screen):
    assert screen.client.post("/new/example").status_code == 403
    assert screen.client.post("/new/example", data={"token": "0" * 64}).status_code == 403
    assert screen.store.jobs() == []


def test_the_token_of_another_browser_is_refused(screen: Screen):
    other = screen.browser()
    other.get("/")
    assert other.post("/new/example", data={"token": screen.token}).status_code == 403


def test_our_own_page_may_write(screen: Screen):
    answer = screen.post("/new/example", headers={"Origin": "http://127.0.0.1"}, follow_redirects=False)
    assert answer.status_code == 303
    assert len(screen.store.jobs()) == 1


def test_every_write_asks_for_the_token(screen: Screen):
    """Every route that writes, with nothing in it: none may get past the token."""
    job = screen.example()
    paths = screen.client.get("/openapi.json").json()["paths"]
    writes = [path for path, how in paths.items() if "post" in how and path != "/enter"]
    assert len(writes) >= 14
    for path in writes:
        answer = screen.client.post(path.format(job=job, pull=1, work=1))
        assert answer.status_code in (403, 422), path
        assert not screen.store.works()


def test_pages_say_what_they_may_do(screen: Screen):
    headers = screen.client.get("/").headers
    policy = headers["content-security-policy"]
    assert "script-src 'self';" in policy
    assert "default-src 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert "HttpOnly" in headers["set-cookie"]
    assert "SameSite=Strict" in headers["set-cookie"]


def test_no_page_holds_script_of_its_own(screen: Screen):
    job = screen.example()
    for path in (
        "/",
        "/new",
        "/look",
        f"/jobs/{job}",
        f"/jobs/{job}/pulls",
        f"/jobs/{job}/cause",
        f"/jobs/{job}/change",
    ):
        text = screen.client.get(path).text
        assert "<script>" not in text
        assert " onclick=" not in text


def test_a_flood_is_refused_by_its_length_and_while_it_comes(screen: Screen, monkeypatch: pytest.MonkeyPatch):
    token = screen.token
    monkeypatch.setattr(guard, "MOST_BYTES", 1000)
    assert screen.client.post("/new/example", data={"token": token, "x": "y" * 2000}).status_code == 413

    def endless():
        for _ in range(50):
            yield b"x" * 100

    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    assert screen.client.post("/new/example", content=endless(), headers=headers).status_code == 413


class TestOtherMachines:
    @pytest.fixture
    def shared(self, tmp_path):
        made = Screen(tmp_path / "store", lan=True)
        yield made
        made.store.close()

    def phone(self, shared: Screen) -> TestClient:
        return shared.browser("192.168.1.20")

    def test_without_the_code_there_is_only_the_door(self, shared: Screen):
        phone = self.phone(shared)
        answer = phone.get("/", follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/enter")
        assert phone.get("/openapi.json", follow_redirects=False).status_code == 303
        assert phone.get("/enter").status_code == 200

    def test_a_code_lets_one_device_in_and_is_used_up(self, shared: Screen):
        code, phone = shared.door.code, self.phone(shared)
        assert phone.get(f"/enter?code={code}").status_code == 200
        assert phone.get("/new").url.path == "/new"
        assert self.phone(shared).get(f"/enter?code={code}").url.path == "/enter"
        assert shared.door.code != code

    def test_this_machine_needs_no_code(self, shared: Screen):
        assert shared.client.get("/").url.path == "/"

    def test_after_wrong_codes_the_door_is_shut(self):
        door = Door(port=80, lan=True)
        for _ in range(MOST_WRONG):
            assert door.admit("WRONG") is None
        assert door.admit(door.code) is None

    def test_without_lan_no_code_opens(self):
        assert Door(port=80).admit("") is None


@pytest.mark.parametrize(("host", "there"), [("127.0.0.1", True), ("localhost:80", True), ("192.0.2.7:80", False)])
def test_a_header_that_browsers_complain_of_in_a_network_is_sent_on_this_machine_alone(
    screen: Screen, host: str, there: bool, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(type(screen.door), "knows", lambda _door, _host: True)
    headers = screen.client.get("/look", headers={"host": host}).headers
    assert ("cross-origin-opener-policy" in headers) == there
    assert "content-security-policy" in headers
