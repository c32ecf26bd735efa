"""`pulsewright pulls correct`: curves in the air of one standard, never of two."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.air_text import parse_air
from pulsewright.cli.json_output import json_option, write_json
from pulsewright.cli.pull_options import reading_from, reading_options
from pulsewright.errors import UsageError

if TYPE_CHECKING:
    from pulsewright.pulls.corrected import CorrectedPull

FORMS = ("j1349", "iso1585", "din70020", "std", "raw")


@click.command()
@click.argument("source", metavar="FILE|SESSION", type=click.Path(path_type=Path))
@click.option("--standard", type=click.Choice(FORMS), required=True, help="The form of the correction.")
@click.option(
    "--air",
    metavar="T,P[,RH]",
    help="Air of FILE where it does not log it, as in '24 degC, 99.4 kPa, 45 %'.",
)
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Folder for one CSV a pull.")
@reading_options
@json_option
def correct(
    source: Path, standard: str, air: str | None, output: Path | None, json_to: str | None, **said: Any
) -> None:
    """Correct torque and power of FILE, or of all pulls of SESSION, for the weather.

    Without -o the curves are printed as one CSV. The raw files are never touched.
    """
    from pulsewright.pulls.corrected import MIXTURE_WARNING, STANDARDS, csv_text

    form = STANDARDS[standard]
    found = _session(source, form, air) if _is_session(source) else _file(source, form, air, said)
    written = _write(found, output, form) if output else []
    if json_to:
        write_json(_as_json(found, form, [path.name for path in written]), json_to)
        return
    for each in found:
        w = each.weather
        click.echo(f"pull {each.number}, {each.pull.file.name}: {form} factor {w.factor:.4f}", err=True)
        for note in w.notes:
            click.echo(f"  note: {note}", err=True)
    click.echo(MIXTURE_WARNING, err=True)
    if output:
        click.echo(f"{len(written)} files in {output}", err=True)
    else:
        click.echo(csv_text(found), nl=False)


def _is_session(source: Path) -> bool:
    return source.is_dir() or source.name == "session.toml"


def _session(source: Path, form: str, air: str | None) -> "list[CorrectedPull]":
    from pulsewright.bench.session import read_session
    from pulsewright.pulls.corrected import corrected_pulls
    from pulsewright.pulls.session_pulls import read_session_pulls

    if air:
        raise UsageError(
            "--air is for one file; a session says the air of every pull", where="--air",
            hint="write air = { ... } under [[pull]] in session.toml",
        )  # fmt: skip
    session = read_session(source)
    pulls = read_session_pulls(session, standard="raw").pulls
    return corrected_pulls(pulls, [entry.air for entry in session.pulls], form)


def _file(source: Path, form: str, air: str | None, said: dict[str, Any]) -> "list[CorrectedPull]":
    from pulsewright.pulls.corrected import corrected_pulls
    from pulsewright.pulls.read_pull import read_pulls

    pulls = read_pulls(source, reading=reading_from(**said))
    return corrected_pulls(pulls, [parse_air(air, "--air") if air else None] * len(pulls), form)


def _write(found: "list[CorrectedPull]", folder: Path, form: str) -> list[Path]:
    """One file a pull; a folder that holds another form, or files of other origin, is left alone."""
    from pulsewright.pulls.corrected import csv_text

    _refuse_other_form(folder, form)
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for each in found:
        path = folder / f"{each.number:02d}-{each.pull.file.stem}-{form.lower()}.csv"
        if path.exists() and not _form_of(path):
            raise UsageError(
                f"'{path.name}' is there and is no corrected curve", where=str(folder),
                hint="choose another folder",
            )  # fmt: skip
        path.write_text(csv_text([each]), encoding="utf-8")
        written.append(path)
    return written


def _refuse_other_form(folder: Path, form: str) -> None:
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"'{folder}' is a file", where="-o", hint="name a folder")
    others = {f for path in folder.glob("*.csv") if (f := _form_of(path)) and f != form}
    if others:
        raise UsageError(
            f"the folder holds curves by {', '.join(sorted(others))}: never two forms in one picture",
            where=str(folder),
            hint="choose a folder of its own for each form",
        )


def _form_of(path: Path) -> str | None:
    """The form that one of our corrected files is in; None for any other file."""
    from pulsewright.pulls.corrected import MARK

    with path.open(encoding="utf-8", errors="replace") as file:
        first, second = file.readline().strip(), file.readline().strip()
    return second.removeprefix("# form ") if first == MARK else None


def _as_json(found: "list[CorrectedPull]", form: str, written: list[str]) -> dict[str, Any]:
    from pulsewright.pulls.corrected import MIXTURE_WARNING, SAYS

    return {
        "format": "pulsewright corrected pulls 1",
        "standard": form,
        "says": SAYS[form],
        "warning": MIXTURE_WARNING,
        "written": written,
        "pulls": [
            {
                "number": each.number, "file": each.pull.file.name, "setup": each.pull.setup,
                "sha256": each.sha256, "torque_at": each.pull.torque_at, "factor": each.weather.factor,
                "air": {
                    "temperature_k": each.weather.temperature, "pressure_pa": each.weather.pressure,
                    "humidity": each.weather.humidity,
                },
                "limits": list(each.weather.notes), "time_s": each.time, "rpm": each.engine_speed,
                "torque_nm": each.torque, "power_kw": each.power / 1e3, "lambda": each.mixture,
                "usable": each.usable,
                **({} if each.power_sd is None else {"power_sd_kw": each.power_sd / 1e3}),
            }
            for each in found
        ],
    }  # fmt: skip
