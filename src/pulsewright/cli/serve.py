"""`pulsewright serve`: the whole job in a browser."""

from __future__ import annotations

import click

from pulsewright.cli.run_state import state_of

USUAL_PORT = 8470


@click.command(name="serve")
@click.option("--port", type=click.IntRange(0, 65535), default=USUAL_PORT, show_default=True, help="0: any free one.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@click.option(
    "--store", "own", metavar="PLACE", help="As before the command: a folder, or the URL of a PostgreSQL database."
)
@click.option(
    "--lan", is_flag=True, help="Let other machines of the network in, each with a code that is printed and used once."
)
@click.pass_context
def command(ctx: click.Context, port: int, no_browser: bool, own: str | None, lan: bool) -> None:
    """Open the bench screen: bring in pulls, find the cause, try a change, plan the next pull, explain it.

    Everything stays on this machine. Ctrl-C ends it; long work goes on when it is started again.
    """
    from pulsewright.records.folders import store_place
    from pulsewright.web.server import serve

    serve(store_place(own or state_of(ctx).store), port, lan=lan, browser=not no_browser, say=click.echo)
