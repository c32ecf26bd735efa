"""A session folder to its explanation: pulls, evidence, switches in the model, verdict, next steps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.cause.causes import MEASUREMENT, MIXTURE_LEAN, MIXTURE_RICH
from pulsewright.cause.evidence import gather_evidence
from pulsewright.cause.explanation import Explanation
from pulsewright.cause.safety import leanest, safety_notes
from pulsewright.cause.switches import Split, split_causes
from pulsewright.cause.verdict import model_evidence, probabilities, verdict
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.pulls.measured_mixture import MeasuredMixture, trusted_mixture
from pulsewright.pulls.session_pulls import SessionPulls, read_session_pulls
from pulsewright.pulls.setup_curves import SetupCurves
from pulsewright.remedies.next_steps import next_tests
from pulsewright.simulate.predict import predict
from pulsewright.simulate.prediction import Prediction

MODEL_STEP = 250.0  # [rpm] between speeds of the model's curve
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Everything that a report needs: what was measured, what the model says, and the explanation."""

    session: Session
    pulls: SessionPulls
    explanation: Explanation
    model: Prediction  # baseline, measured mixture imposed where it can be trusted
    without_echo: Prediction
    mixture_imposed: bool


def explain_session(session: Session, say: Say | None = None) -> Answer:
    """Explain a session with the unfitted model. `say` is told in words what is being done."""
    tell = say or (lambda _text: None)
    tell("reading the pulls")
    pulls = read_session_pulls(session)
    curves = pulls.setups[pulls.baseline]
    setup = session.setup(pulls.baseline).setup
    imposed = trusted_mixture(pulls)
    tell("computing the engine as it stands, and without the echo")
    speeds = _model_speeds(curves)
    model = predict(setup, speeds, mixture=imposed)
    free = predict(setup, speeds, Options(exhaust_ends=NON_REFLECTING), mixture=imposed)
    split = None
    if pulls.hole is not None and pulls.hole.repeats:
        tell("taking the causes away one by one")
        split = split_causes(setup, pulls.hole.rpm_bottom, imposed(pulls.hole.rpm_bottom) if imposed else None)
    explanation = _explanation(session, pulls, split, model, imposed)
    return Answer(
        session=session, pulls=pulls, explanation=explanation, model=model, without_echo=free,
        mixture_imposed=imposed is not None,
    )  # fmt: skip


def _model_speeds(curves: SetupCurves) -> list[float]:
    low = np.ceil(curves.rpm[0] / MODEL_STEP) * MODEL_STEP
    return [float(x) for x in np.arange(low, curves.rpm[-1] + 1.0, MODEL_STEP)]


def _explanation(
    session: Session, pulls: SessionPulls, split: Split | None, model: Prediction, imposed: MeasuredMixture | None
) -> Explanation:
    evidence = [*gather_evidence(session, pulls), *model_evidence(split)]
    evidence.sort(key=lambda e: -e.weight)
    chances = probabilities(evidence, pulls.hole is not None)
    word, sure = verdict(chances)
    lean = leanest(session, pulls)
    bottom = split.rpm if split else pulls.hole.rpm_bottom if pulls.hole else None
    mixture = imposed(pulls.hole.rpm_bottom) if imposed and pulls.hole else None
    if split is None and word in (MIXTURE_RICH, MIXTURE_LEAN) and imposed is not None:
        middle = 0.5 * sum(pulls.riding_band)
        split = split_causes(session.setup(pulls.baseline).setup, middle, imposed(middle), search=False)
    return Explanation(
        hole=pulls.hole,
        verdict=word,
        confidence=sure,
        chances=chances,
        split=split if word != MEASUREMENT else None,
        unexplained=_unexplained(pulls, model),
        evidence=tuple(evidence),
        safety=tuple(safety_notes(session, pulls)),
        leanest=lean,
        next=tuple(next_tests(session, pulls, word, bottom=bottom, mixture=mixture, lean=lean)),
        notes=(*grouped(pulls.notes), *_model_notes(split, pulls, imposed is not None)),
    )


def grouped(notes: Sequence[str]) -> list[str]:
    """Notes that say the same of several files, said once."""
    files: dict[str, list[str]] = {}
    for note in notes:
        name, colon, rest = note.partition(": ")
        one_file = colon and " " not in name and "." in name
        files.setdefault(rest if one_file else note, []).append(name if one_file else "")
    return [
        text if names == [""] else f"{names[0]}: {text}" if len(names) == 1 else f"{len(names)} files: {text}"
        for text, names in files.items()
    ]


def _unexplained(pulls: SessionPulls, model: Prediction) -> float | None:
    """Part of the measured depth that the model, brought to the measured shoulders, does not show. [-]"""
    hole = pulls.hole
    if hole is None or not np.all(np.isfinite(model.torque_nm)):
        return None
    low, high = hole.rpm_shoulders
    inside = (model.rpm >= low - 150.0) & (model.rpm <= high + 150.0)
    if inside.sum() < 3:
        return None
    torque = model.torque_nm[inside]
    lowest = int(np.argmin(torque[1:-1])) + 1
    shoulder = min(float(torque[: lowest + 1].max()), float(torque[lowest:].max()))
    depth = 1.0 - float(torque[lowest]) / shoulder
    return float(np.clip(1.0 - depth / hole.depth, -1.0, 1.0))


def _model_notes(split: Split | None, pulls: SessionPulls, imposed: bool) -> list[str]:
    notes = ["the model is not fitted to this machine: its torque may be 15 % off and its hole 150 rpm away"]
    if not imposed:
        notes.append("the measured mixture cannot be used; the model meters fuel by the sheet's jets")
    if split is not None and pulls.hole is not None and abs(split.rpm - split.measured_rpm) > 50.0:
        notes.append(
            f"the model's own hole lies at {split.rpm:.0f} rpm, the measured one at {split.measured_rpm:.0f} rpm; "
            "shares are read at the model's"
        )
    if pulls.hole is None:
        notes.append("there is no hole: shares, where given, are of the broad loss in the middle of the riding band")
    return notes
