"""`serve --lan` as a phone sees it: the code, once for one device, and the whole job on a narrow screen after it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from playwright.sync_api import expect
from tests.pages.conftest import Visit, keep_answers
from tests.pages.drawn_curves import wait_for_full_curve
from tests.pages.screen_server import Server

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

PHONE = {"viewport": {"width": 390, "height": 800}, "has_touch": True, "is_mobile": True}


@pytest.fixture(scope="module")
def open_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    place = tmp_path_factory.mktemp("lan")
    with Store.open(place) as store:
        keep_answers(store, store.take_in(SESSION).id)
    made = Server(place, "--lan")
    yield made
    made.stop()


def link_for_a_phone(browser: Any, server: Server) -> str:
    """As the page on this machine shows it; skipped where the machine is in no network."""
    here = Visit(browser, server)
    here.page.goto("/jobs/1/report")
    links = here.page.locator("a[href*='enter?code=']")
    found = links.first.get_attribute("href") if links.count() else None
    here.close()
    if found is None:
        pytest.skip("this machine has no address in a network")
    return found


@dataclass
class Address:
    """The server as the network names it."""

    address: str


def phone(browser: Any, link: str) -> Visit:
    """A browser that knows the machine by its address in the network."""
    where = Address(link.partition("/enter")[0])
    return Visit(browser, where, **PHONE)


def test_a_phone_types_the_code_and_does_the_job(browser: Any, open_server: Server):
    link = link_for_a_phone(browser, open_server)
    code = link.rpartition("=")[2]
    visit = phone(browser, link)
    page = visit.page
    page.goto("/jobs/1/cause")
    assert page.url.endswith("/enter")  # nothing is shown before
    assert "twin" not in page.inner_text("body").lower()
    assert page.locator("#code").bounding_box()["height"] >= 43.5
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.fill("#code", code.lower())
    page.click("text=Come in")
    page.wait_for_url(re.compile(r"://[^/]+/$"))
    page.tap("text=Narrow twin")
    page.tap("nav >> text=Try a change")
    wait_for_full_curve(page)
    page.tap("text=Keep it as a setup")  # a write, with nothing turned: refused in words, not by the door
    expect(page.locator("main")).to_contain_text("Nothing is turned", timeout=60_000)
    visit.complaints = [said for said in visit.complaints if "400" not in said]
    visit.close()


def test_a_code_holds_for_one_device_and_a_wrong_one_is_said(browser: Any, open_server: Server):
    link = link_for_a_phone(browser, open_server)
    first = phone(browser, link)
    first.page.goto(link)
    expect(first.page.locator("h1")).to_have_text("Jobs", timeout=60_000)
    first.page.goto("/jobs/1/report")
    new = first.page.locator("a[href*='enter?code=']").first.get_attribute("href")
    assert new != link
    second = phone(browser, link)
    second.page.goto(link)
    assert second.page.inner_text("[role=alert]").startswith("That is not the code")
    second.page.fill("#code", "AAAAAAAA")
    second.page.click("text=Come in")
    assert second.page.locator("[role=alert]").is_visible()
    second.page.goto("/jobs/1/report/page")
    assert second.page.url.endswith("/enter")
    second.complaints = [said for said in second.complaints if "403" not in said]
    second.page.goto(new)
    expect(second.page.locator("h1")).to_have_text("Jobs", timeout=60_000)
    first.close()
    second.close()


def test_the_link_works_from_a_message(browser: Any, open_server: Server):
    """A page of another site leads here: a cookie that only own pages may send would not come along."""
    link = link_for_a_phone(browser, open_server)
    visit = phone(browser, link)
    visit.page.route(
        "http://message.example/", lambda r: r.fulfill(body=f'<a href="{link}">go</a>', content_type="text/html")
    )
    visit.page.goto("http://message.example/")
    visit.page.click("text=go")
    expect(visit.page.locator("h1")).to_have_text("Jobs", timeout=60_000)
    visit.abroad = [url for url in visit.abroad if "message.example" not in url]
    visit.close()
