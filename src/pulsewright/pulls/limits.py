"""Every limit from which an artefact is named, with its reason, in one list for people and programs."""

from __future__ import annotations

from dataclasses import dataclass

from pulsewright.pulls import dilution, heat_drift, misfire, pickup, roller_ratio, session_pulls, starvation


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit: the kind of finding it belongs to, its value and why it is that."""

    kind: str
    what: str
    value: float
    unit: str  # "-" is a share or a ratio
    why: str

    def as_json(self) -> dict[str, object]:
        """Plain values."""
        return {"kind": self.kind, "what": self.what, "value": self.value, "unit": self.unit, "why": self.why}


_PRACTICE = "common practice, no published source"

LIMITS: tuple[Limit, ...] = (
    Limit(
        kind="slip", what="engine ahead of the roller inside a pull", value=roller_ratio.SLIP, unit="-",
        why=f"{_PRACTICE}: a drift of the ratio over 1 % is slip",
    ),
    Limit(
        kind="pick-up", what="samples with a speed dropped, doubled or halved",
        value=roller_ratio.PICKUP_SHARE, unit="-",
        why="or more, in a short pull, where a clamp that loses or doubles 3 % as a habit "
        f"({_PRACTICE}) would show as many in one of 2000 pulls",
    ),
    Limit(
        kind="pick-up", what="ratio of a whole pull against the session's", value=roller_ratio.WRONG_RATIO,
        unit="-", why="slip reaches a few per cent, another gear or a wrong count a fifth or more",
    ),
    Limit(
        kind="pick-up", what="one sample's ratio against the pull's", value=pickup.RATIO_FAULT, unit="-",
        why="a missed or doubled pulse moves the speed by a half or more",
    ),
    Limit(
        kind="heat soak", what="head over the settled temperature", value=heat_drift.HOT_SPAN, unit="K",
        why="less is within one temperature window",
    ),
    Limit(
        kind="warm-up", what="torque missing in the coldest pull", value=heat_drift.WORTH_SAYING, unit="-",
        why="half of what pulls scatter anyway",
    ),
    Limit(
        kind="odd pull", what="chance that a sound pull is called odd", value=heat_drift.ODD_CHANCE, unit="-",
        why="1 % of sessions of ten pulls",
    ),
    Limit(
        kind="odd pull", what="least distance from the other pulls", value=heat_drift.ODD_LEAST, unit="-",
        why=f"3.5 times the usual 0.7 % scatter of pulls ({_PRACTICE})",
    ),
    Limit(
        kind="misfire", what="sudden drop of torque", value=misfire.DROP_LEAST, unit="-",
        why=f"or {misfire.DROP_SCATTERS:g} times the scatter of the pull's own samples, if that is more",
    ),
    Limit(
        kind="misfire", what="drops in one pull", value=misfire.FEWEST_DROPS, unit="drops",
        why="one or two may be the logger's",
    ),
    Limit(
        kind="fuel starvation", what="lambda over the setup's richest pull, growing to the end",
        value=starvation.LEANER, unit="-", why="sensors repeat to 0.02",
    ),
    Limit(
        kind="fuel starvation", what="torque under the setup's best, growing to the end",
        value=starvation.WEAKER, unit="-", why="four times the scatter of a pull",
    ),
    Limit(
        kind="dilution", what="pipe behind the sensor", value=dilution.ENOUGH_BORES, unit="bores",
        why=f"{_PRACTICE}: with ten bores behind it a sensor is not suspected",
    ),
    Limit(
        kind="dilution", what="lambda at full throttle", value=dilution.LEAN_GATE, unit="-",
        why="leaner than anything an engine runs well on",
    ),
    Limit(
        kind="weather change", what="change of the correction factor over the session",
        value=session_pulls.WEATHER_CHANGE, unit="-", why="three times what an air sensor is off",
    ),
    Limit(
        kind="too few pulls", what="pulls of one setup", value=session_pulls.ENOUGH_PULLS, unit="pulls",
        why=f"{_PRACTICE}: a baseline is three pulls",
    ),
)  # fmt: skip
