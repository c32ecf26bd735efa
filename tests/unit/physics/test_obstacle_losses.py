"""Bands are in order, nothing is lost where nothing stands, and more in the way costs more."""

import numpy as np
import pytest

from pulsewright.physics import obstacle_losses as ob
from pulsewright.physics.area_losses import open_fraction_of_loss, sharp_orifice

FAMILIES = {
    "rod": [ob.rod_loss(x) for x in np.linspace(0.0, 0.9, 46)],
    "plate square": [ob.plate_loss(x, 90.0) for x in np.linspace(0.0, 0.9, 46)],
    "plate turned": [ob.plate_loss(0.4, x) for x in np.linspace(0.0, 90.0, 46)],
    "disc": [ob.disc_loss(x) for x in np.linspace(1.0, 0.1, 46)],
    "butterfly": [ob.butterfly_loss(x) for x in np.linspace(0.0, 70.0, 71)],
    "bend": [ob.bend_loss(x, 1.5) for x in np.linspace(0.0, 180.0, 91)],
}


@pytest.mark.parametrize("name", FAMILIES)
def test_bands_are_in_order_and_grow(name: str):
    band = np.array(FAMILIES[name])
    assert np.isfinite(band).all()
    assert (np.diff(band, axis=1) >= 0.0).all()
    assert (np.diff(band, axis=0) >= -1e-12).all()


@pytest.mark.parametrize("name", ["rod", "plate square", "plate turned", "bend"])
def test_nothing_in_the_way_costs_nothing(name: str):
    assert FAMILIES[name][0] == pytest.approx((0.0, 0.0, 0.0))


def test_edge_on_a_plate_covers_nothing_and_square_what_a_rod_covers():
    assert ob.plate_blocked_fraction(0.4, 0.0) == 0.0
    assert ob.plate_blocked_fraction(0.4, 90.0) == ob.rod_blocked_fraction(0.4)


def test_a_bolt_of_the_trade():
    """8 mm in a 44 mm pipe covers about 23 % (closed form)."""
    assert ob.rod_blocked_fraction(8.0 / 44.0) == pytest.approx(0.23, abs=0.005)


@pytest.mark.parametrize("share", [0.1, 0.4, 0.75, 0.95])
def test_loss_and_opening_are_each_others_inverse(share: float):
    assert open_fraction_of_loss(sharp_orifice(share)) == pytest.approx(share, abs=1e-9)
