"""The outcome of a fit: the machine, how well it follows the pulls, what was learned; and its file."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from pulsewright.errors import InputError
from pulsewright.fit.identifiability import Learned
from pulsewright.fit.machine import Draw, FittedMachine
from pulsewright.fit.observations import Observations
from pulsewright.many.code_version import code_version
from pulsewright.many.whole_file import whole_file
from pulsewright.network.calibration import Calibration

FORMAT = "pulsewright fit 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """What a fit was made from. Two fits of one identity are the same."""

    sheets: str  # twelve hexadecimal digits of all setup sheets
    data: str  # of the measured values that were used
    code: str  # version of the model and of the fit
    seed: int
    draws: int
    quick: bool

    @property
    def name(self) -> str:
        """For a file."""
        return f"fit-{self.code[-12:]}-seed{self.seed}-{self.draws}{'-quick' if self.quick else ''}.json"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Followed:
    """One setup as measured and as the fitted model has it, in reference air. NaN where nothing was measured."""

    name: str
    rpm: np.ndarray  # (n_speed,)
    torque: np.ndarray  # (n_speed,) [N m] as measured
    model_torque: np.ndarray  # (draws, n_speed) [N m] what the dyno would show, without the error curve
    mixture: np.ndarray  # (n_speed,) lambda as measured
    model_mixture: np.ndarray  # (draws, n_speed) what the sensor would show, likewise
    torque_error: np.ndarray  # (n_speed,) factor of the best draw's error curve
    lambda_error: np.ndarray

    @property
    def torque_rms(self) -> float:
        """Of the best draw without its error curve. [-]"""
        return _rms(self.model_torque[0] / self.torque - 1.0)

    @property
    def torque_rms_corrected(self) -> float:
        """Of the best draw with it. [-]"""
        return _rms(self.model_torque[0] * self.torque_error / self.torque - 1.0)

    @property
    def lambda_rms(self) -> float:
        """Of the best draw without its error curve; NaN without lambda."""
        return _rms(self.model_mixture[0] - self.mixture)

    @property
    def lambda_rms_corrected(self) -> float:
        """Of the best draw with it."""
        return _rms(self.model_mixture[0] * self.lambda_error - self.mixture)


def _rms(values: np.ndarray) -> float:
    known = values[np.isfinite(values)]
    return float(np.sqrt(np.mean(known**2))) if known.size else float("nan")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """A machine fitted to a session."""

    identity: Identity
    machine: FittedMachine
    setups: tuple[Followed, ...]
    learned: tuple[Learned, ...]
    elsewhere: tuple[float, float]  # [-] further error of torque and lambda in a setup that was never pulled
    notes: tuple[str, ...]
    runs: int  # of the model, counted in parts of a sweep
    seconds: float

    def as_json(self) -> dict[str, Any]:
        """Plain data in the form `pulsewright fit 1`."""
        return {
            "format": FORMAT,
            "identity": dataclasses.asdict(self.identity),
            "setups": [_followed_json(f) for f in self.setups],
            "unknowns": [{**dataclasses.asdict(row), "verdict": row.verdict} for row in self.learned],
            "elsewhere": list(self.elsewhere),
            "draws": [dataclasses.asdict(draw) for draw in self.machine.draws],
            "notes": list(self.notes),
            "runs": self.runs,
            "seconds": round(self.seconds, 1),
        }


def identity_of(seen: Observations, *, seed: int, draws: int, quick: bool) -> Identity:
    """Identity of a fit that is yet to be made."""
    sheets, data = hashlib.sha256(), hashlib.sha256(repr(seen.torque_at).encode())
    for o in seen.setups:
        sheets.update(repr((o.name, dataclasses.replace(o.setup, air=None))).encode())
        data.update(repr((o.name, o.setup.air, o.pulls, o.gain_sd, o.factor)).encode())
        for values in (o.rpm, o.torque, o.torque_sd, o.mixture, o.mixture_sd, o.mixture_late):
            data.update(np.round(values, 9).tobytes())
    own = hashlib.sha256()
    for source in sorted(Path(__file__).parent.glob("*.py")):
        own.update(source.read_bytes())
    code = f"{code_version()}+{own.hexdigest()[:12]}"
    return Identity(
        sheets=sheets.hexdigest()[:12], data=data.hexdigest()[:12], code=code, seed=seed, draws=draws, quick=quick
    )


def store_fit(fit: Fit, path: Path) -> None:
    """Write a fit; the file is there whole or not at all."""
    with whole_file(path) as draft:
        draft.write_text(json.dumps(without_nan(fit.as_json())), encoding="utf-8")


def load_fit(path: Path, identity: Identity | None = None) -> Fit:
    """Read a fit back.

    Raises InputError where the file is no fit, or is one of other sheets, pulls, code or seed than `identity`.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        if data["format"] != FORMAT:
            raise InputError(f"the format is '{data['format']}', not '{FORMAT}'", where=str(path))
        fit = _fit_of(data)
    except (ValueError, KeyError, TypeError) as error:
        raise InputError(f"this is no fit: {error}", where=str(path), hint="run `pulsewright fit` again") from error
    if identity is not None and fit.identity != identity:
        mine, theirs = dataclasses.asdict(identity), dataclasses.asdict(fit.identity)
        apart = ", ".join(name for name in mine if mine[name] != theirs[name])
        raise InputError(f"the fit was made with other {apart}", where=str(path), hint="run `pulsewright fit` again")
    return fit


