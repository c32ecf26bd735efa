"""Dotted paths into a sheet, counting from 1, checked against what the sheet may hold."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pulsewright.bench.jets import Jet
from pulsewright.bench.keys import (
    Curve,
    Either,
    Key,
    Many,
    Named,
    Numbered,
    Quantity,
    Row,
    Table,
    Tables,
    Text,
    Word,
)
from pulsewright.bench.timing import Timing


@dataclass(frozen=True, slots=True)
class Step:
    """One step down: the name of a key, or the number of an element (from 1), and what stands there."""

    name: str | int
    key: Key

    @property
    def takes_text(self) -> bool:
        """Whether what stands there is written as text."""
        return isinstance(self.key, Quantity | Text | Word | Timing | Jet)


def steps_of(path: str, data: Any, key: Key) -> list[Step] | None:
    """The steps of a dotted path; None where the sheet knows no such path.

    Parameters
    ----------
    path : as `--set` takes it; a name with dots or spaces in it may stand in quotes or plain.
    data : plain values of the sheet, to know how many elements there are and what a piece is.
    key : what the whole sheet may hold.
    """
    return _descend(_tokens(path), data, key)


def known_paths(data: Any, key: Key) -> list[str]:
    """Every path that the sheet knows: those in it, and those that could be added to its tables."""
    return list(_walk(data, key, ()))


def near_paths(path: str, data: Any, key: Key) -> list[str]:
    """Known paths to look for a wrong one in: those below the part of it that is right."""
    tokens = _tokens(path)
    paths = known_paths(data, key)
    for length in range(len(tokens) - 1, 0, -1):
        start = ".".join(tokens[:length]) + "."
        inside = [each for each in paths if each.startswith(start)]
        if inside:
            direct = [each for each in inside if "." not in each[len(start) :]]
            return direct if length == len(tokens) - 1 and direct else inside
    return paths


def _tokens(path: str) -> list[str]:
    """Split at dots outside quotes; quotes fall away."""
    tokens, quote, word = [], "", ""
    for letter in path:
        if letter in "\"'" and quote in ("", letter):
            quote = "" if quote else letter
        elif letter == "." and not quote:
            tokens.append(word.strip())
            word = ""
        else:
            word += letter
    return [*tokens, word.strip()]


def _descend(tokens: Sequence[str], data: Any, key: Key) -> list[Step] | None:
    if not tokens:
        return []
    for length in range(len(tokens), 0, -1):  # a name may hold dots: the longest one first
        name = ".".join(tokens[:length])
        child = _child(name, data, key, new=length == 1)
        if child is not None:
            step, below = child
            rest = _descend(tokens[length:], below, step.key)
            if rest is not None:
                return [step, *rest]
    return None


def _child(name: str, data: Any, key: Key, *, new: bool) -> tuple[Step, Any] | None:
    """The step to one child, and the data there (None where the sheet has nothing yet).

    `new` allows a name that the user gives and the sheet does not have yet.
    """
    children = _keys_of(data, key)
    if children is not None:
        if name not in children:
            return None
        return Step(name, children[name]), data.get(name) if isinstance(data, Mapping) else None
    if isinstance(key, Numbered | Named):
        if isinstance(key, Numbered) and name not in {str(number) for number in range(1, key.most + 1)}:
            return None
        present = data if isinstance(data, Mapping) else {}
        return (Step(name, key.item), present.get(name)) if name in present or (new and name) else None
    if isinstance(data, list) and name.isdecimal() and 1 <= int(name) <= len(data):
        item = _item_of(key, int(name))
        return (Step(int(name), item), data[int(name) - 1]) if item is not None else None
    return None


def _keys_of(data: Any, key: Key) -> Mapping[str, Key] | None:
    """The keys of anything that is a table with known keys."""
    if isinstance(key, Table):
        return key.keys
    if isinstance(key, Jet):
        return key.keys if isinstance(data, Mapping) else None
    if isinstance(key, Either):
        word = data.get(key.choice) if isinstance(data, Mapping) else None
        return key.tables[word].keys if isinstance(word, str) and word in key.tables else {}
    return None


def _item_of(key: Key, number: int) -> Key | None:
    """What an element of a list is."""
    if isinstance(key, Tables):
        return key.table
    if isinstance(key, Many):
        return key.item
    if isinstance(key, Curve):
        return key.row
    if isinstance(key, Row) and number <= len(key.items):
        return key.items[number - 1]
    return None


def _walk(data: Any, key: Key, path: tuple[str, ...]) -> Iterator[str]:
    if path:
        yield ".".join(path)
    if isinstance(data, list):
        for number, each in enumerate(data, 1):
            item = _item_of(key, number)
            if item is not None:
                yield from _walk(each, item, (*path, str(number)))
        return
    present = data if isinstance(data, Mapping) else {}
    children = _keys_of(data, key)
    if children is None and isinstance(key, Numbered | Named):
        children = dict.fromkeys(present, key.item)
    for name, child in (children or {}).items():
        yield from _walk(present.get(name), child, (*path, name))
