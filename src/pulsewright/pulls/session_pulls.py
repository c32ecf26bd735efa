"""All pulls of a session: read, corrected, compared, with holes and findings.

read_session("folder") -> read_session_pulls(session) -> SessionPulls
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace

import numpy as np

from pulsewright.bench.session import PullEntry, Session, SessionSetup
from pulsewright.errors import InputError
from pulsewright.pulls.bins import bin_average, bin_centres, hold_average
from pulsewright.pulls.comparison import Comparison
from pulsewright.pulls.dilution import dilution_finding, torque_answer
from pulsewright.pulls.finding import Finding, odds_of
from pulsewright.pulls.heat_drift import heat_findings, odd_pulls
from pulsewright.pulls.hole import Hole, find_hole
from pulsewright.pulls.lambda_lag import LambdaLag, estimate_lag
from pulsewright.pulls.misfire import misfire_finding
from pulsewright.pulls.pull import Pull, Question
from pulsewright.pulls.pull_levels import PullLevels, fit_levels
from pulsewright.pulls.read_pull import read_pull
from pulsewright.pulls.roller_ratio import pickup_findings, slip_findings, wrong_ratio
from pulsewright.pulls.session_comparison import compare_curves
from pulsewright.pulls.session_reading import session_reading
from pulsewright.pulls.starvation import starvation_findings
from pulsewright.pulls.trend import trend
from pulsewright.pulls.unlag import ASSUMED_RATE, ASSUMED_RATE_SD, sweep_rate, unlagged
from pulsewright.pulls.weather import STANDARD, Weather, pull_weather

ENOUGH_PULLS = 3  # common practice: a baseline is three pulls
WEATHER_CHANGE = 0.01  # [-] of the correction factor; three times what an air sensor is off


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetupCurves:
    """Mean curves of one setup over 50 rpm bins, weather-corrected, heat and drift taken out."""

    name: str
    pulls: tuple[int, ...]  # session numbers, counting from 1, of the pulls used
    rpm: np.ndarray  # (n_bin,)
    torques: np.ndarray  # (n_pull, n_bin) corrected, unsmoothed, drift left in [N m]
    torque: np.ndarray  # (n_bin,) mean, drift taken out, unsmoothed [N m]
    torque_sd: np.ndarray  # (n_bin,) standard deviation of one pull [N m]
    torque_trend: np.ndarray  # (n_bin,) smooth, for drawing and for reading shoulders [N m]
    mixture: np.ndarray  # (n_bin,) mean lambda put back by delay and lag [-]; NaN where unknown
    mixture_sd: np.ndarray  # (n_bin,) from the doubt about delay and lag, and between pulls [-]
    lambdas: dict[str, np.ndarray]  # the same a sensor
    torque_at: str  # "engine" or "wheel"
    hole: Hole | None


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


def read_session_pulls(session: Session, *, standard: str = STANDARD) -> SessionPulls:
    """Read and judge all pulls of a session. Raises InputError where a file cannot be read safely."""
    if not session.pulls:
        raise InputError("the session lists no pulls", where=str(session.folder), hint="add a [[pull]] for every file")
    pulls = [_read(session, entry) for entry in session.pulls]
    weather = [pull_weather(p, e.air, standard) for p, e in zip(pulls, session.pulls, strict=True)]
    if len({w.standard for w in weather}) > 1:  # never two forms in one picture
        weather = [pull_weather(p, e.air, "raw") for p, e in zip(pulls, session.pulls, strict=True)]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # means over bins that no pull reaches are NaN, as meant
        return _judge(session, pulls, weather)


def _judge(session: Session, pulls: list[Pull], weather: list[Weather]) -> SessionPulls:
    used = ~wrong_ratio(pulls)
    kept = [k for k in range(len(pulls)) if used[k]]
    band, band_notes = _band(session.riding_band, [pulls[k] for k in kept])
    head = np.array([_head(pulls[k], session.pulls[k]) for k in kept])
    names = [pulls[k].setup for k in kept]
    levels = fit_levels(np.array([_level(pulls[k], weather[k], band) for k in kept]), names, head)
    drift = dict(zip(kept, levels.drift, strict=True))
    groups = {name: [k for k in kept if pulls[k].setup == name] for name in dict.fromkeys(names)}
    lag = estimate_lag([[pulls[k] for k in group] for group in groups.values()], given=session.logger.lambda_delay)
    curves = {name: _curves(name, group, pulls, weather, drift, lag) for name, group in groups.items()}
    baseline = next(each.name for each in session.setups if each.name in curves)
    findings = _findings(session, pulls, weather, kept, curves, levels, head)
    return SessionPulls(
        pulls=tuple(pulls),
        used=tuple(bool(u) for u in used),
        weather=tuple(weather),
        setups=curves,
        baseline=baseline,
        hole=curves[baseline].hole,
        comparisons=tuple(
            compare_curves(session, curves, levels, kept, baseline, name, band) for name in curves if name != baseline
        ),
        findings=tuple(sorted(findings, key=lambda f: -f.strength)),
        lag=lag,
        levels=levels,
        riding_band=band,
        notes=_notes(session, pulls, weather, lag, band_notes),
        questions=_questions(session, pulls),
    )


# --- reading ----------------------------------------------------------------------------------


def _read(session: Session, entry: PullEntry) -> Pull:
    reading = session_reading(session, entry)
    return read_pull(entry.file, reading=reading, setup=entry.setup, kind=entry.kind)


def _head(pull: Pull, entry: PullEntry) -> float:
    """Head temperature at the start of a pull. [K]"""
    if entry.head_temperature is not None:
        return entry.head_temperature
    logged = pull.temperatures.get("head")
    return float(np.nanmedian(logged[:20])) if logged is not None else float("nan")


# --- curves -----------------------------------------------------------------------------------


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


def _bins(pull: Pull, values: np.ndarray, centres: np.ndarray) -> np.ndarray:
    average = hold_average if pull.kind == "steps" else bin_average
    return average(pull.engine_speed[pull.usable], values[pull.usable], centres)


def _level(pull: Pull, weather: Weather, band: tuple[float, float]) -> float:
    """Log of the mean corrected torque over the band."""
    centres = bin_centres(*band)
    return float(np.log(np.nanmean(_bins(pull, pull.torque * weather.factor, centres))))


def _curves(
    name: str,
    group: list[int],
    pulls: list[Pull],
    weather: list[Weather],
    drift: dict[int, float],
    lag: LambdaLag,
) -> SetupCurves:
    members = [pulls[k] for k in group]
    lows = [float(p.engine_speed[p.usable].min()) for p in members]
    highs = [float(p.engine_speed[p.usable].max()) for p in members]
    rpm = bin_centres(float(np.median(lows)), float(np.median(highs)))
    torques = np.vstack([_bins(pulls[k], pulls[k].torque * weather[k].factor, rpm) for k in group])
    level = torques * np.exp(-np.array([drift[k] for k in group]))[:, None]
    torque = np.nanmean(level, axis=0)
    sensors = sorted({sensor for p in members for sensor in p.lambdas})
    lambdas = {s: _mixture(members, s, rpm, lag)[0] for s in sensors}
    mixture, mixture_sd = _mixture(members, None, rpm, lag)
    return SetupCurves(
        name=name,
        pulls=tuple(k + 1 for k in group),
        rpm=rpm,
        torques=torques,
        torque=torque,
        torque_sd=np.nanstd(level, axis=0, ddof=1) if len(group) > 1 else np.full(rpm.shape, np.nan),
        torque_trend=trend(rpm, torque),
        mixture=mixture,
        mixture_sd=mixture_sd,
        lambdas=lambdas,
        torque_at=members[0].torque_at,
        hole=find_hole(rpm, torques),
    )


def _mixture(pulls: list[Pull], sensor: str | None, rpm: np.ndarray, lag: LambdaLag) -> tuple[np.ndarray, np.ndarray]:
    """Mean unlagged lambda over the pulls, and its standard deviation. (n_bin,), (n_bin,)"""
    rows, rates = [], []
    for pull in pulls:
        reading = pull.mixture if sensor is None else pull.lambdas.get(sensor)
        if reading is None:
            continue
        speed, sharp = unlagged(pull, reading, lag.delay, lag.lag)
        average = hold_average if pull.kind == "steps" else bin_average
        rows.append(average(speed, sharp, rpm))
        rates.append(0.0 if pull.kind == "steps" else sweep_rate(pull))
    if not rows:
        return np.full(rpm.shape, np.nan), np.full(rpm.shape, np.nan)
    mean = np.nanmean(rows, axis=0)
    slope = np.gradient(trend(rpm, mean), rpm)
    rate = float(np.mean(rates))
    late = abs(rate) * lag.total_sd
    if any(p.time is None for p in pulls):
        late = float(np.hypot(late, lag.total * ASSUMED_RATE_SD))
    between = np.nanstd(rows, axis=0, ddof=1) / np.sqrt(len(rows)) if len(rows) > 1 else np.zeros(rpm.shape)
    return mean, np.hypot(np.nan_to_num(np.abs(slope)) * late, between)


# --- comparisons and findings -----------------------------------------------------------------


def _jets_only(setup: SessionSetup) -> bool:
    return bool(setup.changes) and all(path.startswith("carburettor.") for path, _ in setup.changes)


def _findings(
    session: Session,
    pulls: list[Pull],
    weather: list[Weather],
    kept: list[int],
    curves: dict[str, SetupCurves],
    levels: PullLevels,
    head: np.ndarray,
) -> list[Finding]:
    names = [pulls[k].setup for k in kept]
    found = [*slip_findings(pulls), *pickup_findings(pulls), *heat_findings(levels, names, head)]
    found += [_renumber(f, kept) for f in odd_pulls(levels, names)]
    found += [f for n, p in enumerate(pulls, start=1) if (f := misfire_finding(p, n))]
    found += _dilution(session, curves)
    for curve in curves.values():
        mixtures = np.vstack([_mixture_row(pulls[k - 1], curve.rpm) for k in curve.pulls])
        found += starvation_findings(curve.rpm, curve.torques, mixtures, curve.name, list(curve.pulls))
        if len(curve.pulls) < ENOUGH_PULLS:
            found.append(
                Finding(
                    kind="too few pulls", setup=curve.name, pull=None, rpm=None, strength=1.0,
                    evidence=f"{len(curve.pulls)} of at least {ENOUGH_PULLS} pulls",
                )
            )  # fmt: skip
    return found + _limits(pulls) + _weather_change(weather)


def _renumber(finding: Finding, kept: list[int]) -> Finding:
    assert finding.pull is not None
    return replace(finding, pull=kept[finding.pull - 1] + 1)


def _mixture_row(pull: Pull, rpm: np.ndarray) -> np.ndarray:
    return np.full(rpm.shape, np.nan) if pull.mixture is None else _bins(pull, pull.mixture, rpm)


def _dilution(session: Session, curves: dict[str, SetupCurves]) -> list[Finding]:
    answers = _torque_answers(session, curves)
    found = []
    for name, curve in curves.items():
        exhaust = session.setup(name).setup.exhaust
        finding = dilution_finding(name, exhaust, curve.rpm, curve.mixture, answers.get(name))
        if finding:
            found.append(finding)
    return found + _same_place(session, curves, found)


def _same_place(session: Session, curves: dict[str, SetupCurves], found: list[Finding]) -> list[Finding]:
    """A diluted reading stays diluted in a setup with the same pipe and sensor, however rich its jets
    read."""
    suspected = {f.setup: f for f in found}
    more = []
    for name in curves:
        exhaust = session.setup(name).setup.exhaust
        twin = next((f for s, f in suspected.items() if s and session.setup(s).setup.exhaust == exhaust), None)
        if twin and name not in suspected:
            more.append(replace(twin, setup=name, evidence=f"same pipe and sensor as {twin.setup}: {twin.evidence}"))
    return more


def _torque_answers(session: Session, curves: dict[str, SetupCurves]) -> dict[str, float]:
    """For setups that differ in jets only: torque change seen over the change the mixture law asks for."""
    answers: dict[str, float] = {}
    for name, curve in curves.items():
        setup = session.setup(name)
        other = curves.get(setup.based_on or "")
        if other is None or not _jets_only(setup):
            continue
        rpm, here, there = np.intersect1d(curve.rpm, other.rpm, return_indices=True)
        answer = torque_answer(
            rpm, (other.mixture[there], curve.mixture[here]), (other.torque[there], curve.torque[here])
        )
        if answer is not None:
            answers[name] = answers[other.name] = answer
    return answers


def _limits(pulls: list[Pull]) -> list[Finding]:
    found = []
    for number, pull in enumerate(pulls, start=1):
        for values in pull.lambdas.values():
            stuck = pull.usable & ~np.isfinite(values)
            if stuck.sum() > 0.05 * pull.usable.sum():
                speeds = pull.engine_speed[stuck]
                found.append(
                    Finding(
                        kind="sensor limit", setup=pull.setup, pull=number,
                        rpm=(float(speeds.min()), float(speeds.max())), strength=2.0,
                        evidence=f"lambda sat at the end of its range in {int(stuck.sum())} samples: "
                        "unknown there",
                    )
                )  # fmt: skip
    return found


def _weather_change(weather: list[Weather]) -> list[Finding]:
    factors = np.array([w.factor for w in weather])
    change = float(factors.max() / factors.min() - 1.0)
    if change <= WEATHER_CHANGE:
        return []
    return [
        Finding(
            kind="weather change", setup=None, pull=None, rpm=None, strength=odds_of(change / WEATHER_CHANGE),
            evidence=f"the air changed torque by {change:.1%} over the session; it is corrected, the "
            "mixture is not",
        )
    ]  # fmt: skip


def _notes(
    session: Session, pulls: list[Pull], weather: list[Weather], lag: LambdaLag, band_notes: list[str]
) -> tuple[str, ...]:
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