def _fit_of(data: dict[str, Any]) -> Fit:
    draws = tuple(
        Draw(
            calibration=Calibration(**{**d["calibration"], "mixture_trim": _rows(d["calibration"]["mixture_trim"])}),
            gain=d["gain"], lambda_bias=d["lambda_bias"],
            torque_error=_rows(d["torque_error"]), lambda_error=_rows(d["lambda_error"]),
            exhaust_error=tuple((name, _rows(rows)) for name, rows in d["exhaust_error"]),
        )
        for d in data["draws"]
    )  # fmt: skip
    return Fit(
        identity=Identity(**data["identity"]),
        machine=FittedMachine(draws=draws),
        setups=tuple(_followed_of(row) for row in data["setups"]),
        learned=tuple(Learned(**{k: v for k, v in row.items() if k != "verdict"}) for row in data["unknowns"]),
        elsewhere=(data["elsewhere"][0], data["elsewhere"][1]),
        notes=tuple(data["notes"]), runs=data["runs"], seconds=data["seconds"],
    )  # fmt: skip


ARRAYS = {
    "rpm": "rpm", "torque": "torque_nm", "model_torque": "model_torque_nm", "mixture": "lambda",
    "model_mixture": "model_lambda", "torque_error": "torque_error", "lambda_error": "lambda_error",
}  # fmt: skip
SUMMARY = ("torque_rms", "torque_rms_corrected", "lambda_rms", "lambda_rms_corrected")


def _followed_json(f: Followed) -> dict[str, Any]:
    rows = {name: np.round(getattr(f, own), 5).tolist() for own, name in ARRAYS.items()}
    return {"name": f.name, **{name: round(getattr(f, name), 5) for name in SUMMARY}, **rows}


def _followed_of(row: dict[str, Any]) -> Followed:
    return Followed(name=row["name"], **{own: np.array(row[name], dtype=float) for own, name in ARRAYS.items()})


def _rows(rows: Sequence[Sequence[float]]) -> tuple[tuple[float, float], ...]:
    return tuple((float(a), float(b)) for a, b in rows)


def without_nan(value: Any) -> Any:
    """Numbers that are not finite as null: JSON has no word for them."""
    if isinstance(value, dict):
        return {k: without_nan(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [without_nan(v) for v in value]
    return None if isinstance(value, float) and not np.isfinite(value) else value
