"""The session folder: what was done on the dyno, in order.

::

    session = read_session("2nd-of-may")
    session.pull_setup(session.pulls[0]).setup.engine.bore
"""

import math
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pulsewright.bench.air import Air
from pulsewright.bench.assumption import Assumption
from pulsewright.bench.changes import changed_text
from pulsewright.bench.given import NOT_GIVEN, PRACTICE, Given
from pulsewright.bench.place import Place
from pulsewright.bench.roller import USUAL_WINDOW, RollerDyno
from pulsewright.bench.session_schema import SESSION, SESSION_FORMAT
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.bench.toml_file import parse_toml, read_text
from pulsewright.errors import InputError, did_you_mean

SESSION_FILE = "session.toml"
RIDING_BAND = (2000.0, 5000.0)  # [rpm]
UNKNOWN_HUMIDITY = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Logger:
    """How to read the pull files."""

    torque: str | None  # "engine" (referred to the crank) or "wheel"; None: not said
    lambda_delay: float | None  # [s] None: unknown
    separator: str | None  # "," ";" or "tab"; None: to be seen from the files, as are the next three
    decimal: str | None  # "." or ","
    units: dict[str, str]  # quantity to unit, where the user has settled a doubt
    columns: dict[str, str]  # quantity to heading or number of its column
    roller: RollerDyno | None = None  # where the logger gives roller speed and no torque
    mapping: Path | None = None  # file that says how the shop writes its files


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionSetup:
    """One state of the machine."""

    name: str
    setup: Setup
    changes: tuple[tuple[str, Any], ...]  # (dotted path, new value), against `based_on` or its own sheet
    note: str
    based_on: str | None
    text: str  # TOML of the whole sheet with its changes, to build further changes on


