"""Every key of the sheet, with a value it cannot have: one line that says what, where and what to try.

The cases come out of the schema, so a new key is tested without a new test; what a key may legitimately be
(zero, negative, left out) is written down here and tested too.
"""

import copy
import json
import re
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from tests.unit.bench.sheets import COLLECTOR_TWIN, MUFFLED_TWIN

from pulsewright.bench.jets import Jet
from pulsewright.bench.keys import (
    Curve,
    Either,
    Flag,
    Key,
    Many,
    Named,
    Numbered,
    Quantity,
    Row,
    Table,
    Tables,
    Text,
    Whole,
    Word,
)
from pulsewright.bench.place import Place
from pulsewright.bench.schema import SHEET
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.bench.timing import Timing
from pulsewright.errors import InputError
from pulsewright.units import show

SHEETS = {"muffled": tomllib.loads(MUFFLED_TWIN), "collector": tomllib.loads(COLLECTOR_TWIN)}
Path = tuple[str | int, ...]

# Zero is a value that makes sense: none fitted, at the very end, straight, at top dead centre, dry.
ZERO_ALLOWED = {
    "engine.intake_valve.check_lift", "engine.exhaust_valve.check_lift", "engine.firing.*",
    "ignition.advance.*.2", "engine.intake_valve.lift_table.*.1", "engine.intake_valve.lift_table.*.2",
    "fuel.oxygen_per_carbon",
    "carburettor.*.emulsion_tube.*.below", "carburettor.*.pump_volume",
    "carburettor.*.main_air_bleed", "carburettor.*.nozzle_lip", "carburettor.*.intermediate_jet",
    "carburettor.*.throttle_closed_angle", "carburettor.*.cutaway", "carburettor.*.needle_taper",
    "carburettor.*.needle_straight", "carburettor.*.spring_down",
    "carburettor.*.intermediate_jet.number", "carburettor.*.intermediate_air_bleed", "air.humidity",
    "intake.loss", "intake.wall_film", "intake.film_split.*",
    "exhaust.route.*.*.from_end", "exhaust.route.*.*.angle", "exhaust.after.*.*.angle",
    "exhaust.route.*.*.angle_by_rpm.*.2",
}  # fmt: skip
# Negative makes sense: retarded behind top dead centre; the other side of a dead centre.
NEGATIVE_ALLOWED = {
    "ignition.advance.*.2", "engine.intake_valve.opens", "engine.intake_valve.closes",
    "engine.exhaust_valve.opens", "engine.exhaust_valve.closes",
}  # fmt: skip
# Left out means an error. The sheet needs bore, stroke, compression ratio, valve timing and exhaust routes;
# inside a piece or a duct, its sizes.
REQUIRED = {
    "engine", "engine.bore", "engine.stroke", "engine.compression_ratio", "engine.intake_valve",
    "engine.exhaust_valve", "engine.intake_valve.opens", "engine.intake_valve.closes",
    "engine.exhaust_valve.opens", "engine.exhaust_valve.closes", "exhaust", "exhaust.route",
    "exhaust.route.*",
    "exhaust.after", "exhaust.after.*", "ignition.advance",
    "fuel.stoichiometric_afr", "fuel.density", "fuel.heating_value",  # of a fuel of one's own
    "carburettor.*.pump_volume",  # where a pump_time is given
    "carburettor.*.emulsion_tube.*.below", "carburettor.*.emulsion_tube.*.holes", "carburettor.*.emulsion_tube.*.bore",
    "carburettor.*.main_jet.number", "carburettor.*.main_jet.means", "carburettor.*.intermediate_jet.number",
    "carburettor.*.intermediate_jet.means", "intake.pressure_drop", "intake.at_flow",  # one needs the other
    "intake.mouth",  # where a filter's loss is given
    "intake.wall_film", "intake.film_split.*",  # one needs the other, and every cylinder
    "intake.before_carburettor.*.length", "intake.before_carburettor.*.bore",
    "intake.after_carburettor.*.length", "intake.after_carburettor.*.bore",
    "intake.branch.*.*.length", "intake.branch.*.*.bore",
    "intake.branch.*.*.bore_in", "intake.branch.*.*.bore_out",
} | {
    f"exhaust.{group}.*.*.{key}"
    for group in ("route", "after")
    for key in (
        "piece", "length", "bore", "bore_in", "bore_out", "width", "diameter", "open_area_fraction",
        "body_length", "body_bore", "core_bore", "core", "angle_by_rpm", "into", "to", "at", "angle",
    )
}  # fmt: skip
# Left out means that there is none, or that another key says the same: no assumption to print.
SILENT = {
    "name", "engine.intake_valve.lift_table", "engine.intake_valve.lift", "intake.plenum",
    "intake.before_carburettor", "intake.after_carburettor", "exhaust.lambda_sensor",
    "exhaust.lambda_sensor.*", "fuel.kind", "carburettor.*.emulsion_tube",
}  # fmt: skip
# A muffler has a usual open area, a valve the bore of its pipe, a plate stands across; other pieces do not.
FILLED_IN_SOME_PIECES = {("muffler", "open_area_fraction"), ("valve", "bore"), ("plate", "angle")}


