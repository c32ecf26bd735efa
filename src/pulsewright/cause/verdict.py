"""Prior, evidence and model together: how likely each cause is, and the verdict."""

from __future__ import annotations

from collections.abc import Iterable

from pulsewright.cause.causes import CANNOT_TELL, EXHAUST_WAVE, INTAKE_WAVE, LOCAL, NO_HOLE, PRIOR
from pulsewright.cause.evidence import Evidence
from pulsewright.cause.switches import Split

MOST_SURE = 0.97  # an unfitted model and a handful of pulls never make certain
SURE_ENOUGH = 0.5  # below this the best cause is no verdict
MOST_WEIGHT = 2.5  # all of one kind of evidence together, so that many weak hints never become a proof
MODEL_WEIGHT = 1.0  # an unfitted model, at a share of 1
WITHOUT_HOLE = 2.0  # log10 odds against a local cause where no hole is seen


def model_evidence(split: Split | None) -> list[Evidence]:
    """What the switches say, as one more observation."""
    if split is None or not split.shares:
        return []
    first = split.shares[0]
    if first.cause not in LOCAL or first.share < 0.5:
        return []
    other = INTAKE_WAVE if first.cause == EXHAUST_WAVE else EXHAUST_WAVE
    text = (
        f"in the model {100.0 * split.gain_fraction:.0f} % of torque comes back near {split.rpm:.0f} rpm when causes "
        f"are switched off, {100.0 * first.share:.0f} % of it with the {first.cause}"
    )
    weight = MODEL_WEIGHT * first.share * min(1.0, split.gain_fraction / 0.05)
    return [Evidence(what=text, supports=first.cause, against=other, weight=round(weight, 2))]


def probabilities(evidence: Iterable[Evidence], hole: bool) -> dict[str, float]:
    """Probability of every cause, adding up to 1."""
    rows = list(evidence)
    odds = {}
    for cause, prior in PRIOR.items():
        support = min(sum(e.weight for e in rows if e.supports == cause), MOST_WEIGHT)
        against = min(sum(e.weight for e in rows if e.against == cause), MOST_WEIGHT)
        odds[cause] = prior * 10.0 ** (support - against)
        if cause in LOCAL and not hole:
            odds[cause] *= 10.0**-WITHOUT_HOLE
        if cause == NO_HOLE and hole:
            odds[cause] *= 10.0**-WITHOUT_HOLE
    total = sum(odds.values())
    return {cause: value / total for cause, value in odds.items()}


def verdict(chances: dict[str, float]) -> tuple[str, float]:
    """The likeliest cause and its probability, or 'cannot tell' where none is likely enough."""
    best = max(chances, key=lambda c: chances[c])
    if chances[best] < SURE_ENOUGH:
        return CANNOT_TELL, 1.0 - chances[best]
    return best, min(chances[best], MOST_SURE)
