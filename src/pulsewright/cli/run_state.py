"""What the root command and its sub-commands share during one run."""

from dataclasses import dataclass
from pathlib import Path

import click


@dataclass(slots=True)
class RunState:
    """State of one command line, carried as click's `obj`."""

    store: Path | str | None = None  # --store, or PULSEWRIGHT_STORE: a folder, or the URL of a database
    json_to: str | None = None  # target of --json: "-" is standard output; None where it was not given


def state_of(ctx: click.Context) -> RunState:
    """The state of this run; a fresh one where a command is called without the root, as tests do."""
    return ctx.find_root().ensure_object(RunState)
