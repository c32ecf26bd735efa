"""The `--json` option of every command that answers programs, and the writing of its one object.

`--json` alone and `--json -` print to standard output, `--json FILE` writes a file. Numbers that are not
finite become null, since JSON has no word for them.
"""

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from pulsewright.cli.run_state import state_of

STANDARD_OUTPUT = "-"


def json_option(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add `--json [FILE]` to a command; the function gets it as `json_to`: None, "-" or a path."""
    return click.option(
        "--json",
        "json_to",
        metavar="[FILE]",
        is_flag=False,
        flag_value=STANDARD_OUTPUT,
        default=None,
        is_eager=True,  # known before another option fails, so that the error can be told in JSON too
        callback=_remember,
        help="Print one JSON object, or write it to FILE.",
    )(function)


def write_json(data: dict[str, Any], json_to: str) -> None:
    """Write one object, which must carry its versioned "format", to standard output ("-") or to a file.

    Arrays of NumPy become lists and its numbers plain numbers.
    """
    if "format" not in data:
        raise ValueError("every JSON object names its format")
    text = json.dumps(plain(data), ensure_ascii=False, allow_nan=False)
    if json_to == STANDARD_OUTPUT:
        click.echo(text)
    else:
        Path(json_to).write_text(text + "\n", encoding="utf-8")


def plain(value: Any) -> Any:
    """The value in types that JSON has: NumPy's to Python's, tuples to lists, not-a-number to None."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return str(value) if isinstance(value, Path) else value


def _remember(ctx: click.Context, _parameter: click.Parameter, value: str | None) -> str | None:
    state_of(ctx).json_to = value
    return value