def leaves(value: Any, key: Key, path: Path = ()) -> Iterator[tuple[Path, Key]]:
    """Every key of a sheet that has a value of its own, with what it is."""
    if isinstance(key, Jet) and isinstance(value, dict):
        key = Table(key.keys)
    if isinstance(key, Either):
        key = key.tables[value[key.choice]]
    if isinstance(key, Table):
        for name, each in value.items():
            yield from leaves(each, key.keys[name], (*path, name))
    elif isinstance(key, Numbered | Named):
        for name, each in value.items():
            yield from leaves(each, key.item, (*path, name))
    elif isinstance(key, Tables | Many | Curve | Row):
        items = {Tables: "table", Many: "item", Curve: "row"}
        for index, each in enumerate(value):
            item = key.items[index] if isinstance(key, Row) else getattr(key, items[type(key)])
            yield from leaves(each, item, (*path, index))
    else:
        yield path, key


def names(value: Any, path: Path = ()) -> Iterator[Path]:
    """Every name in the tables of a sheet."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, each in items:
        if isinstance(value, dict):
            yield (*path, name)
        yield from names(each, (*path, name))


def pattern(path: Path) -> str:
    """The path with * for numbers and for names that a user gives."""
    words = [str(each + 1) if isinstance(each, int) else each for each in path]
    text = ".".join("*" if word == "collector 1" else word for word in words)
    fixed = r"(advance|angle_by_rpm|lift_table)\.\d+\.(\d+)"
    text = re.sub(fixed, lambda found: f"{found[1]}.*.{'xy'[int(found[2]) - 1]}", text)
    text = re.sub(r"(?<=\.)\d+(?=\.|$)", "*", text)
    return text.replace(".*.x", ".*.1").replace(".*.y", ".*.2")


def dotted(path: Path) -> str:
    return ".".join(str(each + 1) if isinstance(each, int) else each for each in path)


def cases(without: tuple[type, ...] = ()) -> list[Any]:
    return [
        pytest.param(sheet, path, key, id=f"{sheet}-{dotted(path)}")
        for sheet, data in SHEETS.items()
        for path, key in leaves(data, SHEET)
        if not isinstance(key, without)
        and (sheet == "muffled" or path not in {each for each, _ in leaves(SHEETS["muffled"], SHEET)})
    ]


def name_cases() -> list[Any]:
    seen = {path for path in names(SHEETS["muffled"])}
    return [
        pytest.param(sheet, path, id=f"{sheet}-{dotted(path)}")
        for sheet, data in SHEETS.items()
        for path in names(data)
        if sheet == "muffled" or path not in seen
    ]


def at(data: Any, path: Path) -> Any:
    for each in path:
        data = data[each]
    return data


def toml_of(data: dict[str, Any]) -> str:
    """TOML with one line for each table at the top; much quicker than a writer that lays out a page."""
    return "".join(f"{name} = {_inline(value)}\n" for name, value in data.items())


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(name)} = {_inline(each)}" for name, each in value.items()) + "}"
    return "[" + ", ".join(map(_inline, value)) + "]" if isinstance(value, list) else json.dumps(value)


def read_with(sheet: str, path: Path, value: Any) -> Setup:
    data = copy.deepcopy(SHEETS[sheet])
    at(data, path[:-1])[path[-1]] = value
    return setup_from_text(toml_of(data), "bench.toml")


def refusal(sheet: str, path: Path, value: Any) -> InputError:
    with pytest.raises(InputError) as refused:
        read_with(sheet, path, value)
    return refused.value


def assert_plain(error: InputError, path: Path) -> None:
    """One line each: what, where with file, line and key, and what to try."""
    assert error.where is not None
    assert error.hint is not None
    assert error.what
    assert not any("\n" in text for text in (error.what, error.where, error.hint))
    assert re.match(r"bench\.toml, line \d+, ", error.where)
    assert dotted(path).startswith(error.where.split(", ")[2]) or error.where.endswith(dotted(path))


def known_keys(key: Any, path: str = "") -> Iterator[str]:
    """Every key that the schema knows, with the word of its piece."""
    if isinstance(key, Table):
        for name, each in key.keys.items():
            yield from known_keys(each, f"{path}.{name}")
    elif isinstance(key, Either):
        for word, table in key.tables.items():
            yield from known_keys(table, f"{path}:{word}")
    elif isinstance(key, Tables | Many | Numbered | Named):
        yield from known_keys(key.table if isinstance(key, Tables) else key.item, path)
    else:
        yield path


def keys_in(value: Any, key: Any, path: str = "") -> Iterator[str]:
    """The same for the keys that a sheet has."""
    if isinstance(key, Table):
        for name, each in value.items():
            yield from keys_in(each, key.keys[name], f"{path}.{name}")
    elif isinstance(key, Either):
        yield from keys_in(value, key.tables[value[key.choice]], f"{path}:{value[key.choice]}")
    elif isinstance(key, Tables | Many | Numbered | Named):
        for each in value.values() if isinstance(value, dict) else value:
            yield from keys_in(each, key.table if isinstance(key, Tables) else key.item, path)
    else:
        yield path


def alike(path: str) -> str:
    """Parts that share one schema need to stand in the sheets once."""
    path = path.replace("exhaust_valve", "intake_valve").replace("after:", "route:")
    return re.sub("(before|after)_carburettor", "branch", path)


def test_the_two_sheets_hold_every_key():
    """A key that is added to the schema must be added to the sheets, or it goes untested."""
    known = {alike(path) for path in known_keys(SHEET)}
    assert known == {alike(path) for data in SHEETS.values() for path in keys_in(data, SHEET)}
    assert len(known) > 75


@pytest.mark.parametrize("sheet", SHEETS)
def test_the_sheets_read(sheet: str):
    setup = setup_from_text(toml_of(SHEETS[sheet]), "bench.toml")
    assert setup.engine.bore == pytest.approx(0.096)


@pytest.mark.parametrize(("sheet", "path", "key"), cases())
def test_a_wrong_unit_is_refused(sheet: str, path: Path, key: Key):
    wrong: Any = "5 kg"
    if isinstance(key, Timing):
        wrong = "22 mm BTDC"
    elif isinstance(key, Text) and path[-1] != "into":
        wrong = 5  # a text may read '5 kg'; a number is no text
    assert_plain(refusal(sheet, path, wrong), path)


@pytest.mark.parametrize(("sheet", "path", "key"), cases(without=(Text, Word, Flag)))
def test_a_negative_value_is_refused(sheet: str, path: Path, key: Key):
    value = at(SHEETS[sheet], path)
    if isinstance(key, Quantity) and key.kind == "temperature":
        value = "18 K"  # minus degrees are fine
    if pattern(path) in NEGATIVE_ALLOWED:
        read_with(sheet, path, f"-3 deg {str(value).split()[-1]}" if isinstance(key, Timing) else -3)
        return
    negative = "-" + value.replace("0 mm", "2 mm") if isinstance(value, str) else -max(value, 1)
    assert_plain(refusal(sheet, path, negative), path)


@pytest.mark.parametrize(("sheet", "path", "key"), cases())
def test_zero_is_refused_or_meant(sheet: str, path: Path, key: Key):
    if isinstance(key, Timing):
        read = key.read("0 deg " + str(at(SHEETS[sheet], path)).split()[-1], Place("x", path=("x",)))
        assert read == key.centre_deg
        return
    if pattern(path) in ZERO_ALLOWED:
        assert key.read(0, Place("x", path=("x",))) == 0.0
        return
    error = refusal(sheet, path, 0)
    assert_plain(error, path)


@pytest.mark.parametrize(("sheet", "path", "key"), cases())
def test_an_absurd_value_is_refused_with_the_range(sheet: str, path: Path, key: Key):
    absurd: Any = {Whole: 10**6, Word: "absurd", Text: "x" * 5000, Flag: "perhaps"}.get(type(key))
    if isinstance(key, Timing):
        absurd = "500 deg " + str(at(SHEETS[sheet], path)).split()[-1]
    elif isinstance(key, Jet):
        absurd = "9600 mm"
    elif isinstance(key, Quantity):
        absurd = show(1000.0 * key.high, key.kind)
        absurd = float(absurd) if key.kind == "ratio" else absurd
    error = refusal(sheet, path, absurd)
    assert_plain(error, path)
    assert "allowed" in error.what or "allowed" in (error.hint or "")


@pytest.mark.parametrize(("sheet", "path"), name_cases())
def test_a_missing_key_is_refused_or_assumed(sheet: str, path: Path):
    data = copy.deepcopy(SHEETS[sheet])
    table = at(data, path[:-1])
    piece = table.get("piece") if isinstance(table, dict) else None
    del table[path[-1]]
    text = toml_of(data)
    needed = pattern(path) in REQUIRED and (piece, path[-1]) not in FILLED_IN_SOME_PIECES
    if needed or (piece == "end" and path[-1] == "piece"):
        with pytest.raises(InputError) as refused:
            setup_from_text(text, "bench.toml")
        assert refused.value.hint
        return
    setup = setup_from_text(text, "bench.toml")
    if pattern(path) in SILENT:
        return
    keys = [each.key for each in setup.assumptions]
    assert any(_about(key, path) for key in keys), keys


def _about(key: str, path: Path) -> bool:
    """Whether an assumption is about a path: itself, something in it, or the jet whose calibration it is."""
    whole = dotted(path)
    return key == whole or key.startswith(whole + ".") or (path[-1] in _WITHIN and whole.startswith(key))


_WITHIN = {
    "head", "discharge_coefficient",  # the jet
    "latent_heat", "hydrogen_per_carbon", "oxygen_per_carbon", "octane",  # the fuel
}  # fmt: skip


@pytest.mark.parametrize(("sheet", "path"), name_cases())
def test_a_misspelt_key_is_refused_with_the_nearest(sheet: str, path: Path):
    data = copy.deepcopy(SHEETS[sheet])
    table = at(data, path[:-1])
    name = str(path[-1])
    wrong = name[:-1] + ("q" if name[-1] != "q" else "z") if len(name) > 2 else name + "q"
    table[wrong] = table.pop(path[-1])
    with pytest.raises(InputError) as refused:
        setup_from_text(toml_of(data), "bench.toml")
    error = refused.value
    assert error.where is not None
    assert error.hint is not None
    assert "\n" not in error.what
    given_names = len(path) > 1 and path[-2] in ("route", "branch", "after", "lambda_sensor", "film_split")
    if not given_names and name != "piece":
        assert f"unknown key '{wrong}'" in error.what
        assert name in error.hint
    else:
        assert name.rstrip("1") in error.hint or "cylinder" in error.what
