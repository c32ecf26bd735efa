"""Where torque was measured the engine fired: a model that misses there does not follow the pulls, whatever its torque.

What is expected follows from what the rows mean: no numbers of the search are in it.
"""

import numpy as np
import pytest
from tests.unit.fit.invented_single import pulls_made_by

from pulsewright.fit.evidence import Evidence
from pulsewright.fit.fit_session import prior_of
from pulsewright.fit.gauss_newton import cost_of
from pulsewright.fit.machine import FIT_LEVEL
from pulsewright.fit.model_error import MISSED, points_of
from pulsewright.fit.session_model import SessionModel
from pulsewright.network.calibration import Calibration

SPEEDS = np.array([2600.0, 3400.0, 4200.0, 5000.0])
RICH = Calibration(main_jet=1.25, intermediate_jet=1.25, rich_limit=0.48)


@pytest.fixture(scope="module")
def seen():
    return pulls_made_by(RICH, "A", SPEEDS, random=np.random.default_rng(1))


def test_every_measured_torque_says_that_it_fired(seen):
    points = points_of(seen.setups)
    assert (
        np.count_nonzero(points.firing) == np.count_nonzero(points.torque) == np.isfinite(seen.setups[0].torque).sum()
    )
    assert not np.any(points.torque & points.lambda_)
    assert np.all(points.evidence.measured[points.firing] == 1.0)
    assert np.all(points.evidence.noise[points.firing] == MISSED)
    assert not np.any(points.evidence.error[points.firing])
    assert np.array_equal(points.evidence.sure, points.firing)


def test_a_model_that_misses_is_far_off_and_one_that_fires_is_not(seen):
    points = points_of(seen.setups)
    model = SessionModel(seen, points, FIT_LEVEL)
    prior, cost, fired = prior_of(model.unknowns), [], []
    for limit in (0.48, 0.66):
        z = np.array(
            [u.standard({"rich_limit": limit}.get(u.name, getattr(RICH, u.name, u.centre))) for u in model.unknowns]
        )
        value = model.run(prior.inside(z))
        inverse, weight = points.evidence.precision(points.evidence.measured - value)
        assert np.all(weight[points.firing] == 1.0)
        fired.append(value[points.firing])
        cost.append(cost_of(z, value, points.evidence, prior, inverse))
    assert np.all(fired[0] > 0.99)
    assert np.min(fired[1]) < 0.9
    assert cost[1] > cost[0] + (0.1 / MISSED) ** 2


def test_points_that_are_sure_keep_their_weight():
    """One of ten points lies thirty deviations off: doubted it hardly counts, sure it counts in full."""
    residual = np.zeros(10)
    residual[3] = 3.0
    for sure, low, high in ((np.zeros(10, bool), 0.0, 0.05), (np.arange(10) == 3, 1.0, 1.0)):
        evidence = Evidence(measured=np.zeros(10), error=np.zeros((10, 10)), noise=np.full(10, 0.1), sure=sure)
        assert low <= evidence.precision(residual)[1][3] <= high
