"""Candidates: single options of the catalogue on one machine, and sensible pairs of them."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

from pulsewright.bench.changes import changed_text
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError
from pulsewright.remedies.catalogue import CUTAWAY, EXHAUST, FUEL, OWNED, PUMP, TO_BUY, TO_MAKE, Catalogue
from pulsewright.remedies.change_rows import Option, Rows, options_of
from pulsewright.remedies.loudness import Loudness, loudness

STOCK = (OWNED, TO_MAKE, TO_BUY)  # easiest first


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """The machine that candidates start from."""

    name: str  # of its setup in the session
    text: str  # TOML of its sheet
    setup: Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One or two changes made to a machine, and the machine that comes out."""

    options: tuple[Option, ...]
    setup: Setup
    text: str  # TOML of the changed sheet
    loudness: Loudness

    @property
    def words(self) -> str:
        """What to do, in a line."""
        return "; ".join(option.words for option in self.options if option.words)

    @property
    def rows(self) -> Rows:
        """The changes, as `change` in a session takes them."""
        return tuple(row for option in self.options for row in option.rows)

    @property
    def entries(self) -> tuple[str, ...]:
        """Names of its catalogue entries."""
        return tuple(option.entry.name for option in self.options)

    @property
    def groups(self) -> frozenset[str]:
        """What it touches: fuel, exhaust, ignition, intake."""
        return frozenset(option.entry.group for option in self.options)

    @property
    def minutes(self) -> float:
        """Time to make it, pulls not counted. [min]"""
        return sum(option.entry.minutes for option in self.options)

    @property
    def cost(self) -> float:
        """What parts cost, in the catalogue's money."""
        return sum(option.entry.cost for option in self.options)

    @property
    def reversible(self) -> bool:
        """Whether all of it can be put back."""
        return all(option.entry.reversible for option in self.options)

    @property
    def stock(self) -> str:
        """Whether its parts are there: the one that is hardest to get counts."""
        return max((option.entry.stock for option in self.options), key=STOCK.index)

    @property
    def cautions(self) -> tuple[str, ...]:
        """Notes, law and noise of its entries, each once."""
        found = [text for o in self.options for text in (o.entry.note, o.entry.law, o.entry.noise) if text]
        return tuple(dict.fromkeys(found))


def single_candidates(machine: Machine, catalogue: Catalogue) -> list[Candidate]:
    """Every option of the catalogue that the machine's sheet can take and that its pulls can show.

    An accelerator pump acts while the throttle opens, and a pull begins behind that: `snap` looks at it.
    """
    unseen = (PUMP, CUTAWAY) if fully_up(machine.setup) else (PUMP,)
    entries = [e for e in catalogue.changes if e.kind not in unseen]
    options = [o for entry in entries for o in options_of(entry, machine.setup, catalogue)]
    made = (candidate(machine, (option,)) for option in options)
    return [each for each in made if each is not None]


def fully_up(setup: Setup) -> bool:
    """Slides stand clear of the throat, so that their cutaway does nothing."""
    return all(c.throttle >= 1.0 for c in setup.carburettors)


def sensible_pair(first: Candidate, second: Candidate) -> bool:
    """Two singles that a tuner would try together: of different groups, one of them fuel or exhaust."""
    groups = first.groups | second.groups
    return len(groups) == 2 and bool(groups & {FUEL, EXHAUST})


def pair(machine: Machine, first: Candidate, second: Candidate) -> Candidate | None:
    """Both changes at once; None where the sheet cannot take them together."""
    return candidate(machine, (*first.options, *second.options))


def candidate(machine: Machine, options: Sequence[Option]) -> Candidate | None:
    """A candidate of options; None where the sheet refuses it, such as a pipe shorter than to its sensor."""
    rows = [row for option in options for row in option.rows]
    try:
        text = changed_text(machine.text, rows)
        setup = setup_from_text(text, "the changed sheet", name=machine.name, lines=False)
    except InputError:
        return None
    return Candidate(options=tuple(options), setup=setup, text=text, loudness=loudness(machine.setup, setup))


def setup_hash(setup: Setup) -> str:
    """Twelve hexadecimal digits that are the same for the same machine, however its sheet was written."""
    bare = replace(setup, name="", assumptions=(), air=None)
    return hashlib.sha256(_rounded(bare).encode()).hexdigest()[:12]


def _rounded(value: object) -> str:
    """A canonical text; numbers to nine digits, so that 14 mm and 0.014 m are the same."""
    if isinstance(value, float):
        return f"{value:.9g}"
    if isinstance(value, dict):
        return "{" + ",".join(f"{key!r}:{_rounded(each)}" for key, each in sorted(value.items())) + "}"
    if isinstance(value, tuple | list):
        return "(" + ",".join(_rounded(each) for each in value) + ")"
    if hasattr(value, "__dataclass_fields__"):
        fields = [getattr(value, name) for name in value.__dataclass_fields__]  # type: ignore[attr-defined]
        return type(value).__name__ + _rounded(fields)
    return repr(value)
