"""A search whose full step leads astray tries again shorter, so that few runs of a dear model are enough."""

import numpy as np

from pulsewright.fit.evidence import Evidence
from pulsewright.fit.gauss_newton import Prior, Search, search_best

NOTHING_BELIEVED = Prior(
    mean=np.zeros(1), precision=np.zeros(1), low=np.full(1, -100.0), high=np.full(1, 100.0)
)  # fmt: skip


def test_a_step_that_did_not_pay_is_tried_again_much_shorter():
    """The root of atan from 3: Newton's step from there ends at -9.5, further off (any text on Newton's method)."""
    flat = Evidence(measured=np.zeros(1), error=np.zeros((1, 1)), noise=np.ones(1), freedom=np.inf)
    best = search_best(
        np.arctan, lambda z, _value: np.diag(1.0 / (1.0 + z**2)), flat, NOTHING_BELIEVED, np.array([3.0]),
        Search(most_runs=3, fresh_slopes=1),
    )  # fmt: skip
    assert best.cost < 0.9 * np.arctan(3.0) ** 2
