"""The echo picture: one scale for pipe and rule, time down, signs as said, words escaped."""

from xml.etree import ElementTree

import numpy as np
import pytest

from pulsewright.figures.echo_picture import (
    LAYOUTS,
    _within_cycle,
    draw_echo,
    echo_figure,
    echo_svg,
    resample,
)
from pulsewright.figures.palette import OVERPRESSURE, SUCTION
from pulsewright.figures.words import echo_sentence
from pulsewright.report.trusted_svg import trusted_svg
from pulsewright.simulate.echo_field import EchoField


def axes_of(figure, name):
    return next(axes for axes in figure.axes if axes.get_label() == name)


def inches(figure, axes, x, y):
    return axes.transData.transform((x, y)) / figure.dpi


def texts(figure):
    return [t.get_text() for axes in figure.axes for t in axes.texts] + [t.get_text() for t in figure.texts]


@pytest.fixture(scope="module", params=list(LAYOUTS))
def figure(request, field):
    return echo_figure(field, layout=request.param)


@pytest.mark.parametrize("place", [0.0, 70.0, 500.0, 970.0])
def test_pipe_and_rule_share_their_millimetres(figure, place):
    in_pipe = inches(figure, axes_of(figure, "pipe"), place, 0.0)[0]
    on_rule = inches(figure, axes_of(figure, "total"), place, 0.0)[0]
    assert in_pipe == pytest.approx(on_rule, abs=1e-9)


def test_a_millimetre_across_is_a_millimetre_along(figure):
    pipe = axes_of(figure, "pipe")
    along = inches(figure, pipe, 100.0, 0.0)[0] - inches(figure, pipe, 0.0, 0.0)[0]
    across = inches(figure, pipe, 0.0, 100.0)[1] - inches(figure, pipe, 0.0, 0.0)[1]
    assert across == pytest.approx(along, rel=1e-9)


def test_walls_lie_where_the_outline_says(figure, field):
    drawn = [line.get_xydata() for line in axes_of(figure, "pipe").lines]
    pipe = field.outline[1]
    wanted = [[1e3 * pipe.start, 500 * pipe.bore_start], [1e3 * pipe.end, 500 * pipe.bore_end]]
    assert any(np.shape(line) == (2, 2) and np.allclose(line, wanted) for line in drawn)


def test_the_map_ends_where_the_field_ends(figure, field):
    left, right, low, high = axes_of(figure, "total").images[0].get_extent()
    assert (left, right) == (1e3 * field.place[0], 1e3 * field.place[-1])
    assert (low, high) == (field.crank_deg[-1], field.crank_deg[0])


def test_time_runs_down(figure):
    axes = axes_of(figure, "back")
    assert inches(figure, axes, 0.0, 720.0)[1] < inches(figure, axes, 0.0, 0.0)[1]


def strongest(figure, name, colour):
    """Row (time) of the deepest colour of one sign, at every place of a map as it was drawn."""
    colours = np.asarray(axes_of(figure, name).images[0].get_array())
    is_colour = (colours[..., :3] == colour).all(axis=-1)
    return np.where(is_colour, colours[..., 3].astype(int), -1).argmax(axis=0)


def test_the_blow_down_leaves_as_orange_and_its_echo_returns_as_blue(figure):
    leaving, coming = strongest(figure, "away", OVERPRESSURE), strongest(figure, "back", SUCTION)
    assert leaving[0] < leaving[-1]  # later, farther out
    assert coming[0] > coming[-1]  # later, nearer to the valve


def test_the_arrival_is_marked_at_the_valve_and_named(figure, field):
    marks = [line for line in axes_of(figure, "back").lines if line.get_marker() == "<"]
    assert [tuple(mark.get_xydata()[0]) for mark in marks] == [(0.0, field.echo_arrival_deg)]
    assert any("echo arrives at" in text and "(pressure)" in text for text in texts(figure))


def test_valve_windows_stand_beside_the_maps_at_their_angles(figure, field):
    heights = [
        (path.vertices[:, 1].min(), path.vertices[:, 1].max())
        for bars in axes_of(figure, "valves").collections
        for path in bars.get_paths()
    ]
    assert heights == [field.exhaust_window, field.intake_window]


def test_the_sentence_stands_on_top(figure, field):
    assert figure.texts[0].get_text().replace("\n", " ") == field.sentence


@pytest.mark.parametrize("ending", [".svg", ".png"])
@pytest.mark.parametrize("theme", ["paper", "slate"])
def test_files(tmp_path, field, ending, theme):
    path = draw_echo(field, tmp_path / f"echo{ending}", theme=theme)
    start = path.read_bytes()[:200]
    assert start.startswith(b"\x89PNG") if ending == ".png" else b"<?xml" in start


def test_without_an_echo_the_picture_says_so(field):
    figure = echo_figure(with_(field, echo_arrival_deg=None, sentence=""))
    assert "no clear echo" in figure.texts[0].get_text()
    assert not [line for line in axes_of(figure, "back").lines if line.get_marker() == "<"]


def test_a_page_may_take_the_svg_as_it_is(large_field):
    drawing = echo_svg(large_field, name="one")
    assert trusted_svg(drawing) == drawing
    assert len(drawing) < 250_000
    ids = [e.get("id") for e in ElementTree.fromstring(drawing).iter() if e.get("id")]
    assert ids
    assert all(str(i).startswith("one-") for i in ids)
    assert "var(--pw-ink" in drawing


def test_hostile_words_stay_words(field):
    bad = '<script>alert("1")</script>&'
    drawing = echo_svg(with_(field, sentence=bad))
    assert "<script" not in drawing
    label = ElementTree.fromstring(drawing).get("aria-label")
    assert label is not None
    assert bad in label


def test_dollar_signs_are_not_formulas(field):
    assert "a $ and _x^ $" in "".join(t.get_text() for t in echo_figure(with_(field, sentence="a $ and _x^ $")).texts)
    echo_svg(with_(field, sentence=r"costs $\frac{$"))


def test_a_window_over_the_turn_of_the_cycle_is_cut_in_two():
    assert _within_cycle((650.0, 760.0)) == [(0.0, 40.0), (650.0, 720.0)]
    assert _within_cycle((126.0, 382.0)) == [(126.0, 382.0)]


def test_resampling_a_plane_gives_the_plane(field):
    plane = 3.0 * field.place[:, None] + 0.5 * field.crank_deg[None, :]
    again = resample(field, plane, 7, 11)
    places = np.linspace(field.place[0], field.place[-1], 7)[:, None]
    np.testing.assert_allclose(again, 3.0 * places + 0.5 * np.linspace(0.0, 720.0, 11)[None, :], rtol=1e-12)


def test_sentence_from_numbers_does_not_claim_an_effect_on_a_shut_valve(field):
    shut = echo_sentence(with_(field, sentence="", echo_arrival_deg=500.0))
    assert "after the exhaust valve has closed" in shut
    assert "cylinder" not in shut
    both = echo_sentence(with_(field, sentence="", echo_arrival_deg=360.0))
    assert "while both valves are open as a push" in both


def with_(field: EchoField, **changes) -> EchoField:
    from dataclasses import replace

    return replace(field, **changes)
