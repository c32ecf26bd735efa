"""No recommendation may have an interval that crosses a gate: random sessions and changes through the real gates.

The check is written again here from the raw curves, without the code under test.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.cheap_machine import curves, machine, reference

from pulsewright.cause.causes import EXHAUST_WAVE, MIXTURE_RICH
from pulsewright.remedies.candidates import single_candidates
from pulsewright.remedies.catalogue import general_catalogue
from pulsewright.remedies.forecast import forecast
from pulsewright.remedies.gates import refusals
from pulsewright.remedies.ranking import FRONT, Judged, placed

SESSIONS = 1000
OF_A_SESSION = 3
SINGLES = [c for c in single_candidates(machine(), general_catalogue()) if c.groups in ({"exhaust"}, {"fuel"})]
Z, MARGIN = 1.2816, 0.02


def wavy(random: np.random.Generator, size: int, spread: float) -> np.ndarray:
    """A smooth random factor about 1."""
    knots = 1.0 + spread * random.standard_normal(4)
    return np.interp(np.linspace(0.0, 3.0, size), np.arange(4), knots)


def random_day(random: np.random.Generator):
    """A reference, the curves of the machine as it is, and a sensor's bias by draw."""
    draws = int(random.integers(1, 9))
    gate = float(random.choice([0.92, 0.95]))
    mixture = random.uniform(0.70, 0.93) * wavy(random, 87, 0.02)
    known = np.ones(87, dtype=bool)
    if random.random() < 0.2:
        known[int(random.integers(0, 87)) :] = False
    ref = reference(mixture=mixture, known=known, gate=gate, bottom=3000.0 if random.random() < 0.5 else None)
    before = curves(draws, knock=random.uniform(0.3, 1.6), leanest=random.uniform(0.98, 1.08))
    return ref, before, 0.01 * random.standard_normal(draws)


def random_change(random: np.random.Generator, before):
    draws, size = before.torque.shape
    scatter = 1.0 + 0.01 * random.standard_normal((draws, 1))
    lean = wavy(random, size, 0.04) * scatter
    after = curves(
        draws,
        torque=(1.02 + 0.03 * random.random()) * wavy(random, size, 0.02) * scatter,
        leanest=before.leanest / 0.85 * lean,
        sensor=lean,
        trapped=lean,
        knock=before.knock / 0.8 * wavy(random, size, 0.05) * scatter,
    )
    if random.random() < 0.05:
        after.torque[0, int(random.integers(size))] = np.nan
    return after


def crosses_a_gate(ref, before, after, bias) -> bool:
    """By hand: any bin whose upper end lies above the lean gate or the knock mark, or that is not known."""
    if not np.isfinite(after.torque).all() or not ref.mixture_known.all():
        return True
    at, speeds = ref.rpm, before.rpm
    lean = np.array([np.interp(at, speeds, row) for row in after.leanest / before.sensor])
    leanest = (ref.mixture - bias[:, None]) * lean
    upper = leanest.mean(axis=0) + Z * leanest.std(axis=0)
    if np.any(upper + MARGIN > ref.lean_gate + 2e-3):  # 0.002 for another way between speeds
        return True
    integral = np.array([np.interp(at, speeds, row) for row in after.knock])
    mark = before.knock.max(axis=1)[:, None]
    nearer = (integral / mark).mean(axis=0) + Z * (integral / mark).std(axis=0)
    return bool(np.any((nearer > 1.05 + 5e-3) & (integral.mean(axis=0) > 0.7)))


@pytest.mark.slow
@settings(max_examples=SESSIONS, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_no_recommendation_of_many_sessions_crosses_a_gate(seed: int):
    no_recommendation_crosses(seed)


@settings(max_examples=SESSIONS // 20, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_no_recommendation_crosses_a_gate(seed: int):
    no_recommendation_crosses(seed)


def no_recommendation_crosses(seed: int) -> None:
    random = np.random.default_rng(seed)
    ref, before, bias = random_day(random)
    raw, judged = {}, []
    for _ in range(OF_A_SESSION):
        candidate = SINGLES[int(random.integers(len(SINGLES)))]
        after = random_change(random, before)
        f = forecast(ref, before, after, bias)
        judged.append(Judged(candidate=candidate, forecast=f, refusals=refusals(ref, f)))
        raw[id(f)] = after
    for verdict in (EXHAUST_WAVE, MIXTURE_RICH):
        for j in placed(judged, verdict):
            if j.standing == FRONT:
                assert not crosses_a_gate(ref, before, raw[id(j.forecast)], bias)


def test_the_random_days_hold_both_kinds():
    """Else the test above could not fail."""
    random = np.random.default_rng(1)
    crossed, recommended = 0, 0
    for _ in range(60):
        ref, before, bias = random_day(random)
        for _ in range(OF_A_SESSION):
            after = random_change(random, before)
            f = forecast(ref, before, after, bias)
            j = Judged(candidate=SINGLES[0], forecast=f, refusals=refusals(ref, f))
            crossed += crosses_a_gate(ref, before, after, bias)
            verdict = EXHAUST_WAVE if "exhaust" in SINGLES[0].groups else MIXTURE_RICH
            recommended += placed([j], verdict)[0].standing == FRONT
    assert crossed > 50
    assert recommended > 10
