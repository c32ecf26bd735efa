"""The torque chart: what is drawn how, on which scale, and what it says where something is missing."""

import math
from xml.etree import ElementTree

import pytest

from pulsewright.figures import words
from pulsewright.figures.curves import HoleSpan, MeasuredCurve, ModelCurve, Role
from pulsewright.figures.overlay import draw_overlay, overlay_figure
from pulsewright.figures.torque_chart import NARROW, WIDE, Chart, in_the_band, torque_chart

SPEEDS = [2000.0, 2500.0, 3000.0, 3500.0, 4000.0]
BEFORE = [110.0, 112.0, 100.0, 118.0, 120.0]
AFTER = [110.0, 113.0, 109.0, 118.0, 119.0]


def measured(role: Role = "before", torque=BEFORE, **more) -> MeasuredCurve:
    return MeasuredCurve(setup=role[0].upper(), role=role, rpm=SPEEDS, torque=torque, **more)


def chart(**more) -> Chart:
    both = (measured("before", lambda_=[0.86, 0.84, 0.78, 0.85, 0.86]), measured("after", AFTER))
    model = (ModelCurve(setup="B", role="before", rpm=SPEEDS, torque=BEFORE, torque_without_echo=AFTER),)
    return Chart(
        **{
            "measured": both,
            "model": model,
            "riding_band": (2200.0, 3800.0),
            "hole": HoleSpan(rpm_from=2600, rpm_to=3400, rpm_bottom=3000),
            **more,
        }
    )


def elements(drawing: str, name: str) -> list[ElementTree.Element]:
    return [e for e in ElementTree.fromstring(drawing).iter() if e.tag.endswith("}" + name)]


def style(element: ElementTree.Element) -> dict[str, str]:
    return dict(item.split(":", 1) for item in element.get("style", "").split(";") if ":" in item)


def lines(drawing: str) -> list[tuple[ElementTree.Element, dict[str, str]]]:
    return [(e, style(e)) for e in elements(drawing, "path") if style(e).get("fill") == "none"]


def said(drawing: str) -> str:
    return " | ".join(e.text or "" for e in elements(drawing, "text"))


def test_measured_is_thin_model_is_thick_and_before_is_dashed():
    found = lines(torque_chart(chart()))
    thin = [s for _, s in found if float(s["stroke-width"]) < 2]
    thick = [s for _, s in found if float(s["stroke-width"]) >= 4]
    assert thin
    assert thick
    assert {("stroke-dasharray" in s) for s in thin if "before" in s["stroke"]} == {True}
    assert {("stroke-dasharray" in s) for s in thin if "after" in s["stroke"]} == {False}


def test_points_lie_on_the_axis_that_the_ticks_show():
    drawing = torque_chart(chart())
    tick = {t.text: float(t.get("x", "")) for t in elements(drawing, "text")}
    path = next(e for e, s in lines(drawing) if "after" in s["stroke"] and float(s["stroke-width"]) < 2)
    first, *_, last = path.get("d", "").replace("M", "").split(" L")
    assert float(first.split(",")[0]) == pytest.approx(tick["2\u202f000"], abs=0.11)
    assert float(last.split(",")[0]) == pytest.approx(tick["4\u202f000"], abs=0.11)


def test_more_torque_is_drawn_higher():
    drawing = torque_chart(chart())
    path = next(e for e, s in lines(drawing) if "after" in s["stroke"] and float(s["stroke-width"]) < 2)
    heights = [float(point.split(",")[1]) for point in path.get("d", "").replace("M", "").split(" L")]
    assert heights[2] == max(heights)  # the bottom of the hole: largest y is lowest on the page
    assert heights[4] == min(heights)


def test_band_and_hole_cover_their_speeds():
    drawing = torque_chart(chart())
    tick = {t.text: float(t.get("x", "")) for t in elements(drawing, "text")}
    per_rpm = (tick["4\u202f000"] - tick["2\u202f000"]) / 2000.0
    widths = {s["fill"][9:13]: float(e.get("width", "")) for e in elements(drawing, "rect") for s in [style(e)]}
    assert widths["band"] == pytest.approx(1600.0 * per_rpm, abs=0.2)
    assert widths["hole"] == pytest.approx(800.0 * per_rpm, abs=0.2)
    assert words.RIDING_BAND in said(drawing)


def test_a_gap_is_a_gap():
    broken = measured("after", [110.0, 113.0, math.nan, 118.0, 119.0])
    drawing = torque_chart(Chart(measured=(broken,)))
    path = next(e for e, s in lines(drawing) if "after" in s["stroke"])
    assert path.get("d", "").count("M") == 2
    assert "nan" not in drawing


def test_without_lambda_the_chart_says_so_and_with_it_does_not():
    assert words.NO_LAMBDA in said(torque_chart(Chart(measured=(measured(),))))
    assert words.NO_LAMBDA not in said(torque_chart(chart()))


def test_an_empty_chart_reads_as_a_sentence():
    assert words.NO_CURVES in said(torque_chart(Chart(measured=())))
    assert words.NO_CURVES in said(torque_chart(Chart(measured=(MeasuredCurve(setup="A", rpm=[], torque=[]),))))


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_nothing_is_drawn_outside_the_sheet(width):
    drawing = torque_chart(chart(target_lambda=(0.84, 0.9), lean_limit=0.92), width=width)
    _, _, right, bottom = map(float, ElementTree.fromstring(drawing).get("viewBox", "").split())
    for text in elements(drawing, "text"):
        assert 0 <= float(text.get("x", "")) <= right
        assert 0 <= float(text.get("y", "")) <= bottom


def test_a_small_scatter_is_not_blown_up_to_a_hole():
    flat = [120.0, 120.5, 119.5, 120.2, 120.0]
    drawing = torque_chart(Chart(measured=(measured("after", flat),)))
    path = next(e for e, s in lines(drawing) if "after" in s["stroke"])
    heights = [float(point.split(",")[1]) for point in path.get("d", "").replace("M", "").split(" L")]
    assert max(heights) - min(heights) < 30.0


def test_locked_axes_give_the_same_scale():
    locked = {"rpm_range": (2000.0, 4000.0), "torque_range": (90.0, 130.0), "model": (), "hole": None}
    one = torque_chart(chart(measured=(measured("after", AFTER),), **locked))
    other = torque_chart(chart(measured=(measured("after", AFTER), measured("before")), **locked))
    assert next(e.get("d") for e, s in lines(one) if "after" in s["stroke"]) == next(
        e.get("d") for e, s in lines(other) if "after" in s["stroke"]
    )


def test_hostile_names_stay_words():
    drawing = torque_chart(Chart(measured=(measured(words="<script>alert(1)</script>"),)), title='"><script>')
    assert "<script" not in drawing
    assert "script>alert(1)" in said(drawing).replace(" | ", "")


def test_the_picture_shows_the_riding_band_with_some_room():
    assert in_the_band(chart()) == pytest.approx((1640.0, 4360.0))
    assert in_the_band(Chart(measured=())) is None


def test_overlay_has_one_legend_and_the_same_habits(tmp_path):
    figure = overlay_figure(chart())
    above, below = figure.axes
    assert len(figure.legends) == 1
    assert {line.get_linestyle() for line in above.lines if line.get_alpha() == 1.0} == {"--", "-"}
    assert below.get_xlabel() == words.SPEED
    assert draw_overlay(chart(), tmp_path / "all.png", theme="slate").stat().st_size > 1000
