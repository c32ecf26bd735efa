"""How one shop writes its files, remembered in a small TOML file.

A mapping says only what a person could say at the command line: which column is which, its unit, the decimal
mark, the separator. What the numbers contradict is refused as ever.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import Path

from pulsewright.bench.keys import Named, Quantity, Table, Text, Word
from pulsewright.bench.toml_file import parse_toml, read_text
from pulsewright.errors import InputError, UsageError, did_you_mean
from pulsewright.pulls.channel_units import find_unit
from pulsewright.pulls.channel_words import WORDS, fold, is_channel
from pulsewright.pulls.pull import ChannelDecision, Pull
from pulsewright.pulls.reading import PETROL_AFR, Reading

FORMAT = "pulsewright mapping 1"
SEPARATOR_WORDS = {"tab": "\t", "bar": "|"}
_SCHEMA = Table(
    {
        "format": Word((FORMAT,)),
        "separator": Word((",", ";", "tab", "bar")),
        "decimal": Word((".", ",")),
        "torque": Word(("engine", "wheel")),
        "stoichiometric_afr": Quantity("ratio", 4.0, 20.0),
        "columns": Named(Text(200)),
        "units": Named(Text(50)),
    },
    required=("format",),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """What is remembered of a shop's files; None and empty: to be seen from each file."""

    columns: dict[str, str] = field(default_factory=dict)  # quantity -> heading
    units: dict[str, str] = field(default_factory=dict)  # quantity -> unit
    separator: str | None = None
    decimal: str | None = None
    torque_at: str | None = None
    stoichiometric_afr: float | None = None

    def fits(self, headings: list[str]) -> bool:
        """Whether a file has every column that the mapping names."""
        known = {fold(heading) for heading in headings}
        return bool(self.columns) and all(fold(heading) in known for heading in self.columns.values())


def mapping_of(pull: Pull, reading: Reading) -> Mapping:
    """What to remember of a file that was read as it should be: the reader's proposals and the person's
    words."""
    counts = Counter(c.quantity for c in pull.channels)
    known = [c for c in pull.channels if c.quantity in WORDS and (counts[c.quantity] == 1 or c.sensor)]
    units = {_channel(c): "AFR" if c.unit.startswith("AFR") else c.unit for c in pull.channels if c.quantity in WORDS}
    return Mapping(
        columns={_channel(c): c.heading for c in known},
        units={channel: unit for channel, unit in units.items() if find_unit(unit)},
        separator=pull.separator,
        decimal=pull.decimal,
        torque_at=reading.torque_at,
        stoichiometric_afr=None if reading.stoichiometric_afr == PETROL_AFR else reading.stoichiometric_afr,
    )


def _channel(decision: ChannelDecision) -> str:
    return f"{decision.quantity}:{decision.sensor}" if decision.sensor else decision.quantity


def write_mapping(path: Path, mapping: Mapping) -> None:
    """Write a mapping; a file that is no mapping is never overwritten."""
    import tomlkit

    if path.exists():
        try:
            read_mapping(path)
        except InputError as error:
            raise UsageError(
                f"'{path.name}' is there and is no mapping", where=str(path), hint="choose another name"
            ) from error
    words = {mark: word for word, mark in SEPARATOR_WORDS.items()}
    document = tomlkit.document()
    document["format"] = FORMAT
    if mapping.separator:
        document["separator"] = words.get(mapping.separator, mapping.separator)
    if mapping.decimal:
        document["decimal"] = mapping.decimal
    if mapping.torque_at:
        document["torque"] = mapping.torque_at
    if mapping.stoichiometric_afr:
        document["stoichiometric_afr"] = mapping.stoichiometric_afr
    for name in ("columns", "units"):
        document[name] = dict(sorted(getattr(mapping, name).items()))
    path.write_text(tomlkit.dumps(document), encoding="utf-8")


def read_mapping(path: Path) -> Mapping:
    """Read a mapping file. Raises InputError where something in it cannot be."""
    data, place = parse_toml(read_text(path), str(path))
    values = _SCHEMA.read(data, place)
    for name in ("columns", "units"):
        for quantity in values.get(name, {}):
            if not is_channel(quantity):
                raise InputError(
                    f"'{quantity}' is no channel known here", where=f"{path}, {name}",
                    hint=did_you_mean(quantity, WORDS),
                )  # fmt: skip
    separator = values.get("separator")
    return Mapping(
        columns=values.get("columns", {}),
        units=values.get("units", {}),
        separator=SEPARATOR_WORDS.get(separator or "", separator),
        decimal=values.get("decimal"),
        torque_at=values.get("torque"),
        stoichiometric_afr=values.get("stoichiometric_afr"),
    )


def with_mapping(reading: Reading, mapping: Mapping, *, torque_said: bool = False) -> Reading:
    """The reading with what the mapping adds; what the person says now goes first."""
    afr = reading.stoichiometric_afr
    if mapping.stoichiometric_afr and afr == PETROL_AFR:
        afr = mapping.stoichiometric_afr
    fuel = reading.fuel
    if mapping.stoichiometric_afr and not fuel:
        fuel = f"the fuel of {afr:g}"
    return replace(
        reading,
        fuel=fuel,
        columns={**mapping.columns, **reading.columns},
        units={**mapping.units, **reading.units},
        separator=reading.separator or mapping.separator,
        decimal=reading.decimal or mapping.decimal,
        torque_at=reading.torque_at if torque_said else mapping.torque_at or reading.torque_at,
        stoichiometric_afr=afr,
    )


def fitting_mappings(file: Path, headings: list[str]) -> list[Path]:
    """Mapping files beside a pull file, or one folder up, that name only columns this file has."""
    found = []
    for folder in dict.fromkeys((file.resolve().parent, file.resolve().parent.parent)):
        for path in sorted(folder.glob("*.toml"))[:100]:
            try:
                fits = FORMAT in path.read_text(encoding="utf-8")[:500] and read_mapping(path).fits(headings)
            except (InputError, OSError, UnicodeDecodeError):
                continue
            found += [path] if fits else []
    return found
