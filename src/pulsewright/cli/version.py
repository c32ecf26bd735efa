"""`pulsewright version`: what to write beside a result, so that it can be made again."""

import importlib.metadata
import platform

import click

from pulsewright import __version__
from pulsewright.cli.json_output import json_option, write_json

# The libraries whose version can move a number.
COMPUTES_WITH = ("numpy", "numba", "llvmlite", "scipy", "pandas", "pint")


@click.command()
@json_option
def command(json_to: str | None) -> None:
    """Show the versions of pulsewright and of what it computes with."""
    libraries = {name: importlib.metadata.version(name) for name in COMPUTES_WITH}
    if json_to:
        write_json(
            {
                "format": "pulsewright version 1",
                "pulsewright": __version__,
                "python": platform.python_version(),
                "libraries": libraries,
            },
            json_to,
        )
        return
    click.echo(f"pulsewright {__version__}, Python {platform.python_version()}")
    click.echo(", ".join(f"{name} {version}" for name, version in libraries.items()))
