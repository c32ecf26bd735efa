"""Numbers that come from outside: of jobs in addresses, and of speeds as they are typed."""

from __future__ import annotations

from typing import Annotated

from fastapi import Path

from pulsewright.errors import InputError
from pulsewright.units import number_and_unit
from pulsewright.web import words

JobNumber = Annotated[int, Path(ge=1, le=2**31 - 1)]


def rpm_of(text: str, where: str) -> str:
    """A speed as a session writes it; a bare number is rpm."""
    found = number_and_unit(text.strip())
    if found is None:
        raise InputError(words.TEXT["no_speed"].format(text=text), where=where, hint=words.TEXT["no_speed_hint"])
    return text.strip() if found[1] else f"{text.strip()} rpm"
