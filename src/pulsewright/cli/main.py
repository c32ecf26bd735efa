"""The `pulsewright` command: finds the sub-command, runs it, turns errors into plain words and an exit code.

Sub-commands are imported only when they are run, so that help and completion come at once.
Exit codes: 0 done, 1 a limit or expectation not met, 2 usage, 3 optional tool missing, 4 bad input,
130 cancelled.
"""

import importlib
import json
import os
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from pulsewright import __version__
from pulsewright.cli.run_state import RunState
from pulsewright.errors import CancelledError, InputError, PulsewrightError, UsageError, did_you_mean
from pulsewright.records.folders import is_address

# For the linear algebra behind NumPy, said before that is loaded, here and in the processes that this one starts. Our
# matrices are small: more threads wait for each other longer than they compute, on a busy machine twice as long.
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "1")

# Name -> one line of help, in the order of the job. `NAME` is `command` in pulsewright/cli/NAME.py.
COMMANDS: dict[str, str] = {
    "serve": "Do the whole job in a browser next to the machine.",
    "demo": "Do the whole job on an invented day on the dyno.",
    "new": "Make a setup sheet by answering a few questions.",
    "check": "Check a setup sheet or a session: what was read, what had to be assumed.",
    "estimate": "Estimate what is not written down: jet bore, cam timing, port, valve flow.",
    "predict": "Predict torque, mixture and sensor readings over engine speed.",
    "sweep": "Predict many designs of one sheet, all combinations or spread over ranges.",
    "snap": "Lambda after the throttle is snapped open, with and without accelerator pump.",
    "rejet": "Jets for another air, altitude or fuel, published relation beside the model.",
    "echo": "Draw the pressure wave in the exhaust pipe, and when its echo comes back.",
    "listen": "Say how loud the machine is, what of it one hears, and write a sound file.",
    "pulls": "Read pull files, list a session's pulls, find its holes.",
    "fit": "Fit the model to the pulls of a session, and say what they tell.",
    "explain": "Say where the hole of a session comes from, with shares and evidence.",
    "advise": "Say what to change, what is refused and why, and which pull to make next.",
    "judge": "Hold new pulls against what was expected of them.",
    "report": "Write one page for the customer.",
    "jobs": "List, look up, carry and back up the jobs in the record store.",
    "verify": "Compare the physics with values from outside.",
    "completion": "Print the lines that let a shell complete commands.",
    "version": "Show the versions of pulsewright and of what it computes with.",
}


class LazyGroup(click.Group):
    """A group that knows its commands by name and imports one only when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        return importlib.import_module(f"pulsewright.cli.{cmd_name}").command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            raise UsageError(f"no command is called '{args[0]}'", hint=did_you_mean(args[0], COMMANDS))
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


class StorePlace(click.Path):
    """A folder, or the URL of a database, which is left as it is."""

    def __init__(self) -> None:
        super().__init__(file_okay=False, path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        return value if is_address(value) else super().convert(value, param, ctx)


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="pulsewright")
@click.option(
    "--store",
    type=StorePlace(),
    envvar="PULSEWRIGHT_STORE",
    help="Folder for what is kept between runs, or URL of a PostgreSQL database; PULSEWRIGHT_STORE says the same.",
)
@click.pass_context
def root(ctx: click.Context, store: Path | str | None) -> None:
    """Find out where a hole in the torque curve of a carburetted engine comes from.

    Fuel, echoes in the pipe, spark and engine, or the measurement itself; and what to try next.
    """
    ctx.ensure_object(RunState).store = store


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave the process with its exit code."""
    os.environ.setdefault(*ONE_THREAD)
    code = run(sys.argv[1:] if arguments is None else arguments)
    if code == CancelledError.exit_code and _others_at_work():
        from pulsewright.physics.shared_cache import end_process

        sys.stdout.flush()
        sys.stderr.flush()
        end_process(code)
    sys.exit(code)


def _others_at_work() -> bool:
    """Whether Python would wait for a thread: one that compiles a kernel takes tens of seconds."""
    return any(t is not threading.main_thread() and not t.daemon for t in threading.enumerate())


def run(arguments: Sequence[str]) -> int:
    """Run one command line and return its exit code; an error that has an explanation is printed."""
    state = RunState()
    try:
        result = root.main(list(arguments), prog_name="pulsewright", standalone_mode=False, obj=state)
    except PulsewrightError as error:
        return _tell(error, state)
    except click.UsageError as error:
        return _tell(_typed_wrongly(error), state)
    except click.ClickException as error:
        return _tell(InputError(error.format_message()), state)
    except (click.Abort, KeyboardInterrupt):
        return _tell(CancelledError(), state)
    except OSError as error:
        if error.filename is None:
            raise
        return _tell(InputError(f"cannot use {error.filename}: {error.strerror}"), state)
    return result if isinstance(result, int) and not isinstance(result, bool) else 0


def _typed_wrongly(error: click.UsageError) -> UsageError:
    path = error.ctx.command_path if error.ctx else "pulsewright"
    return UsageError(" ".join(error.format_message().split()).rstrip("."), hint=f"{path} --help")


def _tell(error: PulsewrightError, state: RunState) -> int:
    """Say the error to the person, and to the program that reads our JSON where there is one."""
    click.echo(f"pulsewright: {error}", err=True)
    if state.json_to == "-":
        click.echo(json.dumps(error.as_json()))
    return error.exit_code
