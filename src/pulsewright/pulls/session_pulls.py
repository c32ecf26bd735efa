"""All pulls of a session: read, corrected, compared, with holes and findings.

read_session("folder") -> read_session_pulls(session) -> SessionPulls
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.session import PullEntry, Session
from pulsewright.errors import InputError
from pulsewright.pulls.bins import bin_centres
from pulsewright.pulls.comparison import Comparison
from pulsewright.pulls.finding import Finding
from pulsewright.pulls.hole import Hole
from pulsewright.pulls.lambda_lag import LambdaLag, estimate_lag
from pulsewright.pulls.limits import USUAL, Limits
from pulsewright.pulls.limits_file import read_limits
from pulsewright.pulls.pull import Pull, Question
from pulsewright.pulls.pull_levels import PullLevels, fit_levels
from pulsewright.pulls.read_pull import read_pull
from pulsewright.pulls.session_comparison import compare_curves
from pulsewright.pulls.session_findings import Judged, session_findings
from pulsewright.pulls.session_reading import session_reading
from pulsewright.pulls.setup_curves import SetupCurves, binned, setup_curves
from pulsewright.pulls.unlag import ASSUMED_RATE, ASSUMED_RATE_SD
from pulsewright.pulls.weather import STANDARD, Weather, pull_weather
from pulsewright.pulls.wrong_count import miscounted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SessionPulls:
    """What the pulls of a session show."""

    pulls: tuple[Pull, ...]
    used: tuple[bool, ...]  # False: left out, a finding says why
    weather: tuple[Weather, ...]
    setups: dict[str, SetupCurves]
    baseline: str
    hole: Hole | None  # of the baseline
    comparisons: tuple[Comparison, ...]  # every other setup against the baseline
    findings: tuple[Finding, ...]  # strongest first
    limits: Limits  # that the findings were made with
    lag: LambdaLag
    levels: PullLevels
    riding_band: tuple[float, float]  # [rpm] as far as the pulls reach
    notes: tuple[str, ...]
    questions: tuple[Question, ...]

    def sensor_doubted(self, setup: str) -> bool:
        """True where outside air may have reached the lambda sensor of a setup."""
        return any(f.kind == "dilution" and f.setup in (None, setup) for f in self.findings)

    def pulls_of(self, setup: str) -> list[Pull]:
        """Pulls of one setup that are used."""
        return [p for p, used in zip(self.pulls, self.used, strict=True) if used and p.setup == setup]


def read_session_pulls(session: Session, *, standard: str = STANDARD, limits: Limits | None = None) -> SessionPulls:
    """Read and judge all pulls of a session, by its own limits where none are given.

    Raises InputError where a file cannot be read safely.
    """
    if not session.pulls:
        raise InputError("the session lists no pulls", where=str(session.folder), hint="add a [[pull]] for every file")
    if limits is None:
        limits = read_limits(session.limits) if session.limits else USUAL
    pulls = [_read(session, entry) for entry in session.pulls]
    weather = [pull_weather(p, e.air, standard) for p, e in zip(pulls, session.pulls, strict=True)]
    if len({w.standard for w in weather}) > 1:  # never two forms in one picture
        weather = [pull_weather(p, e.air, "raw") for p, e in zip(pulls, session.pulls, strict=True)]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # means over bins that no pull reaches are NaN, as meant
        return _judge(session, pulls, weather, limits)


def _judge(session: Session, pulls: list[Pull], weather: list[Weather], limits: Limits) -> SessionPulls:
    wrong = miscounted(pulls, limits)
    kept = [k for k in range(len(pulls)) if k not in wrong]
    band, band_notes = _band(session.riding_band, [pulls[k] for k in kept])
    head = np.array([_head(pulls[k], session.pulls[k]) for k in kept])
    level = np.array([_level(pulls[k], weather[k], band) for k in kept])
    levels = fit_levels(level, [pulls[k].setup for k in kept], head)
    curves, lag = _curves(session, pulls, weather, kept, levels)
    baseline = next(each.name for each in session.setups if each.name in curves)
    judged = Judged(
        session=session, pulls=pulls, weather=weather, miscounted=wrong, kept=kept, level=level, head=head,
        levels=levels, curves=curves, lag=lag,
    )  # fmt: skip
    return SessionPulls(
        pulls=tuple(pulls),
        used=tuple(k in kept for k in range(len(pulls))),
        weather=tuple(weather),
        setups=curves,
        baseline=baseline,
        hole=curves[baseline].hole,
        comparisons=tuple(
            compare_curves(session, curves, levels, kept, baseline, name, band) for name in curves if name != baseline
        ),
        findings=tuple(session_findings(judged, limits)),
        limits=limits,
        lag=lag,
        levels=levels,
        riding_band=band,
        notes=_notes(pulls, weather, lag, band_notes),
        questions=_questions(session, pulls),
    )


def _read(session: Session, entry: PullEntry) -> Pull:
    reading = session_reading(session, entry)
    return read_pull(entry.file, reading=reading, setup=entry.setup, kind=entry.kind)


def _head(pull: Pull, entry: PullEntry) -> float:
    """Head temperature at the start of a pull. [K]"""
    if entry.head_temperature is not None:
        return entry.head_temperature
    logged = pull.temperatures.get("head")
    return float(np.nanmedian(logged[:20])) if logged is not None else float("nan")


def _reach(pulls: list[Pull]) -> tuple[float, float]:
    """Speeds that every one of these pulls reaches. [rpm]"""
    low = max(float(p.engine_speed[p.usable].min()) for p in pulls)
    high = min(float(p.engine_speed[p.usable].max()) for p in pulls)
    return low, high


def _band(band: tuple[float, float], pulls: list[Pull]) -> tuple[tuple[float, float], list[str]]:
    low, high = _reach(pulls)
    if high - low < 300.0:
        raise InputError(
            f"the pulls have only {max(0.0, high - low):.0f} rpm in common",
            hint="leave out the pull that is too short",
        )
    inside = max(band[0], low), min(band[1], high)
    if inside[1] - inside[0] < 200.0:
        return (low, high), [f"the pulls do not reach the riding band; {low:.0f} to {high:.0f} rpm is used"]
    notes = []
    if inside != band:
        notes.append(f"riding band cut to {inside[0]:.0f} to {inside[1]:.0f} rpm, as far as every pull reaches")
    return inside, notes


def _level(pull: Pull, weather: Weather, band: tuple[float, float]) -> float:
    """Log of the mean corrected torque over the band."""
    centres = bin_centres(*band)
    return float(np.log(np.nanmean(binned(pull, pull.torque * weather.factor, centres))))


def _curves(
    session: Session, pulls: list[Pull], weather: list[Weather], kept: list[int], levels: PullLevels
) -> tuple[dict[str, SetupCurves], LambdaLag]:
    """Curves of every setup, and the delay and lag that its lambda was put back by."""
    drift = dict(zip(kept, levels.drift, strict=True))
    groups = {name: [k for k in kept if pulls[k].setup == name] for name in levels.setups}
    lag = estimate_lag([[pulls[k] for k in group] for group in groups.values()], given=session.logger.lambda_delay)
    curves = {
        name: setup_curves(
            name, [pulls[k] for k in group], numbers=[k + 1 for k in group],
            factors=np.array([weather[k].factor for k in group]), drift=np.array([drift[k] for k in group]), lag=lag,
        )
        for name, group in groups.items()
    }  # fmt: skip
    return curves, lag


def _notes(pulls: list[Pull], weather: list[Weather], lag: LambdaLag, band_notes: list[str]) -> tuple[str, ...]:
    notes = [
        *band_notes,
        f"torque corrected by {weather[0].standard}" if weather[0].standard != "raw" else "torque is raw",
    ]
    if pulls[0].torque_at == "wheel":
        notes.append("torque is at the wheel, seen from the engine: the efficiency of the drive is unknown")
    if any(p.lambdas for p in pulls):
        notes.append(lag.text)
        if any(p.time is None for p in pulls):
            notes.append(
                f"no time in some files: lambda is put back at an assumed {ASSUMED_RATE:.0f} ± "
                f"{ASSUMED_RATE_SD:.0f} rpm/s"
            )
    notes += [note for w in weather for note in w.notes]
    notes += [f"{p.file.name}: {note}" for p in pulls for note in p.notes]
    return tuple(dict.fromkeys(notes))


def _questions(session: Session, pulls: list[Pull]) -> tuple[Question, ...]:
    questions = [question for p in pulls for question in p.questions]
    if session.logger.torque is None:
        questions.insert(
            0, Question(about="torque", text="is the torque at the engine or at the wheel?", taken="engine")
        )
    return tuple(dict.fromkeys(questions))
