"""A value that the sheet leaves out and the tool fills in."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """What was filled in, with which value, and why; all three in words for people."""

    key: str  # dotted path in the sheet, counting from 1
    value: str  # with its unit, as a person would write it
    why: str  # the reason, with its source where there is one
