"""Every limit from which an artefact is named: its usual value, its bounds and its reason, in one place.

A shop changes them in a small file (limits_file.py); whatever judges pulls is handed a `Limits`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any

from pulsewright import units

COUNT = "count"  # whole numbers, which are no kind of quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """What one limit is about, between which bounds a shop may set it, and why it is what it is."""

    finding: str  # kind of the finding that it decides on
    what: str
    kind: str  # of quantity, as in `units`, or COUNT
    low: float
    high: float
    why: str

    def show(self, value: float) -> str:
        """A value of this limit for people; a limits file reads the text back."""
        return f"{value:.0f}" if self.kind == COUNT else units.show(value, self.kind)

    @property
    def unit(self) -> str:
        """Unit of the value in JSON: "K", "rpm", or "-" for shares, ratios and counts."""
        return {"temperature_difference": "K", "speed_rpm": "rpm"}.get(self.kind, "-")


def _limit(usual: float, **about: Any) -> Any:
    return field(default=usual, metadata={"limit": Limit(**about)})


_PRACTICE = "common practice, no published source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The limits that pulls are judged by. SI; a share of torque, speed or samples is a plain number."""

    slip: float = _limit(
        0.01,
        finding="slip",
        kind="fraction",
        low=0.002,
        high=0.2,
        what="engine ahead of the roller, inside a pull or against the other pulls",
        why=f"a drift of the ratio over 1 % inside a pull is slip ({_PRACTICE})",
    )
    pickup_share: float = _limit(
        0.05,
        finding="pick-up",
        kind="fraction",
        low=0.005,
        high=0.5,
        what="samples of a pull with a speed dropped, doubled or halved",
        why=f"a clamp loses or doubles up to 3 % as a habit ({_PRACTICE}); a short pull may show more by chance, "
        "as many as one pull in 2000 does",
    )
    pickup_ratio: float = _limit(
        0.08,
        finding="pick-up",
        kind="fraction",
        low=0.04,
        high=0.5,
        what="engine to roller ratio of a whole pull, from the session's middle one",
        why=f"tyres slip by 0.5 to 3 % ({_PRACTICE}); the closest gears are 10 % apart, a wrong count 33 % or more",
    )
    hot_head: float = _limit(
        15.0,
        finding="heat soak",
        kind="temperature_difference",
        low=3.0,
        high=150.0,
        what="head hotter than the session's settled temperature",
        why="a temperature window of 15 K is what cooling to a fixed temperature holds; more has left it "
        f"({_PRACTICE})",
    )
    cold_loss: float = _limit(
        0.005,
        finding="warm-up",
        kind="fraction",
        low=0.001,
        high=0.1,
        what="torque missing in the coldest pull",
        why=f"under the 0.7 % by which pulls scatter anyway ({_PRACTICE}); the loss must also be two standard "
        "deviations from nothing",
    )
    drift: float = _limit(
        0.02,
        finding="drift",
        kind="fraction",
        low=0.005,
        high=0.2,
        what="torque gained or lost from the first pull to the last, whichever setup",
        why=f"warming up alone moves 1 to 2 % ({_PRACTICE})",
    )
    drift_chance: float = _limit(
        0.002,
        finding="drift",
        kind="fraction",
        low=1e-6,
        high=0.1,
        what="chance that a session without drift is said to drift",
        why="one session in 500: the findings of a session together are to be wrong in under 1 of 50",
    )
    odd_chance: float = _limit(
        0.001,
        finding="odd pull",
        kind="fraction",
        low=1e-6,
        high=0.1,
        what="chance that a sound pull is called odd",
        why="1 % of sessions of ten pulls",
    )
    odd_distance: float = _limit(
        0.025,
        finding="odd pull",
        kind="fraction",
        low=0.005,
        high=0.3,
        what="least distance from the other pulls of its setup",
        why=f"3.5 times the 0.7 % by which pulls scatter ({_PRACTICE})",
    )
    misfire_drop: float = _limit(
        0.04,
        finding="misfire",
        kind="fraction",
        low=0.01,
        high=0.5,
        what="sudden drop of torque in a sample",
        why="at least; and 6 times the scatter of the pull's own samples, which sound noise passes once in a billion",
    )
    misfire_drops: float = _limit(
        3,
        finding="misfire",
        kind=COUNT,
        low=1,
        high=1000,
        what="separate drops in one pull",
        why="one or two may be the logger's",
    )
    starved_lambda: float = _limit(
        0.06,
        finding="fuel starvation",
        kind="ratio",
        low=0.02,
        high=0.5,
        what="lambda over another pull of the setup, growing to the end",
        why=f"three times the 0.02 to which sensors repeat ({_PRACTICE})",
    )
    starved_torque: float = _limit(
        0.02,
        finding="fuel starvation",
        kind="fraction",
        low=0.005,
        high=0.3,
        what="torque under another pull of the setup, growing to the end, the pull's own gain taken out",
        why=f"bins of 50 rpm scatter by 0.4 % ({_PRACTICE}); a mean of four of them against the best of several "
        "pulls stays under five times that",
    )
    sensor_bores: float = _limit(
        10.0,
        finding="dilution",
        kind="ratio",
        low=0.0,
        high=50.0,
        what="pipe behind the lambda sensor, in bores",
        why=f"with ten bores behind it a sensor is not suspected ({_PRACTICE})",
    )
    lean_gate: float = _limit(
        0.95,
        finding="dilution",
        kind="ratio",
        low=0.8,
        high=1.3,
        what="lambda at the low end at full throttle, near an open pipe end",
        why=f"leaner than anything an engine is set up for at full throttle ({_PRACTICE})",
    )
    stuck_share: float = _limit(
        0.05,
        finding="sensor limit",
        kind="fraction",
        low=0.001,
        high=1.0,
        what="samples of a pull with lambda at the end of its range",
        why="a start that is richer than the sensor can show is left alone; more hides part of the curve",
    )
    weather: float = _limit(
        0.015,
        finding="weather change",
        kind="fraction",
        low=0.002,
        high=0.2,
        what="change of the correction factor over the session, single readings outvoted",
        why="half the least hole that is named; air, pressure and humidity read off by 1 K, 0.1 kPa and 5 % make "
        "0.5 % by themselves",
    )
    lambda_place: float = _limit(
        150.0,
        finding="lag",
        kind="speed_rpm",
        low=20.0,
        high=2000.0,
        what="engine speed by which lambda may still lie off its place",
        why=f"a mixture dip that belongs to a hole lies within 150 rpm of its bottom ({_PRACTICE})",
    )
    fewest_pulls: float = _limit(
        3, finding="too few pulls", kind=COUNT, low=2, high=100,
        what="pulls of one setup",
        why=f"a baseline is three pulls ({_PRACTICE})",
    )  # fmt: skip

    def changed(self) -> dict[str, float]:
        """Limits that are not the usual ones, by name."""
        return {name: value for name in LIMITS if (value := getattr(self, name)) != getattr(USUAL, name)}

    def as_json(self) -> list[dict[str, object]]:
        """Every limit with its value, the usual value and the reason."""
        return [
            {
                "name": name, "kind": about.finding, "what": about.what, "value": getattr(self, name),
                "usual": getattr(USUAL, name), "unit": about.unit, "why": about.why,
            }
            for name, about in LIMITS.items()
        ]  # fmt: skip


LIMITS: dict[str, Limit] = {each.name: each.metadata["limit"] for each in fields(Limits)}
USUAL = Limits()
