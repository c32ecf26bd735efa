"""What one browser chose: units by their definitions, and nothing that it did not choose."""

import pytest

from pulsewright.web.measures import View, chosen, view_from


def test_units_by_their_definitions():
    """1 in = 25.4 mm and 1 lb = 0.45359237 kg exactly (international yard and pound, 1959), g = 9.80665 m/s2."""
    view = View(lengths="in", torque="lbf·ft", mixture="AFR")
    assert view.length_of(0.0254) == pytest.approx(1.0, rel=1e-12)
    assert view.torque_of(0.45359237 * 9.80665 * 0.3048) == pytest.approx(1.0, rel=1e-9)
    assert view.mixture_of(1.0, 14.3) == 14.3
    assert view.metres(view.length_of(0.9)) == pytest.approx(0.9)


def test_numbers_with_a_decimal_comma():
    assert View(decimal="comma").say(1234.5, 1) == "1\u202f234,5"
    assert View().say(-0.04, 1) == "0.0"


def test_a_cookie_brings_the_choices_back():
    view = View(theme="slate", size="large", torque="lbf·ft")
    assert view_from(view.as_cookie()) == view


@pytest.mark.parametrize("cookie", ["", "theme=<script>", "theme=paper&theme=../x&nonsense=1", "%%%", "a" * 10_000])
def test_a_cookie_that_is_nonsense_chooses_nothing(cookie: str):
    assert view_from(cookie) in (View(), View(theme="paper"))


def test_what_is_not_known_is_not_chosen():
    assert chosen(View(), {"theme": "pink", "size": "large"}) == View(size="large")
