"""Lambda that is later than a sensor in the pipe is, or may lie off its place by more than a hole allows.

Every reading is late and is put back (unlag.py). It is a finding where that is not enough: the reading comes
later than a sensor in the pipe can be, so its dips are flattened too, or the doubt about the delay, times the
sweep rate, leaves it open on which side of a hole a dip belongs.
"""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of
from pulsewright.pulls.lambda_lag import DELAY_RANGE, LAG_RANGE, LambdaLag
from pulsewright.pulls.limits import USUAL, Limits
from pulsewright.pulls.pull import Pull
from pulsewright.pulls.unlag import ASSUMED_RATE_SD, sweep_rate

CERTAIN = 2.0  # standard deviations
LATEST = DELAY_RANGE[1] + LAG_RANGE[1]  # [s] of a sensor in the pipe (common practice)


def late_lambda(pulls: list[Pull], lag: LambdaLag, limits: Limits = USUAL) -> Finding | None:
    """The finding about the session's lambda reading, or None."""
    sweeps = [pull for pull in pulls if pull.lambdas and pull.kind != "steps"]
    if not sweeps:
        return None
    rate = float(np.median([abs(sweep_rate(pull)) for pull in sweeps]))
    doubt = CERTAIN * rate * lag.total_sd
    if any(pull.time is None for pull in sweeps):
        doubt = CERTAIN * float(np.hypot(rate * lag.total_sd, ASSUMED_RATE_SD * lag.total))
    sure = lag.total - CERTAIN * lag.total_sd
    size = max(doubt / limits.lambda_place, sure / LATEST if lag.method != "prior" else 0.0)
    if size <= 1.0:
        return None
    text = f"lambda is {lag.total:.2f} ± {lag.total_sd:.2f} s late, {rate * lag.total:.0f} rpm at {rate:.0f} rpm/s, "
    if sure > LATEST and lag.method != "prior":
        text += f"where a sensor in the pipe is at most {LATEST:.1f} s: it is put back, but its dips stay flattened"
    else:
        text += f"and may after putting back still lie {doubt:.0f} rpm off: make pulls at two rates"
    return Finding(kind="lag", setup=None, pull=None, rpm=None, strength=odds_of(size + 0.5), evidence=text)
