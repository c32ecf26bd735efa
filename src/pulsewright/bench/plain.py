"""A setup or a session as plain dictionaries in SI units, for JSON."""

import dataclasses
from pathlib import Path
from typing import Any

from pulsewright.bench.assumption import Assumption
from pulsewright.bench.exhaust import Piece
from pulsewright.bench.session import PullEntry, Session, SessionSetup
from pulsewright.bench.setup import Setup


def plain_setup(setup: Setup) -> dict[str, Any]:
    """Everything on the bench; exhaust pieces carry their word under "piece"."""
    return {
        "name": setup.name,
        **{
            field.name: _plain(getattr(setup, field.name))
            for field in dataclasses.fields(setup)
            if field.name not in ("name", "assumptions")
        },
    }


def plain_assumptions(assumptions: tuple[Assumption, ...]) -> list[dict[str, str]]:
    """Assumptions in the form that all JSON outputs share."""
    return [{"key": each.key, "value": each.value, "why": each.why} for each in assumptions]


def plain_session(session: Session) -> dict[str, Any]:
    """The session, its setups with their changes, and its pulls."""
    return {
        "complaint": session.complaint,
        "riding_band": list(session.riding_band),
        "target_lambda": _plain(session.target_lambda),
        "logger": _plain(session.logger),
        "setups": [_session_setup(each) for each in session.setups],
        "pulls": [_pull(each, session.folder) for each in session.pulls],
    }


def _session_setup(entry: SessionSetup) -> dict[str, Any]:
    return {
        "name": entry.name,
        "based_on": entry.based_on,
        "changes": [list(change) for change in entry.changes],
        "note": entry.note,
        "read": plain_setup(entry.setup),
        "assumptions": plain_assumptions(entry.setup.assumptions),
    }


def _pull(entry: PullEntry, folder: Path) -> dict[str, Any]:
    return {**_plain(entry), "file": entry.file.relative_to(folder).as_posix()}


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        word = {"piece": value.piece} if isinstance(value, Piece) else {}
        return word | {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {str(key): _plain(each) for key, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, tuple | list) else value
