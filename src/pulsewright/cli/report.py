"""`pulsewright report SESSION -o report.html`: one page for the customer."""

from pathlib import Path

import click

from pulsewright.cli.explain import answer_for, no_fit_option, say
from pulsewright.errors import UsageError


@click.command(name="report")
@click.argument("session", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    default=Path("report.html"),
    show_default=True,
    metavar="FILE",
    help="The page to write.",
)
@no_fit_option
@click.pass_context
def command(ctx: click.Context, session: Path, output: Path, no_fit: bool) -> None:
    """Write one self-contained page about a SESSION folder for the customer; it prints and needs no network."""
    if output.suffix.lower() not in (".html", ".htm"):
        raise UsageError(f"'{output.name}' is no page", hint="end the name in .html")
    if not output.parent.is_dir():
        raise UsageError(f"there is no folder '{output.parent}'", hint="make it first, or choose another")
    from pulsewright.report.echo_of_answer import echo_of
    from pulsewright.report.tell import story_of
    from pulsewright.report.write import write_report

    answer = answer_for(ctx, session, no_fit=no_fit)
    say("drawing the echo")
    write_report(story_of(answer, echo_of(answer)), output)
    click.echo(f"report: {output}")
