"""Openings of butterfly and slide against areas counted out, and their losses against the published table."""

import math

import numpy as np
import pytest

from pulsewright.outside.tables import table
from pulsewright.physics.needle_annulus import needle_annulus, needle_diameter
from pulsewright.physics.throttle_openings import (
    plate_angle,
    plate_open_fraction,
    slide_area,
    slide_loss,
    throttle_plate_loss,
)

ACROSS = (np.arange(200_000) + 0.5) / 100_000 - 1.0  # of a circle of radius 1, in strips
HALF_WIDTH = np.sqrt(1.0 - ACROSS**2)


@pytest.mark.parametrize("closed_deg", [0.0, 8.0, 15.0])
@pytest.mark.parametrize("from_open_deg", [20.0, 50.0, 70.0])
def test_open_fraction_of_a_plate_counted_out(from_open_deg: float, closed_deg: float):
    """A plate cut to fill the bore at its shut angle, seen along the bore: an ellipse in a circle, strip by strip."""
    longest = 1.0 / math.cos(math.radians(closed_deg))  # half of the plate's long axis
    seen = longest * math.cos(math.radians(90.0 - from_open_deg)) * HALF_WIDTH
    open_area = np.sum(2.0 * (HALF_WIDTH - seen)) * (ACROSS[1] - ACROSS[0])
    assert plate_open_fraction(from_open_deg, closed_deg) == pytest.approx(open_area / math.pi, rel=1e-5)


@pytest.mark.parametrize("share", [0.05, 0.25, 0.6, 0.95])
def test_area_under_a_slide_counted_out(share: float):
    bore = 0.034
    below = 2.0 * share - 1.0 > ACROSS
    counted = np.sum(2.0 * HALF_WIDTH[below]) * (ACROSS[1] - ACROSS[0]) * (0.5 * bore) ** 2
    assert slide_area(share * bore, bore) == pytest.approx(counted, rel=1e-4)


def test_a_half_raised_slide_opens_half_the_bore():
    assert slide_area(0.017, 0.034) == pytest.approx(0.5 * 0.25 * math.pi * 0.034**2, rel=1e-12)
    assert slide_loss(0.034, 0.034) == pytest.approx(0.0, abs=1e-12)


def test_loss_of_the_plate_by_the_published_table():
    """butterfly.csv (Weisbach): loss over that wide open, which belongs to the body; within the table's 15 %."""
    rows = [r for r in table("butterfly") if r["deg_closed_from_open"] >= 20.0]
    assert len(rows) > 4
    for row in rows:
        opening = 1.0 - row["deg_closed_from_open"] / 90.0
        assert throttle_plate_loss(opening, 0.0) == pytest.approx(row["K_on_pipe_velocity"], rel=0.06)
    assert throttle_plate_loss(1.0, 8.0) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("closed_deg", [0.0, 8.0, 12.0])
@pytest.mark.parametrize("from_open_deg", [72.0, 75.0, 77.0])
def test_a_nearly_shut_plate_flows_like_a_sharp_edge(from_open_deg: float, closed_deg: float):
    """Discharge coefficient of a sharp edge 0.58 to 0.66 (textbooks, from memory), with 10 % on either side for the
    table that the loss is tied to at 70 degrees."""
    opening = 1.0 - from_open_deg / (90.0 - closed_deg)
    loss = throttle_plate_loss(opening, closed_deg)
    area = plate_open_fraction(from_open_deg, closed_deg)
    assert 0.58 * 0.9 < 1.0 / math.sqrt(1.0 + loss) / area < 0.66 * 1.1


def test_the_more_open_the_less_loss():
    openings = np.linspace(0.02, 1.0, 99)
    assert np.all(np.diff([throttle_plate_loss(x, 8.0) for x in openings]) < 0.0)
    assert np.all(np.diff([slide_loss(x, 1.0) for x in openings]) < 0.0)
    assert plate_angle(0.0, 8.0) == 82.0


def test_ring_round_a_needle_worked_by_hand():
    """2.60 mm jet, 2.50 mm needle: 0.40055 mm²; 10 mm up a taper of 2 degrees in all, 2.50 - 0.3491 = 2.1509 mm."""
    assert needle_annulus(2.60e-3, 2.50e-3) == pytest.approx(0.40055e-6, rel=1e-4)
    slope = 2.0 * math.tan(math.radians(1.0))
    assert needle_diameter(18e-3, 8e-3, 2.50e-3, slope) == pytest.approx(2.1509e-3, rel=1e-5)
    assert needle_diameter(7e-3, 8e-3, 2.50e-3, slope) == 2.50e-3
    assert needle_annulus(2.60e-3, needle_diameter(1.0, 8e-3, 2.50e-3, slope)) == pytest.approx(5.3093e-6, rel=1e-4)
