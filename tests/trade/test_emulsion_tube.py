"""What every tuner knows of the emulsion tube, on the generic twin of the tests, wide open.

Common practice, no published source: the holes shape the mixture over the air flow; deeper holes come in later, so
that the bottom is richer against the top; a bigger bleed leans the top.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from tests.trade.generic_twin import twin

from pulsewright.bench.sheet import setup_from_text
from pulsewright.network.options import Options
from pulsewright.simulate.sweep import sweep

SPEEDS = (1500.0, 2250.0, 4500.0, 5500.0)
HIGH = ("2 mm", "4 mm", "6 mm")
DEEP = ("14 mm", "20 mm", "28 mm")


@cache
def mixture(rows: tuple[str, ...] = (), bleed: float = 1.10) -> np.ndarray:
    """Lambda drawn in at SPEEDS with rows of two holes of 0.8 mm at these depths."""
    tube = ", ".join(f'{{ below = "{below}", holes = 2, bore = "0.8 mm" }}' for below in rows)
    text = twin(main_air_bleed=bleed)
    if rows:
        text = text.replace("[[carburettor]]\n", f"[[carburettor]]\nemulsion_tube = [ {tube} ]\n")
    points = sweep(setup_from_text(text, "twin"), list(SPEEDS), Options(grid=1.5), threads=1)
    return np.array([p.lambda_delivered for p in points])


def test_deep_holes_keep_the_bottom_rich_and_leave_the_top():
    """By the air drawn at 1500 rpm against 5500; what a bleed without a tube does to both is the measure."""
    richer = np.log(mixture(DEEP) / mixture())
    print(np.round(mixture(), 3), np.round(mixture(HIGH), 3), np.round(mixture(DEEP), 3))
    assert richer[0] < -0.02
    assert abs(richer[-1]) < 0.4 * abs(richer[0])
    assert np.log(mixture(DEEP) / mixture(HIGH))[0] < -0.01


def test_a_bigger_bleed_through_a_tube_leans_the_top_most():
    leaner = np.log(mixture(DEEP, 1.4) / mixture(DEEP))
    assert np.all(leaner > -2e-3)  # at the bottom its holes are under the fuel
    assert np.all(leaner[1:] > 0.015)
    assert np.mean(leaner[2:]) > 2.0 * leaner[0]
