"""Any valid sheet reads, comes back the same from a file, and keeps its comments under a change."""

import dataclasses
import math
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.strategies import valid_sheets

from pulsewright.bench.changes import apply_changes, parse_set, write_setup
from pulsewright.bench.plain import plain_setup
from pulsewright.bench.schema import SHEET
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import read_setup, setup_from_text
from pulsewright.bench.sheet_path import steps_of
from pulsewright.bench.toml_lines import line_numbers
from pulsewright.errors import InputError

UNCHECKED = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.function_scoped_fixture]
few = settings(max_examples=15, deadline=None, suppress_health_check=UNCHECKED)
JUNK = st.one_of(
    st.none().map(lambda _: {}),
    st.booleans(),
    st.integers(-(10**9), 10**9),
    st.floats(),
    st.text(max_size=12),
    st.sampled_from(["-1 mm", "1e400 mm", "nan mm", "44", "44 kg", "1/0 in", "petrol", [], [[]], [1, "x"], {"a": 1}]),
)


def read_or_refusal(text: str) -> Setup | InputError:
    try:
        return setup_from_text(text, "junk.toml")
    except InputError as error:
        return error


def numbers(value: Any) -> list[float]:
    if isinstance(value, dict):
        return [number for each in value.values() for number in numbers(each)]
    if isinstance(value, list):
        return [number for each in value for number in numbers(each)]
    return [float(value)] if isinstance(value, int | float) and not isinstance(value, bool) else []


def paths(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path] if path else []
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, each in items:
        found += paths(each, (*path, key))
    return found


@few
@given(text=valid_sheets())
def test_a_valid_sheet_reads_into_finite_numbers(text: str):
    setup = setup_from_text(text, "drawn.toml")
    found = numbers(plain_setup(setup))
    assert len(found) > 40
    assert all(math.isfinite(number) for number in found)
    assert set(setup.exhaust.route) == set(range(1, setup.engine.cylinders + 1)) == set(setup.intake.branch)
    assert sorted(each for part in setup.carburettors for each in part.feeds) == sorted(setup.exhaust.route)
    for each in setup.assumptions:
        assert each.key
        assert each.value
        assert each.why


@few
@given(text=valid_sheets())
def test_a_sheet_comes_back_from_a_file_letter_by_letter(text: str, tmp_path: Path):
    path = tmp_path / "sheet.toml"
    write_setup(apply_changes(text, []), path)
    assert path.read_text(encoding="utf-8") == text
    again = read_setup(path)
    assert dataclasses.replace(again, name="") == dataclasses.replace(setup_from_text(text, "x"), name="")


@few
@given(text=valid_sheets(), data=st.data())
def test_a_change_moves_one_thing_and_keeps_every_comment(text: str, data: st.DataObject):
    before = setup_from_text(text, "x")
    changes = {
        "engine.compression_ratio": ("8,75", lambda setup: setup.engine.compression_ratio, 8.75),
        "carburettor.1.main_jet": ("1.234 mm", lambda setup: setup.carburettors[0].main_jet, 1.234e-3),
        "engine.exhaust_valve.closes": (
            "33 deg ATDC",
            lambda setup: setup.engine.exhaust_valve.closes_deg,
            393.0,
        ),
        "exhaust.route.1.1.length": ("777 mm", lambda setup: setup.exhaust.route[1][0].length, 0.777),
    }
    path = data.draw(st.sampled_from(sorted(changes)))
    value, look, expected = changes[path]
    document = apply_changes(text, [(path, value)])
    changed = tomlkit.dumps(document)
    after = setup_from_text(changed, "x")
    assert math.isclose(look(after), expected, rel_tol=1e-12)
    for line in text.splitlines():
        comment = line.partition("   # ")[2]
        assert comment in changed, f"lost: {comment}"
    back = setup_from_text(tomlkit.dumps(apply_changes(document, [(path, _written(text, path))])), "x")
    assert back == before, "the change undone is not the sheet that was"


def _written(text: str, path: str) -> Any:
    """What a sheet says at a dotted path that counts from 1."""
    value: Any = tomlkit.parse(text).unwrap()
    for name in path.split("."):
        value = value[int(name) - 1] if isinstance(value, list) else value[name]
    return value


@few
@given(text=valid_sheets(), data=st.data())
def test_junk_anywhere_is_an_input_error_or_reads(text: str, data: st.DataObject):
    document = tomlkit.parse(text).unwrap()
    for _ in range(data.draw(st.integers(1, 2))):
        where = data.draw(st.sampled_from(paths(document)))
        at = document
        for key in where[:-1]:
            at = at[key]
        at[where[-1]] = data.draw(JUNK)
    setup = read_or_refusal(tomlkit.dumps(document))
    if isinstance(setup, InputError):
        assert "\n" not in setup.what
        assert (setup.where or "").startswith("junk.toml")
        assert setup.hint
    else:
        assert all(math.isfinite(number) for number in numbers(plain_setup(setup)))


@few
@given(path=st.text(max_size=40), value=st.text(max_size=20))
def test_any_path_is_known_or_refused_in_words(path: str, value: str):
    text = 'name = "x"\n[engine]\nbore = "80 mm"\n[exhaust]\nroute.1 = [{ piece = "end" }]\n'
    if steps_of(path.strip(), tomlkit.parse(text).unwrap(), SHEET):
        return
    with pytest.raises(InputError) as refused:
        apply_changes(text, [(path, value)])
    assert refused.value.hint


@few
@given(path=st.from_regex(r"[a-z_]+(\.[a-z0-9_]+){0,3}", fullmatch=True), value=st.text(min_size=1, max_size=20))
def test_set_takes_any_text_as_value(path: str, value: str):
    if not value.strip():
        return
    name, read = parse_set(f"{path}={value}")
    assert name == path
    assert read == value.strip() or not isinstance(read, str) or value.strip()[0] in "\"'"


@few
@given(text=valid_sheets())
def test_every_key_has_the_line_it_stands_on(text: str):
    lines, numbered = text.splitlines(), line_numbers(text)
    for path in paths(tomlkit.parse(text).unwrap()):
        dotted = ".".join(str(key + 1) if isinstance(key, int) else key for key in path)
        assert dotted in numbered
        if isinstance(path[-1], str):
            assert path[-1] in lines[numbered[dotted] - 1]
