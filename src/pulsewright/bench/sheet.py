"""The setup sheet: read, check, fill in, write back.

::

    setup = read_setup("setup.toml")
    setup = read_setup("setup.toml", changes=[("carburettor.1.main_jet", "1.70 mm")])
"""

import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from pulsewright.bench.air import Air
from pulsewright.bench.changes import Change, changed_text
from pulsewright.bench.check_engine import check_engine
from pulsewright.bench.fill_carburettor import fill_carburettors
from pulsewright.bench.fill_engine import fill_engine, fill_ignition
from pulsewright.bench.fill_exhaust import fill_exhaust
from pulsewright.bench.fill_fuel import fill_fuel
from pulsewright.bench.fill_intake import fill_intake
from pulsewright.bench.given import NOT_GIVEN, Given
from pulsewright.bench.marked import marked_assumptions
from pulsewright.bench.place import Place
from pulsewright.bench.schema import FORMAT, SHEET
from pulsewright.bench.setup import Setup
from pulsewright.bench.toml_file import parse_toml, read_text

REFERENCE_WHY = "reference air for model torque (SAE J1349), where neither sheet nor session gives the air"


def read_setup(path: str | os.PathLike[str], changes: Iterable[Change] = ()) -> Setup:
    """Read a setup sheet.

    Parameters
    ----------
    path : the TOML file.
    changes : pairs (dotted path counting from 1, new value), made before the sheet is read.

    Raises
    ------
    InputError : the file cannot be read, or something in it cannot be.
    """
    changes = list(changes)
    text = read_text(path)
    if not changes:
        return setup_from_text(text, str(path), name=Path(path).stem)
    changed = changed_text(text, changes, where=str(path))
    return setup_from_text(changed, f"{path} with changes", name=Path(path).stem, lines=False)


def setup_from_text(text: str, where: str, *, name: str = "unnamed", lines: bool = True) -> Setup:
    """Read the text of a setup sheet.

    Parameters
    ----------
    text : TOML.
    where : what to call the text in errors, a file name as a rule.
    name : name of the setup where the sheet gives none.
    lines : whether line numbers of the text mean anything to the reader of an error.
    """
    document, place = parse_toml(text, where, lines=lines)
    place.assumptions.extend(marked_assumptions(text))
    return _fill(SHEET.read(document, place), place, name)


def _fill(values: Mapping[str, Any], place: Place, name: str) -> Setup:
    given = Given(values, place)
    if "carburettor" not in given and "intake" not in given:
        raise (place / "carburettor").error(
            "carburettor is missing, and so is intake; one of them is needed",
            'add [[carburettor]] with venturi = "38 mm" and what else you know',
        )
    given.plain("format", FORMAT, "the only format there is")
    engine = fill_engine(given.below("engine"), len(values["exhaust"]["route"]))
    check_engine(engine, place / "engine")
    carburettors = fill_carburettors(_carburettor_tables(given), engine, "plenum" in given.below("intake"))
    return Setup(
        name=values.get("name", name),
        engine=engine,
        ignition=fill_ignition(given.below("ignition")),
        fuel=fill_fuel(given.below("fuel")),
        carburettors=carburettors,
        intake=fill_intake(given.below("intake"), engine, carburettors),
        exhaust=fill_exhaust(given.below("exhaust"), engine.cylinders),
        air=fill_air(given.below("air")),
        assumptions=tuple(place.assumptions),
    )


def _carburettor_tables(given: Given) -> list[Given]:
    place = given.place / "carburettor"
    tables = given.values.get("carburettor")
    if tables is None:
        place.assume("one for all cylinders", f"{NOT_GIVEN}; sized from the engine below")
        tables = [{}]
    return [Given(table, place / number) for number, table in enumerate(tables, 1)]


def fill_air(given: Given) -> Air | None:
    """The air of the day; None where nothing is given."""
    if not given.values:
        given.place.assume("25 °C, 99 kPa, dry", REFERENCE_WHY)
        return None
    return Air(
        temperature=given.quantity("temperature", 298.15, "temperature", "reference air (SAE J1349)"),
        pressure=given.quantity("pressure", 99.0e3, "pressure", "reference air (SAE J1349)"),
        humidity=given.quantity("humidity", 0.0, "fraction", "taken as dry"),
    )
