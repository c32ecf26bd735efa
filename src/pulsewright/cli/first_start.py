"""The message of the first start: compiling takes a while, and only once."""

import click

MESSAGE = "compiling the solver for this machine, once (about half a minute)"


def tell_first_start() -> bool:
    """Say on standard error that compiling lies ahead, where nothing compiled is kept yet."""
    from pulsewright.simulate.compile_ahead import nothing_compiled

    first = nothing_compiled()
    if first:
        click.echo(MESSAGE, err=True)
    return first
