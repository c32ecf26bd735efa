"""Changes to a sheet: a dotted path that counts from 1, and a new value; comments and layout are kept.

::

    document = apply_changes(Path("setup.toml"), [("carburettor.1.main_jet", "1.70 mm")])
    write_setup(document, "leaner.toml")

The paths are those of `--set` and of `change` in a session: `exhaust.route.1.2.angle`,
`exhaust.after.collector 1.1.length`, or `exhaust.route.1` with a whole list as its new value.
"""

import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from pulsewright.bench.held_needle import HELD, held_needles
from pulsewright.bench.keys import Key
from pulsewright.bench.marked import MARK
from pulsewright.bench.place import found
from pulsewright.bench.schema import SHEET
from pulsewright.bench.sheet_path import Step, known_paths, near_paths, steps_of
from pulsewright.bench.toml_file import parse_document, parse_toml, read_text, write_text
from pulsewright.errors import InputError, UsageError, nearest

Change = tuple[str, Any]


def apply_changes(
    source: Path | str | Any, changes: Iterable[Change | Sequence[Any]], *, where: str | None = None
) -> Any:
    """A new tomlkit document with the changes made in order; the source stays as it was.

    Parameters
    ----------
    source : a Path to a sheet, the TOML text of one, or a tomlkit document.
    changes : pairs (dotted path counting from 1, new value). The value is a string with its unit, a number,
        a list or a table; text that is the TOML of one of the last three is read as such where it belongs.
    where : what to call the source in errors.

    Raises
    ------
    InputError : a path that the sheet does not know, with the nearest known ones. Values are checked when the
        changed document is read.
    """
    import tomlkit

    if isinstance(source, Path):
        where, text = where or str(source), read_text(source)
    else:
        where, text = where or "the sheet", source if isinstance(source, str) else tomlkit.dumps(source)
    document = parse_document(text, where)
    pairs = [_pair(change, where) for change in changes]
    for path, value in pairs:
        _change(document, path, value, where)
    for number, diameter in held_needles(text, document.unwrap(), [path for path, _ in pairs]):
        _change(document, f"carburettor.{number}.needle_diameter", diameter, where)
        _mark_as_held(document["carburettor"][number - 1])
    return document


def changed_text(
    source: Path | str | Any, changes: Iterable[Change | Sequence[Any]], *, where: str | None = None
) -> str:
    """The TOML text of a sheet with changes made; see `apply_changes`."""
    import tomlkit

    return tomlkit.dumps(apply_changes(source, changes, where=where))


def write_setup(document: Any, path: str | os.PathLike[str]) -> None:
    """Write a document (or TOML text) to a file, whole or not at all, comments kept."""
    import tomlkit

    write_text(document if isinstance(document, str) else tomlkit.dumps(document), path)


def key_of(text: str, path: str, *, where: str) -> Key:
    """What the sheet may hold at a dotted path.

    text : TOML of the sheet, to know how many elements there are and what a piece is.

    Raises InputError for a path that the sheet does not know, with the nearest known ones.
    """
    return _steps(parse_toml(text, where)[0], path, where)[-1].key


def toml_value(value: Any) -> str:
    """A value as TOML writes it on one line."""
    return _item(value).as_string()


def parse_set(text: str) -> Change:
    """The pair (path, value) of a `--set PATH=VALUE`; VALUE is TOML where it can be, else text.

    `carburettor.1.main_jet=1.70 mm` needs no quotes of its own.
    """
    path, sign, value = text.partition("=")
    if not sign or not path.strip() or not value.strip():
        raise UsageError(
            f"'{text}' is not a change", where="--set", hint="write --set 'carburettor.1.main_jet=1.70 mm'"
        )
    return path.strip(), _toml_or_text(value.strip())


def _mark_as_held(table: Any) -> None:
    """The needle is no better known than before; a table in braces, all on one line, holds no comment."""
    from tomlkit.items import InlineTable

    if not isinstance(table, InlineTable):
        table["needle_diameter"].comment(f"{MARK}: {HELD}")


def _change(document: Any, path: str, value: Any, where: str) -> None:
    steps = _steps(document.unwrap(), path, where)
    _put(document, steps, _read_value(value, steps[-1]))


def _pair(change: Any, where: str) -> Change:
    if isinstance(change, list | tuple) and len(change) == 2 and isinstance(change[0], str) and change[0].strip():
        value = change[1].unwrap() if hasattr(change[1], "unwrap") else change[1]
        return change[0].strip(), value
    raise InputError(
        f"{found(change)} is not a change; allowed: a pair of a path and a value",
        where=where,
        hint='write ["carburettor.1.main_jet", "1.70 mm"]',
    )


def _steps(data: Any, path: str, where: str) -> list[Step]:
    steps = steps_of(path, data, SHEET)
    if steps is not None:
        return steps
    close = nearest(path, near_paths(path, data, SHEET)) or nearest(path, known_paths(data, SHEET))
    hint = "did you mean " + " or ".join(close) + "?" if close else "write a path like carburettor.1.main_jet"
    raise InputError(f"the sheet knows no path '{path}'", where=where, hint=f"{hint} (numbers count from 1)")


def _toml_or_text(value: str) -> Any:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(f"value = {value}\n").unwrap()["value"]
    except (TOMLKitError, ValueError, KeyError):
        return value


def _read_value(value: Any, step: Step) -> Any:
    """Text for a key that takes no text may be TOML: '[0, 360]' or '{ number = 185, ... }'."""
    if not isinstance(value, str) or (step.takes_text and not value.strip().startswith(("{", "["))):
        return value
    return _toml_or_text(value)


def _put(document: Any, steps: list[Step], value: Any) -> None:
    """Go down the document, making tables that are not there yet, and set the last step."""
    import tomlkit

    at = document
    for depth, step in enumerate(steps[:-1]):
        name = step.name - 1 if isinstance(step.name, int) else step.name
        if isinstance(name, str) and name not in at:
            # a heading of its own only at the top, so that a list written in brackets stays one
            at[name] = tomlkit.table() if depth == 0 else tomlkit.inline_table()
        at = at[name]
    last = steps[-1].name
    place = last - 1 if isinstance(last, int) else last
    at[place] = _item(value)
    if isinstance(place, str):
        _take_mark_off(at[place])


def _take_mark_off(item: Any) -> None:
    """A value that somebody set is no longer assumed; tomlkit keeps the comment of the value before it."""
    trivia = getattr(item, "trivia", None)
    if trivia is not None and trivia.comment.lstrip("# ").startswith(MARK):
        trivia.comment = trivia.comment_ws = ""


def _item(value: Any) -> Any:
    """A tomlkit item; lists and tables are written in one line, as sheets write them."""
    import tomlkit

    if isinstance(value, list | tuple):
        array = tomlkit.array()
        for each in value:
            array.append(_item(each))
        return array
    if isinstance(value, dict):
        table = tomlkit.inline_table()
        for key, each in value.items():
            table[str(key)] = _item(each)
        return table
    return tomlkit.item(value)
