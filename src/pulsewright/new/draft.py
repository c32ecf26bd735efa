"""Answers given so far, in a small file beside the sheet they are for, so that a stop does not lose them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pulsewright.bench.changes import toml_value
from pulsewright.bench.toml_file import parse_toml, read_text, write_text
from pulsewright.errors import InputError, PulsewrightError
from pulsewright.new.questions import checked, question_called

FORMAT = "pulsewright new draft 1"
ENDING = ".draft"
SAYS = "Answers to `pulsewright new` so far; the sheet is not written yet. An empty one is not known."


def draft_of(sheet: Path) -> Path:
    """Where the draft of a sheet lies."""
    return sheet.with_name(sheet.name + ENDING)


def keep_draft(answers: Mapping[str, str], sheet: Path) -> Path:
    """Write the answers, by the names of their questions, beside the sheet they are for."""
    lines = [f"# {SAYS}", f"format = {toml_value(FORMAT)}", "", "[answers]"]
    lines += [f"{name} = {toml_value(answer)}" for name, answer in answers.items()]
    path = draft_of(sheet)
    write_text("\n".join(lines) + "\n", path)
    return path


def read_draft(sheet: Path) -> dict[str, str]:
    """The answers kept for a sheet, checked again; empty where there is no draft.

    Raises InputError where somebody changed the draft into something that is none.
    """
    path = draft_of(sheet)
    if not path.exists():
        return {}
    values, _ = parse_toml(read_text(path), str(path))
    answers = values.get("answers")
    if values.get("format") != FORMAT or not isinstance(answers, dict):
        raise InputError(f"'{path}' is no draft of answers", where=str(path), hint=_hint(path))
    try:
        return {name: checked(question_called(name), str(answer)) for name, answer in answers.items()}
    except PulsewrightError as error:
        raise InputError(error.what, where=f"{path}, {error.where or 'answers'}", hint=_hint(path)) from None


def drop_draft(sheet: Path) -> None:
    """The sheet is written: its draft has done its work."""
    draft_of(sheet).unlink(missing_ok=True)


def _hint(path: Path) -> str:
    return f"delete {path.name} to begin again"
