"""Corrected curves of pulls, all in one form, with everything that is needed to undo the correction.

The air of every pull must be known for every form but raw: a curve that could not be corrected never stands
beside one that was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.errors import InputError
from pulsewright.pulls.channel_naming import says_corrected
from pulsewright.pulls.pull import Pull
from pulsewright.pulls.weather import AirLike, Weather, pull_weather

MARK = "# pulsewright corrected pulls 1"
STANDARDS = {"j1349": "J1349", "iso1585": "ISO1585", "din70020": "DIN70020", "std": "STD", "raw": "raw"}
SAYS = {
    "J1349": "SAE J1349: 25 degC, 99.0 kPa dry, mechanical efficiency 0.85",
    "ISO1585": "ISO 1585: 25 degC, 99.0 kPa dry",
    "DIN70020": "DIN 70020: 20 degC, 101.3 kPa, humidity not counted",
    "STD": "STD: 60 degF, 29.92 inHg dry; about 4 % above J1349",
    "raw": "raw: no correction",
}
MIXTURE_WARNING = (
    "No factor corrects the mixture: in other air the same jets give another lambda, and these curves keep "
    "the torque that it cost."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CorrectedPull:
    """One pull in the air of a standard, unsmoothed, without the samples whose speed or torque is not to be
    trusted."""

    number: int  # counting from 1
    pull: Pull
    weather: Weather
    time: np.ndarray | None  # (n,) [s]
    engine_speed: np.ndarray  # (n,) [rpm]
    torque: np.ndarray  # (n,) [N m] times the factor
    power: np.ndarray  # (n,) [W] times the factor
    power_sd: np.ndarray | None  # (n,) [W] times the factor, where power comes from a roller's speed
    mixture: np.ndarray | None  # (n,) [-] as read, never corrected
    usable: np.ndarray  # (n,) bool: past the start transient
    sha256: str  # of the raw file, which stays as it is


def corrected_pulls(pulls: Sequence[Pull], airs: Sequence[AirLike | None], standard: str) -> list[CorrectedPull]:
    """Pulls corrected by one form. Raises InputError where the air of any is not known."""
    weather = [pull_weather(pull, air, standard) for pull, air in zip(pulls, airs, strict=True)]
    lost = [str(n) for n, w in enumerate(weather, start=1) if w.standard != standard]
    if lost:
        raise InputError(
            f"{standard} needs the air temperature and pressure; not known for pull {', '.join(lost)}",
            where=", ".join(dict.fromkeys(str(pulls[int(n) - 1].file) for n in lost)),
            hint="write them down, as air = { ... } in the session or --air on the command line, or take "
            "--standard raw for all",
        )
    if standard != "raw":
        _refuse_twice(pulls)
    return [_corrected(n, p, w) for n, (p, w) in enumerate(zip(pulls, weather, strict=True), start=1)]


def _refuse_twice(pulls: Sequence[Pull]) -> None:
    for pull in pulls:
        for c in pull.channels:
            if c.quantity in ("torque", "power") and says_corrected(c.heading):
                raise InputError(
                    f"'{c.heading}' is corrected already, by its name; a second correction would be wrong",
                    where=str(pull.file),
                    hint="take the file as it was measured, name its raw column with --column "
                    f'{c.quantity}="...", or take --standard raw',
                )


def _corrected(number: int, pull: Pull, weather: Weather) -> CorrectedPull:
    mixture = pull.mixture
    good = np.isfinite(pull.engine_speed) & np.isfinite(pull.torque) & np.isfinite(pull.power)
    good &= pull.engine_speed > 0.0
    if pull.faulty is not None:
        good &= ~pull.faulty
    return CorrectedPull(
        number=number,
        pull=pull,
        weather=weather,
        time=None if pull.time is None else pull.time[good],
        engine_speed=pull.engine_speed[good],
        torque=pull.torque[good] * weather.factor,
        power=pull.power[good] * weather.factor,
        power_sd=None if pull.power_sd is None else pull.power_sd[good] * weather.factor,
        mixture=None if mixture is None else mixture[good],
        usable=pull.usable[good],
        sha256=pull.recipe.sha256,
    )


def csv_text(pulls: Sequence[CorrectedPull]) -> str:
    """Comma-separated text: what was done in comment lines, then one row a sample with the pull's number."""
    standard = pulls[0].weather.standard
    lines = [MARK, f"# form {standard}", f"# {SAYS[standard]}", f"# {MIXTURE_WARNING}"]
    for each in pulls:
        lines += [f"# {text}" for text in _said(each)]
    lines.append(_headings(pulls))
    for each in pulls:
        lines += _rows(each, with_time=_all_have(pulls, "time"), with_mixture=_all_have(pulls, "mixture"))
    return "\n".join(lines) + "\n"


def _all_have(pulls: Sequence[CorrectedPull], name: str) -> bool:
    return all(getattr(each, name) is not None for each in pulls)


def _said(each: CorrectedPull) -> list[str]:
    w = each.weather
    air = "air not known"
    if np.isfinite(w.pressure):
        air = f"{w.temperature - 273.15:.1f} degC, {w.pressure / 1e3:.2f} kPa, {w.humidity:.0%} humidity"
    head = f"pull {each.number}: {each.pull.file.name}, {air}, factor {w.factor:.5f}, sha256 {each.sha256}"
    return [head, *(f"pull {each.number}: {note}" for note in w.notes)]


def _headings(pulls: Sequence[CorrectedPull]) -> str:
    standard = pulls[0].weather.standard
    word = "" if standard == "raw" else f" {standard}"
    names = ["pull", *(["time (s)"] if _all_have(pulls, "time") else []), "engine speed (rpm)"]
    names += [f"torque{word} (Nm)", f"power{word} (kW)"]
    names += ["lambda"] if _all_have(pulls, "mixture") else []
    return ",".join([*names, "usable"])


def _rows(each: CorrectedPull, *, with_time: bool, with_mixture: bool) -> list[str]:
    count = each.engine_speed.size
    columns = [[str(each.number)] * count]
    if with_time and each.time is not None:
        columns.append([f"{value:.4f}" for value in each.time])
    columns.append([f"{value:.2f}" for value in each.engine_speed])
    columns.append([f"{value:.4f}" for value in each.torque])
    columns.append([f"{value / 1e3:.5f}" for value in each.power])
    if with_mixture and each.mixture is not None:
        columns.append([f"{value:.4f}" if np.isfinite(value) else "" for value in each.mixture])
    columns.append(["1" if value else "0" for value in each.usable])
    return [",".join(row) for row in zip(*columns, strict=True)]
