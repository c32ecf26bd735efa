"""A session folder to its explanation: pulls, fit, evidence, switches in the model, verdict, next steps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.cause.causes import (
    EXHAUST_WAVE,
    INTAKE_WAVE,
    MEASUREMENT,
    MIXTURE,
    MIXTURE_LEAN,
    MIXTURE_RICH,
    NO_HOLE,
    RESTRICTION,
)
from pulsewright.cause.evidence import Evidence, mixture_at
from pulsewright.cause.explanation import Explanation, Unexplained
from pulsewright.cause.gather_evidence import gather_evidence
from pulsewright.cause.model_evidence import model_evidence
from pulsewright.cause.safety import leanest, safety_notes
from pulsewright.cause.switches import SWITCHES, Split, split_causes
from pulsewright.cause.verdict import probabilities, verdict
from pulsewright.fit.fit import Fit
from pulsewright.fit.machine import FittedMachine
from pulsewright.physics.power_versus_mixture import BEST_LAMBDA
from pulsewright.pulls.measured_mixture import trusted_mixture
from pulsewright.pulls.session_pulls import SessionPulls, read_session_pulls
from pulsewright.remedies.model_of_session import (
    ModelTorque,
    Say,
    Stopped,
    fit_of_session,
    fitted_torque,
    machine_without_fit,
    unexplained_part,
    unfitted_torque,
)
from pulsewright.remedies.next_steps import next_tests
from pulsewright.simulate.fidelity import SHOW
from pulsewright.simulate.predict import predict
from pulsewright.simulate.prediction import Prediction

SHEET_STEP = 250.0  # [rpm] between speeds of the plain model's curve
STILL_SUSPECT = 0.05  # probability by the evidence alone
SPLIT_DRAWS = 16  # of the fit's, best first: their shares scatter by less than the model's own doubt


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """Everything that a report needs: what was measured, what the model says, and the explanation."""

    session: Session
    pulls: SessionPulls
    explanation: Explanation
    sheet: Prediction  # plain model of the baseline's sheet, measured mixture imposed where it can be trusted
    mixture_imposed: bool
    machine: FittedMachine
    fit: Fit | None
    model: ModelTorque  # baseline


def explain_session(
    session: Session,
    say: Say | None = None,
    *,
    fitted: bool = True,
    store: Path | None = None,
    stopped: Stopped | None = None,
) -> Answer:
    """Explain a session. `say` is told in words what is being done.

    fitted : with the stored fit of these pulls, or a quick one; False: with the model as the sheet has it.
    store : folder of stored fits. Raises CancelledError or KeyboardInterrupt soon after `stopped` says True.
    """
    tell = say or (lambda _text: None)
    tell("reading the pulls")
    pulls = read_session_pulls(session)
    tell("computing the engine of the sheet")
    sheet = engine_of_the_sheet(session, pulls)
    fit = fit_of_session(session, pulls, store=store, say=say, stopped=stopped) if fitted else None
    if fit is None:
        tell("bringing the jets of the model to the measured mixture")
    machine = machine_without_fit(session, pulls, stopped) if fit is None else fit.machine.few(SPLIT_DRAWS)
    tell("computing the engine without the echo")
    model = (
        unfitted_torque(session, pulls, machine, stopped)
        if fit is None
        else fitted_torque(session, pulls, fit, stopped)
    )
    evidence = gather_evidence(session, pulls, sheet)
    tell("taking the causes away one by one")
    split = _split(session, pulls, machine, evidence, model, stopped)
    return Answer(
        session=session, pulls=pulls, sheet=sheet, mixture_imposed=trusted_mixture(pulls) is not None,
        machine=machine, fit=fit, model=model, explanation=_explanation(session, pulls, evidence, split, model, fit),
    )  # fmt: skip


def healthy_by_pulls(session: Session, pulls: SessionPulls) -> Mapping[str, float] | None:
    """Chances of every cause where the pulls show no hole and speak for none: no fit can change that verdict.

    None for every other day. It takes the engine of the sheet, which is held against the pulls, and no fit.
    """
    if pulls.hole is not None:
        return None
    chances = probabilities(gather_evidence(session, pulls, engine_of_the_sheet(session, pulls)))
    return chances if verdict(chances)[0] == NO_HOLE else None


def engine_of_the_sheet(session: Session, pulls: SessionPulls) -> Prediction:
    """The plain model of the baseline, with the measured mixture imposed where it can be trusted."""
    setup = session.setup(pulls.baseline).setup
    return predict(setup, _sheet_speeds(pulls), mixture=trusted_mixture(pulls), level=SHOW)


def _sheet_speeds(pulls: SessionPulls) -> list[float]:
    rpm = pulls.setups[pulls.baseline].rpm
    low = np.ceil(rpm[0] / SHEET_STEP) * SHEET_STEP
    return [float(x) for x in np.arange(low, rpm[-1] + 1.0, SHEET_STEP)]


def _split(
    session: Session,
    pulls: SessionPulls,
    machine: FittedMachine,
    evidence: Sequence[Evidence],
    model: ModelTorque,
    stopped: Stopped | None,
) -> Split | None:
    """Switches at the hole's bottom; without a hole in the middle of the band, where mixture is to blame for it.

    What the evidence has ruled out is not switched: every muffler costs torque, and is no suspect for that.
    """
    setup, hole = session.setup(pulls.baseline).setup, pulls.hole
    chances = probabilities(evidence)
    left = {c for c in (EXHAUST_WAVE, INTAKE_WAVE, RESTRICTION) if chances[c] >= STILL_SUSPECT} | {MIXTURE}
    if hole is not None and hole.repeats:
        suspects = [s for s in SWITCHES if s in left | {EXHAUST_WAVE, INTAKE_WAVE}]
        left_open = unexplained_part(pulls.setups[pulls.baseline], hole, model)
        return split_causes(
            machine, setup, hole.rpm_bottom, between=hole.rpm_shoulders, suspects=suspects, stopped=stopped,
            pulled_as=pulls.baseline, misfit=0.0 if left_open is None else abs(left_open[0]),
        )  # fmt: skip
    if verdict(chances)[0] in (MIXTURE_RICH, MIXTURE_LEAN, RESTRICTION):
        suspects = [s for s in SWITCHES if s in left]
        return split_causes(machine, setup, 0.5 * sum(pulls.riding_band), suspects=suspects, stopped=stopped)
    return None


def _explanation(
    session: Session,
    pulls: SessionPulls,
    evidence: Sequence[Evidence],
    split: Split | None,
    model: ModelTorque,
    fit: Fit | None,
) -> Explanation:
    curves, hole = pulls.setups[pulls.baseline], pulls.hole
    left = unexplained_part(curves, hole, model) if hole is not None else None
    here = mixture_at(curves, hole.rpm_bottom) if hole is not None else None
    rows = [*evidence]
    if hole is not None:
        rich = here is None or here < BEST_LAMBDA
        rows += model_evidence(split, hole.depth, rich, None if left is None else left[0])
    rows.sort(key=lambda e: -e.weight)
    chances = probabilities(rows)
    word, sure = verdict(chances)
    lean = leanest(session, pulls)
    imposed = trusted_mixture(pulls)
    bottom = split.rpm if split else hole.rpm_bottom if hole else None
    mixture = imposed(hole.rpm_bottom) if imposed and hole else None
    return Explanation(
        hole=hole,
        verdict=word,
        confidence=sure,
        chances=chances,
        split=split if word != MEASUREMENT else None,
        unexplained=None if left is None else Unexplained(share=left[0], low=left[1], high=left[2]),
        evidence=tuple(rows),
        safety=tuple(safety_notes(session, pulls)),
        leanest=lean,
        next=tuple(next_tests(session, pulls, word, bottom=bottom, mixture=mixture, lean=lean)),
        notes=(*grouped(pulls.notes), *_model_notes(split, pulls, fit)),
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


def _model_notes(split: Split | None, pulls: SessionPulls, fit: Fit | None) -> list[str]:
    notes = []
    if fit is None:
        notes.append("the model is not fitted to this machine: its torque may be 15 % off and its hole 200 rpm away")
        if trusted_mixture(pulls) is None:
            notes.append("the measured mixture cannot be used; the model meters fuel by the sheet's jets")
    else:
        notes += fit.notes
    if split is None:
        return notes
    if pulls.hole is None:
        notes.append("there is no hole: shares are of the broad loss in the middle of the riding band")
    elif abs(split.rpm - split.measured_rpm) > 50.0:
        notes.append(
            f"the model's own hole lies at {split.rpm:.0f} rpm, the measured one at {split.measured_rpm:.0f} rpm; "
            "shares are read at the model's"
        )
    if np.isfinite(split.pulsation):
        notes.append(
            f"by the model the pulsating air draws {split.pulsation:.1f} times the fuel that a steady stream would at "
            f"{split.rpm:.0f} rpm; without the echo the mixture would be {100.0 * (split.richness - 1.0):+.0f} % leaner"
        )
    return notes
