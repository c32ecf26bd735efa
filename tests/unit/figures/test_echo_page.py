"""The moving page: small, self-contained, true to the field, safe with any words."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from pulsewright.figures.echo_page import echo_html, packed, page_data, unpacked, write_echo_page
from pulsewright.simulate.echo_field import OutlinePart


@pytest.fixture(scope="module")
def page(field) -> str:
    return echo_html(field)


def test_a_large_field_stays_small(tmp_path, large_field):
    path = write_echo_page(large_field, tmp_path / "echo.html")
    assert path.stat().st_size < 1_000_000


def test_packing_goes_there_and_back():
    values = np.array([[1.0, -2.0, 3.0], [32_000.0, -32_000.0, 0.0]])
    np.testing.assert_array_equal(unpacked(packed(values), 2, 3), values)


def test_embedded_pressures_are_those_of_the_field_with_their_signs(field):
    data = page_data(field)
    for name, wave in (
        ("total", field.pressure - field.ambient),
        ("away", field.forward),
        ("back", field.returning),
    ):
        kpa = unpacked(data["waves"][name], data["nPlace"], data["nAngle"]) * data["factor"]
        np.testing.assert_allclose(kpa, wave / 1e3, atol=0.6 * data["factor"])


def test_shapes_are_in_millimetres_on_the_same_scale_as_the_rule(field):
    data = page_data(field)
    walls = [points for role, points in data["shapes"] if role == "wall"]
    assert [[70.0, 22.0], [970.0, 22.0]] in walls
    assert data["place"] == [0.0, 970.0]
    assert data["end"] == 970.0


def test_nothing_is_fetched(page):
    outside = set(re.findall(r"(?:https?:)?//[\w.]+", page)) - {"http://www.w3.org"}
    assert not {link for link in outside if link.startswith("http")}
    assert not re.search(r"<(?:link|iframe|script)[^>]+(?:src|href)=", page)
    assert "default-src 'none'" in page


def test_it_can_be_used_without_scripts_mouse_or_motion(field, page):
    without = page[page.index("<noscript><p>") : page.rindex("</noscript>")]
    assert "<svg" in without
    assert f"<h1>{field.sentence}</h1>" in page
    assert "prefers-reduced-motion" in page
    for key in ("ArrowLeft", "ArrowRight", "PageUp", "Home"):
        assert key in page
    assert 'type="range"' in page
    assert 'lang="en"' in page


def test_no_button_to_an_echo_that_is_not_there(field, page):
    assert 'id="echo"' in page
    assert 'id="echo"' not in echo_html(replace(field, echo_arrival_deg=None))


def test_hostile_words_neither_end_the_script_nor_start_one(field):
    bad = "</script><img src=x onerror=alert(1)>\u2028"
    part = OutlinePart(kind="pipe", start=0.0, end=0.97, bore_start=0.04, bore_end=0.04, label=bad)
    page = echo_html(replace(field, outline=(part,), sentence=bad))
    assert page.count("</script>") == 1
    assert "<img" not in page
    found = re.search(r"const D = (\{.*?\}), SAY = \{", page, re.DOTALL)
    assert found is not None
    assert json.loads(found.group(1))["labels"] == [[485.0, bad]]
