"""`pulsewright pulls limits`: the limits from which artefacts are named, with their reasons, to keep or to change."""

from pathlib import Path

import click

from pulsewright.cli.json_output import json_option, write_json


@click.command()
@click.option(
    "--limits", "limits_file", type=click.Path(path_type=Path), help="Start from these instead of the usual ones."
)
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="Write the file, to edit and to give to --limits."
)
@json_option
def limits(limits_file: Path | None, output: Path | None, json_to: str | None) -> None:
    """Print or write the limits of all findings, each with its bounds and the reason for it."""
    from pulsewright.cli.pulls_check import limits_in_words
    from pulsewright.pulls.limits import USUAL
    from pulsewright.pulls.limits_file import limits_text, read_limits, write_limits

    found = read_limits(limits_file) if limits_file else USUAL
    if output:
        write_limits(output, found)
    if json_to:
        data = {"limits": found.as_json(), "limits_changed": sorted(found.changed())}
        write_json({"format": "pulsewright pull limits 1", **data}, json_to)
    elif output:
        click.echo(f"{output} written; edit it, then `pulsewright pulls check SESSION --limits {output}`")
    else:
        click.echo(limits_text(found), nl=False)
    if limits_file:
        click.echo(limits_in_words(found, limits_file), err=True)
