"""All that is known of a session's cause without switching anything off in a model."""

from __future__ import annotations

from pulsewright.bench.session import Session
from pulsewright.cause.change_evidence import change_evidence
from pulsewright.cause.complaint_evidence import complaint_evidence
from pulsewright.cause.evidence import Evidence
from pulsewright.cause.finding_evidence import artefact_of_the_hole, finding_evidence
from pulsewright.cause.hole_evidence import hole_evidence
from pulsewright.cause.level_evidence import level_evidence
from pulsewright.cause.mixture_evidence import mixture_evidence
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.simulate.prediction import Prediction


def gather_evidence(session: Session, pulls: SessionPulls, model: Prediction | None = None) -> list[Evidence]:
    """All observations, strongest first; `model` is the plain one of the baseline's sheet, where there is one.

    Artefacts are judged first: a hole that slip or a wrong count explains says nothing more about the engine.
    """
    artefact = artefact_of_the_hole(pulls)
    if artefact is not None:
        return [artefact]
    found = [
        *hole_evidence(pulls),
        *change_evidence(session, pulls),
        *mixture_evidence(session, pulls),
        *finding_evidence(pulls),
        *complaint_evidence(session.complaint),
    ]
    if model is not None:
        found += level_evidence(pulls, model)
    return sorted(found, key=lambda e: -e.weight)
