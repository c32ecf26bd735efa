"""What the report tells, as plain strings and numbers: the bridge fills it, the page only sets it out."""

from __future__ import annotations

from dataclasses import dataclass

from pulsewright.figures.curves import HoleSpan, MeasuredCurve, ModelCurve

__all__ = [
    "Assumed",
    "Condition",
    "Evidence",
    "FitStory",
    "FollowedSetup",
    "Hole",
    "HoleSpan",
    "Leanest",
    "MeasuredCurve",
    "ModelCurve",
    "NextStep",
    "SafetyNote",
    "Share",
    "Story",
    "Tried",
    "Unexplained",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole(HoleSpan):
    """The hole of the baseline: where it is, and how deep as a fraction of the lower shoulder. [-]"""

    depth: float
    depth_low: float | None = None
    depth_high: float | None = None
    repeats: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One cause and its part of the torque that came back, 0 to 1, with the interval it lies in."""

    cause: str
    share: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Unexplained:
    """Part of the measured loss that the model does not show, with its interval; below 0: it shows too much. [-]"""

    share: float
    low: float | None = None
    high: float | None = None
    fitted: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowedSetup:
    """How closely the fitted model follows one setup."""

    setup: str
    torque_percent: float  # [%] root mean square over the speeds
    lambda_: float | None = None  # [-] likewise; None without a lambda that counts


@dataclass(frozen=True, slots=True, kw_only=True)
class FitStory:
    """The fit in a few numbers."""

    setups: tuple[FollowedSetup, ...]
    draws: int  # machines that these pulls leave possible, all of them asked
    learned: tuple[str, ...] = ()  # what the pulls tell about the machine
    open: tuple[str, ...] = ()  # what they do not


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One observation; `weight` is the base-10 logarithm of the odds ratio. [-]"""

    what: str
    supports: str = ""  # a cause; empty where it speaks for none
    against: str = ""
    weight: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyNote:
    """Something that can hurt the engine or a person; `level` is "red", "amber", "unknown" or "note"."""

    what: str
    level: str
    setup: str = ""
    rpm: float | None = None  # [1/min]


@dataclass(frozen=True, slots=True, kw_only=True)
class Leanest:
    """The leanest point at full throttle in all pulls, after the delay of the sensor was taken out."""

    value: float  # [-] lambda
    rpm: float  # [1/min]
    setup: str
    limit: float | None = None  # [-] lean limit that it was held against
    trustworthy: bool = True  # False where outside air may have reached the sensor
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One change that was pulled, against the baseline."""

    setup: str
    change: str  # in words
    band_percent: float | None = None  # [%] mean torque over the riding band
    low: float | None = None  # [%] 95 % interval
    high: float | None = None
    bottom_percent: float | None = None  # [%] torque at the old bottom of the hole
    lambda_change: float | None = None  # [-] mean over the riding band
    pulls: int = 0
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """A change worth a pull, with what is expected of it."""

    do: str
    expect: str = ""
    tells_apart: tuple[str, ...] = ()
    minutes: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """A value that was not on the sheet."""

    key: str
    value: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """One line of the conditions, such as "gear": "4th"."""

    name: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """Everything in the report. Only `machine` and `verdict` are needed; what is missing is said to be."""

    machine: str
    verdict: str  # a word of the contract: "exhaust wave", "mixture rich", ..., "no hole", "cannot tell"
    complaint: str = ""
    finding: str = ""  # one sentence; made from verdict and hole where empty
    confidence: float | None = None  # [-] probability of the verdict
    invented: bool = False  # demo data
    date: str = ""
    workshop: str = ""

    riding_band: tuple[float, float] | None = None  # [1/min]
    hole: Hole | None = None
    curves: tuple[MeasuredCurve, ...] = ()
    model: tuple[ModelCurve, ...] = ()
    target_lambda: tuple[float, float] | None = None
    lean_limit: float | None = None

    shares: tuple[Share, ...] = ()
    shares_rpm: float | None = None  # [1/min] engine speed of the switching
    unexplained: Unexplained | None = None
    fit: FitStory | None = None  # None: the model was not fitted
    would_change_our_mind: tuple[str, ...] = ()
    echo_svg: str = ""  # from `figures.echo_picture.echo_svg`, layout "wide"
    echo_svg_narrow: str = ""  # the same, layout "narrow"
    echo_sentence: str = ""

    evidence: tuple[Evidence, ...] = ()
    tried: tuple[Tried, ...] = ()
    next: tuple[NextStep, ...] = ()
    safety: tuple[SafetyNote, ...] = ()
    leanest: Leanest | None = None

    unknowns: tuple[str, ...] = ()
    assumptions: tuple[Assumed, ...] = ()
    conditions: tuple[Condition, ...] = ()
    cautions: tuple[str, ...] = ()  # beyond the usual ones, which the page always prints
