"""What a pull is expected to show, written down before it is made, so that it can prove us wrong."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.errors import InputError
from pulsewright.many.code_version import code_version
from pulsewright.pulls.scatter_prior import USUAL
from pulsewright.remedies.candidates import setup_hash
from pulsewright.remedies.catalogue import FUEL
from pulsewright.remedies.hypotheses import LAMBDA_LEVEL, PULLS, Expected, asked_speeds
from pulsewright.remedies.interval import HALF_OF_80
from pulsewright.remedies.next_pull import NextPull
from pulsewright.remedies.reference import Reference

FORMAT = "pulsewright expected pull 1"
CURVES = (
    "rpm", "before", "torque", "torque_low", "torque_high", "mixture_before", "mixture", "mixture_low", "mixture_high",
)  # fmt: skip
PLAIN = ("code", "sheet", "before_sheet", "data", "seed", "session", "before_setup", "do", "sheet_text", "fitted")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ExpectedPull:
    """Expected mean curves of three pulls with 80 % bands, on 50 rpm bins that the pulls so far reach."""

    code: str  # version of the model
    sheet: str  # hash of the changed machine
    before_sheet: str  # hash of the machine as it was
    data: str  # hash of the session's pull files
    seed: int
    session: str  # name of the session's folder
    before_setup: str
    do: str
    changes: tuple[tuple[str, Any], ...]  # rows to add to the session
    sheet_text: str  # TOML of the changed sheet
    band: tuple[float, float]  # [rpm]
    fitted: bool
    rpm: np.ndarray
    before: np.ndarray  # [N m] measured before
    torque: np.ndarray
    torque_low: np.ndarray
    torque_high: np.ndarray
    mixture_before: np.ndarray  # lambda as the sensor read it; nan where unknown, as in the next three
    mixture: np.ndarray
    mixture_low: np.ndarray
    mixture_high: np.ndarray
    asked: np.ndarray  # [rpm] speeds of the causes' expectations
    causes: tuple[Expected, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain data in the form `pulsewright expected pull 1`."""
        return {
            "format": FORMAT, "code": self.code, "sheet": self.sheet, "before_sheet": self.before_sheet,
            "data": self.data, "seed": self.seed, "session": self.session, "before_setup": self.before_setup,
            "do": self.do, "changes": [list(row) for row in self.changes], "sheet_text": self.sheet_text,
            "band": list(self.band), "fitted": self.fitted, "interval": 0.8, "pulls": PULLS,
            **{name: _rounded(getattr(self, name)) for name in CURVES},
            "asked_rpm": _rounded(self.asked),
            "causes": [
                {"cause": e.cause, "chance": round(e.chance, 5), "mean": e.mean.round(6).tolist(),
                 "covariance": e.covariance.round(9).tolist()}
                for e in self.causes
            ],
        }  # fmt: skip


def expected_pull(session: Session, reference: Reference, before_sheet: str, test: NextPull, *, seed: int,
                  fitted: bool) -> ExpectedPull:  # fmt: skip
    """What the pulls of a test should show, by the fitted machine."""
    assert test.judged is not None
    candidate, f = test.judged.candidate, test.judged.forecast
    keep = reference.in_reach & np.isfinite(f.torque)
    refit = USUAL.refit if candidate.groups - {FUEL} else 0.0
    noise = np.sqrt(2.0 * USUAL.gain**2 / PULLS + 2.0 * USUAL.noise**2 / PULLS + refit**2)
    torque_half = HALF_OF_80 * np.hypot(f.torque_sd, noise * f.torque)
    mixture_half = HALF_OF_80 * np.hypot(f.sensor_sd, 2.0 * LAMBDA_LEVEL / np.sqrt(PULLS))
    inside = reference.rpm[reference.band]
    return ExpectedPull(
        code=code_version(), sheet=setup_hash(candidate.setup), before_sheet=before_sheet, data=data_hash(session),
        seed=seed, session=session.folder.resolve().name, before_setup=reference.name, do=test.do,
        changes=test.judged.rows, sheet_text=candidate.text, band=(float(inside[0]), float(inside[-1])), fitted=fitted,
        rpm=reference.rpm[keep], before=reference.torque[keep], torque=f.torque[keep],
        torque_low=(f.torque - torque_half)[keep], torque_high=(f.torque + torque_half)[keep],
        mixture_before=np.where(reference.mixture_known, reference.mixture, np.nan)[keep], mixture=f.sensor[keep],
        mixture_low=(f.sensor - mixture_half)[keep], mixture_high=(f.sensor + mixture_half)[keep],
        asked=asked_speeds(reference), causes=test.expected,
    )  # fmt: skip


def from_json(data: Mapping[str, Any], where: str) -> ExpectedPull:
    """An expected pull as it was written. Raises InputError where it is none."""
    try:
        if data["format"] != FORMAT:
            raise InputError(f"the format is '{data['format']}', not '{FORMAT}'", where=where)
        plain: dict[str, Any] = {name: data[name] for name in PLAIN}
        curves: dict[str, Any] = {name: np.array(data[name], dtype=float) for name in CURVES}
        causes = [
            Expected(cause=row["cause"], chance=row["chance"], mean=np.array(row["mean"]),
                     covariance=np.array(row["covariance"]))
            for row in data["causes"]
        ]  # fmt: skip
        return ExpectedPull(
            **plain, **curves, changes=tuple((p, v) for p, v in data["changes"]),
            band=(data["band"][0], data["band"][1]), asked=np.array(data["asked_rpm"]), causes=tuple(causes),
        )  # fmt: skip
    except (KeyError, TypeError, ValueError, IndexError) as error:
        raise InputError(
            f"this is no expected pull: {error}", where=where, hint="take a file that `pulsewright advise` wrote"
        ) from error


def data_hash(session: Session) -> str:
    """Twelve hexadecimal digits of all pull files of a session."""
    digest = hashlib.sha256()
    for file in sorted({entry.file for entry in session.pulls}):
        digest.update(file.name.encode() + file.read_bytes())
    return digest.hexdigest()[:12]


def _rounded(values: Sequence[float] | np.ndarray) -> list[float | None]:
    return [round(float(v), 5) if np.isfinite(v) else None for v in values]
