"""A pull made again from its raw file by its recipe.

The recipe holds what the person said; reading again with that must take the very same steps, else the pull is
refused: a table that merely looks alike proves nothing.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pulsewright.errors import InputError
from pulsewright.pulls.decoding import read_bytes
from pulsewright.pulls.pull import Pull
from pulsewright.pulls.read_pull import read_pull
from pulsewright.pulls.reading import from_said
from pulsewright.pulls.recipe import Recipe, Step


def replay(path: Path, recipe: Recipe) -> Pull:
    """The same pull from the same raw file. Raises InputError where the file, or a file that it needs, is another,
    or where the steps come out otherwise."""
    recipe.check(path)
    try:
        reading = from_said(recipe.said)
    except (TypeError, KeyError, ValueError) as error:
        raise _otherwise(path, f"it says what is not known here ({error})") from error
    pull = read_pull(path, reading=reading, kind=recipe.kind)
    for then, now in zip(recipe.steps, pull.recipe.steps, strict=False):
        if then != now:
            raise _otherwise(path, f"'{then.action}' was {then.parameters} and is {now.parameters}")
    if len(recipe.steps) != len(pull.recipe.steps):
        raise _otherwise(path, f"{len(recipe.steps)} steps were taken, now {len(pull.recipe.steps)}")
    return pull


def _otherwise(path: Path, how: str) -> InputError:
    return InputError(
        f"the recipe does not lead to the same pull: {how}", where=str(path),
        hint="it was made by another version or changed by hand: read the file anew",
    )  # fmt: skip


def read_recipe(path: Path) -> Recipe:
    """The recipe in a JSON file: a recipe alone, or what `pulls read --json` wrote of one pull."""
    try:
        data = json.loads(read_bytes(path))
        if len(data.get("pulls", [])) > 1:
            raise InputError(
                "the file holds the recipes of several pulls", where=str(path), hint="write it with --pull NUMBER",
            )  # fmt: skip
        return _recipe(data.get("recipe", data))
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise InputError(
            "the file holds no recipe", where=str(path), hint="write one with: pulsewright pulls read FILE --json PATH"
        ) from error


def _recipe(data: dict[str, Any]) -> Recipe:
    steps = [dict(step) for step in data["steps"]]
    return Recipe(
        sha256=data["sha256"],
        size=data["bytes"],
        kind=data["kind"],
        said=dict(data["said"]),
        steps=tuple(Step(action=step.pop("do"), parameters=step) for step in steps),
    )
