"""What was done to a file on the way to a pull: a list of steps with parameters, and the raw file's
fingerprint.

The raw bytes are only read. The recipe is enough to make the same pull again from them, and to see that they
are still the same.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pulsewright.errors import InputError
from pulsewright.pulls.decoding import read_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing that was done."""

    action: str  # "decode", "split cells", "name channel", "take pull", "leave out rows", "sort rows", ...
    parameters: dict[str, Any]  # plain values


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """All steps from the raw bytes to the pull, in order."""

    sha256: str = ""  # of the raw bytes
    size: int = 0  # [byte]
    kind: str = "sweep"  # or "steps"
    said: dict[str, Any] = field(default_factory=dict)  # what the person said, in plain values
    steps: tuple[Step, ...] = ()

    def of(self, action: str) -> list[dict[str, Any]]:
        """Parameters of every step of this action."""
        return [step.parameters for step in self.steps if step.action == action]

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        steps = [{"do": step.action, **step.parameters} for step in self.steps]
        return {"sha256": self.sha256, "bytes": self.size, "kind": self.kind, "said": self.said, "steps": steps}

    def check(self, path: Path) -> None:
        """Raise InputError where the file is no longer the one that the recipe was made for."""
        now = hashlib.sha256(read_bytes(path)).hexdigest()
        if now != self.sha256:
            raise InputError(
                "the file is not the one that was read: its fingerprint differs",
                where=str(path),
                hint="take the raw file from the logger again, or read this one anew",
            )
