"""The limits of a shop in a small TOML file: only what differs from the usual has to stand in it."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from pulsewright.bench.keys import Key, Quantity, Table, Whole, Word
from pulsewright.bench.toml_file import parse_toml, read_text, write_text
from pulsewright.errors import InputError, UsageError
from pulsewright.pulls.limits import COUNT, LIMITS, USUAL, Limit, Limits

FORMAT = "pulsewright limits 1"


def _key(limit: Limit) -> Key:
    if limit.kind == COUNT:
        return Whole(int(limit.low), int(limit.high))
    return Quantity(limit.kind, limit.low, limit.high)


_SCHEMA = Table(
    {"format": Word((FORMAT,)), **{name: _key(limit) for name, limit in LIMITS.items()}}, required=("format",)
)


def read_limits(path: Path) -> Limits:
    """The limits in a file, the usual ones where it says nothing.

    Raises InputError for an unknown name, a wrong unit or a value out of bounds.
    """
    data, place = parse_toml(read_text(path), str(path))
    values = _SCHEMA.read(data, place)
    return Limits(**{**asdict(USUAL), **{name: float(values[name]) for name in LIMITS if name in values}})


def limits_text(limits: Limits) -> str:
    """A limits file with the reason beside every value."""
    lines = [f'format = "{FORMAT}"', "# Leave out what you do not change: the usual value then holds."]
    finding = ""
    for name, limit in LIMITS.items():
        if limit.finding != finding:
            finding = limit.finding
            lines += ["", f"# --- {finding} ---"]
        value, usual = limit.show(getattr(limits, name)), limit.show(getattr(USUAL, name))
        bounds = f"{limit.show(limit.low)} to {limit.show(limit.high)}"
        lines += [f"# {limit.what}. Usual: {usual}; allowed: {bounds}", f"# why: {limit.why}"]
        lines.append(f"{name} = {value}" if limit.kind == COUNT else f'{name} = "{value}"')
    return "\n".join(lines) + "\n"


def write_limits(path: Path, limits: Limits) -> None:
    """Write a limits file; a file that is none is never overwritten."""
    if path.exists():
        try:
            read_limits(path)
        except InputError as error:
            raise UsageError(
                f"'{path.name}' is there and is no limits file", where=str(path), hint="choose another name"
            ) from error
    write_text(limits_text(limits), path)