@dataclass(frozen=True, slots=True, kw_only=True)
class PullEntry:
    """One pull, as the session lists it."""

    file: Path
    setup: str
    kind: str  # "sweep" or "steps"
    air: Air | None  # None: not written down
    head_temperature: float | None  # [K]
    note: str
    number: int | None = None  # which pull, counting from 1, of a file that holds several


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A day on the dyno."""

    folder: Path
    machine: str  # what the report calls the machine; empty: not said
    workshop: str
    invented: bool  # made-up data, marked so in every report
    complaint: str
    riding_band: tuple[float, float]  # [rpm]
    target_lambda: tuple[float, float] | None
    logger: Logger
    setups: tuple[SessionSetup, ...]
    pulls: tuple[PullEntry, ...]
    assumptions: tuple[Assumption, ...]  # about the session file; each setup has its own
    limits: Path | None = None  # file with the shop's own limits for findings; None: the usual ones

    def setup(self, name: str) -> SessionSetup:
        """The setup of that name."""
        found = next((each for each in self.setups if each.name == name), None)
        if found is None:
            raise InputError(
                f"the session has no setup '{name}'",
                where=str(self.folder / SESSION_FILE),
                hint=did_you_mean(name, [each.name for each in self.setups]),
            )
        return found

    def pull_setup(self, pull: PullEntry) -> SessionSetup:
        """The state of the machine in a pull."""
        return self.setup(pull.setup)


def read_session(folder: str | os.PathLike[str]) -> Session:
    """Read the session in a folder, or the one whose session.toml is given.

    The pull files are only looked for here, not read.

    Raises
    ------
    InputError : a file is missing or something in the session or its sheets cannot be.
    """
    path = Path(folder)
    path = path if path.name == SESSION_FILE and path.is_file() else path / SESSION_FILE
    data, place = parse_toml(read_text(path), str(path))
    given = Given(SESSION.read(data, place), place)
    given.plain("format", SESSION_FORMAT, "the only format there is")
    setups = _Setups(path.parent, given).all()
    limits = given.values.get("limits")
    return Session(
        folder=path.parent,
        machine=given.values.get("machine", ""),
        workshop=given.values.get("workshop", ""),
        invented=given.values.get("invented", False),
        complaint=given.values.get("complaint", ""),
        riding_band=_rising(given, "riding_band") or given.plain("riding_band", RIDING_BAND, PRACTICE),
        target_lambda=_rising(given, "target_lambda"),
        logger=_logger(path.parent, given.below("logger")),
        setups=setups,
        pulls=_pulls(path.parent, given, [each.name for each in setups]),
        assumptions=tuple(place.assumptions),
        limits=_inside(path.parent, limits, place / "limits", "limits file") if limits else None,
    )


def _rising(given: Given, key: str) -> tuple[float, float] | None:
    """A pair, low before high; None where it is left out."""
    if key not in given:
        return None
    low, high = given[key]
    if low >= high:
        raise (given.place / key).error(
            f"{key} runs from {low:g} to {high:g}; allowed: from low to high", "write the lower number first"
        )
    return low, high


def _logger(folder: Path, given: Given) -> Logger:
    mapping = given.values.get("mapping")
    return Logger(
        torque=given.values.get("torque"),
        lambda_delay=given.values.get("lambda_delay"),
        separator=given.values.get("separator"),
        decimal=given.values.get("decimal"),
        units=given.values.get("units", {}),
        columns=given.values.get("columns", {}),
        roller=_roller(folder, given),
        mapping=_inside(folder, mapping, given.place / "mapping", "mapping file") if mapping else None,
    )


_ROLLER_KEYS = ("roller_inertia_tolerance", "roller_radius", "roller_circumference", "engine_inertia", "drive_ratio",
                "losses", "coast_down", "derivative_window")  # fmt: skip


def _roller(folder: Path, given: Given) -> RollerDyno | None:
    """The roller, where its inertia is given; what needs it is refused without it."""
    if "roller_inertia" not in given:
        needless = next((key for key in _ROLLER_KEYS if key in given), None)
        if needless:
            raise (given.place / needless).error(
                f"logger.{needless} is given but logger.roller_inertia is not",
                'write roller_inertia = "3.2 kg m^2" beside it',
            )
        return None
    if ("roller_radius" in given) == ("roller_circumference" in given):
        raise (given.place / "roller_radius").error(
            "a roller has one of roller_radius and roller_circumference",
            'write roller_circumference = "1.2 m"',
        )
    if "losses" in given and "coast_down" in given:
        raise (given.place / "losses").error("losses and coast_down say the same thing twice", "leave one of them out")
    values, coast = given.values, given.values.get("coast_down")
    return RollerDyno(
        inertia=values["roller_inertia"],
        radius=values.get("roller_radius") or values["roller_circumference"] / (2.0 * math.pi),
        inertia_tolerance=values.get("roller_inertia_tolerance", 0.0),
        engine_inertia=values.get("engine_inertia", 0.0),
        drive_ratio=values.get("drive_ratio"),
        losses=tuple(tuple(row) for row in values.get("losses", ())),
        coast_down=_inside(folder, coast, given.place / "coast_down", "coast-down file") if coast else None,
        window=values.get("derivative_window", USUAL_WINDOW),
    )


def _inside(folder: Path, name: str, place: Place, what: str) -> Path:
    """A file of the session, which must be there and lie in its folder."""
    if Path(name).is_absolute() or ".." in Path(name).parts:
        raise place.error(
            f"{place.key} is '{name}'; allowed: a file in the session folder",
            f"copy the {what} into the folder",
        )
    path = folder / name
    if not path.is_file():
        near = [str(each.relative_to(folder)) for each in sorted(path.parent.glob("*")) if each.is_file()]
        hint = did_you_mean(name, near) if near else "check the name and the folder"
        raise place.error(f"the {what} '{name}' is not in the session folder", hint)
    return path


class _Setups:
    """Builds the setups of a session, each after the one it is based on."""

    def __init__(self, folder: Path, given: Given) -> None:
        self.folder = folder
        self.entries: dict[str, Given] = {}
        self.made: dict[str, SessionSetup] = {}
        for number, table in enumerate(given["setup"], 1):
            entry = Given(table, given.place / "setup" / number)
            if table["name"] in self.entries:
                raise (entry.place / "name").error(
                    f"two setups are called '{table['name']}'", "give each setup a name of its own"
                )
            self.entries[table["name"]] = entry

    def all(self) -> tuple[SessionSetup, ...]:
        """All setups in the order of the file."""
        return tuple(self._make(name, ()) for name in self.entries)

    def _make(self, name: str, waiting: tuple[str, ...]) -> SessionSetup:
        if name not in self.made:
            self.made[name] = self._build(name, self.entries[name], waiting)
        return self.made[name]

    def _build(self, name: str, entry: Given, waiting: tuple[str, ...]) -> SessionSetup:
        where, text = self._base(name, entry, waiting)
        changes = entry.values.get("change", ())
        if changes:
            text = changed_text(text, changes, where=f"{(entry.place / 'change').where}, setup '{name}'")
        setup = setup_from_text(
            text,
            f"{where}, setup '{name}'" if changes or "based_on" in entry else where,
            name=name,
            lines="based_on" not in entry and not changes,  # changes move the lines
        )
        return SessionSetup(
            name=name,
            setup=setup,
            changes=changes,
            note=entry.values.get("note", ""),
            based_on=entry.values.get("based_on"),
            text=text,
        )

    def _base(self, name: str, entry: Given, waiting: tuple[str, ...]) -> tuple[str, str]:
        """File and text of the sheet before the changes."""
        place = entry.place
        if ("sheet" in entry) == ("based_on" in entry):
            both = "both sheet and based_on" if "sheet" in entry else "neither sheet nor based_on"
            raise place.error(
                f"setup '{name}' has {both}; allowed: one of them",
                'write sheet = "setup.toml", or based_on = "A" with what was changed',
            )
        if "sheet" in entry:
            path = _inside(self.folder, entry["sheet"], place / "sheet", "setup sheet")
            return str(path), read_text(path)
        base = entry["based_on"]
        if base not in self.entries:
            raise (place / "based_on").error(
                f"setup '{name}' is based on '{base}', which is no setup here",
                did_you_mean(base, self.entries),
            )
        if base == name or base in waiting:
            ring = " -> ".join([*waiting, name, base])
            raise (place / "based_on").error(
                f"setups are based on each other in a ring: {ring}",
                'let one of them name a sheet = "setup.toml"',
            )
        made = self._make(base, (*waiting, name))
        return self._sheet_of(base), made.text

    def _sheet_of(self, name: str) -> str:
        """The file at the root of a chain of setups."""
        entry = self.entries[name]
        return self._sheet_of(entry["based_on"]) if "based_on" in entry else str(self.folder / entry["sheet"])


def _pulls(folder: Path, given: Given, setups: list[str]) -> tuple[PullEntry, ...]:
    tables = given.values.get("pull", [])
    place = given.place / "pull"
    return tuple(_pull(folder, Given(table, place / number), setups) for number, table in enumerate(tables, 1))


def _pull(folder: Path, given: Given, setups: list[str]) -> PullEntry:
    if given["setup"] not in setups:
        raise (given.place / "setup").error(
            f"the pull was made with setup '{given['setup']}', which is no setup here",
            did_you_mean(given["setup"], setups),
        )
    return PullEntry(
        file=_inside(folder, given["file"], given.place / "file", "pull file"),
        setup=given["setup"],
        kind=given.plain("kind", "sweep", PRACTICE),
        air=_air(given.below("air")),
        head_temperature=given.values.get("head_temperature"),
        note=given.values.get("note", ""),
        number=given.values.get("number"),
    )


def _air(given: Given) -> Air | None:
    """Air of one pull; temperature and pressure belong together, humidity may be unknown."""
    if not given.values:
        return None
    for key in ("temperature", "pressure"):
        if key not in given:
            place = given.place / key
            raise place.error(
                f"{place.key} is missing; the air of a pull needs temperature and pressure",
                'write air = { temperature = "24 degC", pressure = "99.4 kPa", humidity = "45 %" }',
            )
    if "humidity" not in given:
        (given.place / "humidity").assume(
            f"{100 * UNKNOWN_HUMIDITY:g} %", f"{NOT_GIVEN}; between dry and damp, {PRACTICE}"
        )
    return Air(
        temperature=given["temperature"],
        pressure=given["pressure"],
        humidity=given.values.get("humidity", UNKNOWN_HUMIDITY),
    )
