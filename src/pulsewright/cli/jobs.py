"""`pulsewright jobs`: the record store from the command line."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.json_output import json_option, write_json
from pulsewright.cli.run_state import state_of
from pulsewright.errors import LimitError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pulsewright.records.jobs import Job
    from pulsewright.records.store import Store

a_job = click.argument("job", type=click.IntRange(min=1))


@click.group()
def command() -> None:
    """List, look up, carry and back up the jobs in the record store."""


@contextmanager
def _store(ctx: click.Context) -> Iterator[Store]:
    from pulsewright.records.folders import store_place
    from pulsewright.records.store import Store

    with Store.open(store_place(state_of(ctx).store)) as store:
        yield store


@command.command("list")
@click.argument("words", nargs=-1)
@click.option("--bin", "binned", is_flag=True, help="Those in the bin.")
@json_option
@click.pass_context
def list_(ctx: click.Context, words: tuple[str, ...], binned: bool, json_to: str | None) -> None:
    """List jobs, the last changed first; or those that hold all WORDS, or their starts, the best first."""
    with _store(ctx) as store:
        found = store.jobs(" ".join(words), binned=binned)
    if json_to:
        write_json({"format": "pulsewright jobs 1", "jobs": [_plain(asdict(line)) for line in found]}, json_to)
        return
    for line in found:
        about = f"{line.setups} setups, {line.pulls} pulls"
        click.echo(
            f"{line.id:5d}  {line.changed:%Y-%m-%d}  {_one_line(line.title)}  ({about})  {_one_line(line.complaint)}"
        )
    if not found:
        click.echo("no job holds these words" if words else "no job yet: `pulsewright jobs take-in SESSION` makes one")


@command.command()
@a_job
@json_option
@click.pass_context
def show(ctx: click.Context, job: int, json_to: str | None) -> None:
    """Show a JOB: every state of its setups, its pulls, its newest answers."""
    with _store(ctx) as store:
        _show(store, store.job(job), json_to)


@command.command("take-in")
@click.argument("session", type=click.Path(path_type=Path))
@json_option
@click.pass_context
def take_in(ctx: click.Context, session: Path, json_to: str | None) -> None:
    """Make a job of a SESSION folder. The folder stays as it is."""
    with _store(ctx) as store:
        _show(store, store.take_in(session), json_to)


@command.command("lay-out")
@a_job
@json_option
@click.pass_context
def lay_out(ctx: click.Context, job: int, json_to: str | None) -> None:
    """Write a JOB as a session folder, and print its path for the commands that take a session."""
    with _store(ctx) as store:
        laid = store.laid_out(job)
    if json_to:
        data = {"job": job, "folder": laid.folder, "sheet_hash": laid.hashes.sheet, "data_hash": laid.hashes.data}
        write_json({"format": "pulsewright laid out job 1", **data}, json_to)
    else:
        click.echo(laid.folder)


@command.command()
@a_job
@click.option("--title", required=True, help="Title of the new job.")
@json_option
@click.pass_context
def copy(ctx: click.Context, job: int, title: str, json_to: str | None) -> None:
    """Make a new job with the setups of a JOB as they now are, without its pulls."""
    with _store(ctx) as store:
        _show(store, store.copy_job(job, title), json_to)


@command.command()
@a_job
@click.option("-o", "--output", type=click.Path(path_type=Path), default=Path(), help="File, or folder to write into.")
@json_option
@click.pass_context
def export(ctx: click.Context, job: int, output: Path, json_to: str | None) -> None:
    """Write a JOB with all that belongs to it into one file."""
    with _store(ctx) as store:
        _written(store.export_job(job, output), json_to)


@command.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
@click.pass_context
def import_(ctx: click.Context, file: Path, json_to: str | None) -> None:
    """Make a new job of a FILE that `export` wrote."""
    with _store(ctx) as store:
        _show(store, store.import_job(file), json_to)


@command.command()
@click.option("-o", "--output", type=click.Path(path_type=Path), default=Path(), help="New file, or folder for it.")
@json_option
@click.pass_context
def backup(ctx: click.Context, output: Path, json_to: str | None) -> None:
    """Copy the whole store into one file, while others work with it, and check the copy."""
    with _store(ctx) as store:
        _written(store.backup(output), json_to)


@command.command()
@json_option
@click.pass_context
def check(ctx: click.Context, json_to: str | None) -> None:
    """Read the whole store and say what is wrong with it. Exit code 1 where something is."""
    with _store(ctx) as store:
        found, place = store.check(), store.place
    if json_to:
        write_json({"format": "pulsewright store check 1", "store": place, "problems": found}, json_to)
    for line in [] if json_to else found or [f"all is well with {place}"]:
        click.echo(line)
    if found:
        raise LimitError(f"{len(found)} things are wrong with the store", where=place, hint="put a backup in its place")


@command.command()
@a_job
@click.pass_context
def delete(ctx: click.Context, job: int) -> None:
    """Put a JOB into the bin. Nothing of it is lost."""
    with _store(ctx) as store:
        store.delete_job(job)


@command.command()
@a_job
@click.pass_context
def restore(ctx: click.Context, job: int) -> None:
    """Take a JOB out of the bin."""
    with _store(ctx) as store:
        store.restore_job(job)


@command.command("empty-bin")
@click.option("--days", type=click.IntRange(min=0), default=30, help="Only what has lain there longer (30).")
@click.pass_context
def empty_bin(ctx: click.Context, days: int) -> None:
    """Delete for good what has lain in the bin for longer than a month."""
    from datetime import timedelta

    with _store(ctx) as store:
        click.echo(f"{store.empty_bin(timedelta(days=days))} jobs deleted for good")


def _show(store: Store, job: Job, json_to: str | None) -> None:
    """A job with what belongs to it, for people or for programs."""
    from pulsewright.bench.changes import toml_value
    from pulsewright.records.answers import KINDS

    history, pulls = store.setup_history(job.id), store.pull_files(job.id)
    newest = {kind: answer for kind in KINDS if (answer := store.newest(job.id, kind))}
    if json_to:
        rows = [{**asdict(answer), "current": answer.current} for answer in newest.values()]
        data = {"job": asdict(job), "setups": [asdict(row) for row in history], "pulls": [asdict(p) for p in pulls]}
        write_json({"format": "pulsewright job 1", **_plain({**data, "answers": rows})}, json_to)
        return
    click.echo(f"job {job.id}: {_one_line(job.title)}" + (" (in the bin)" if job.binned else ""))
    for text in filter(None, (job.machine, job.complaint)):
        click.echo(f"  {_one_line(text)}")
    for row in history:
        source = f"from {row.based_on}" if row.based_on else row.sheet_name or "sheet"
        changes = ", ".join(f"{path} = {toml_value(value)}" for path, value in row.changes)
        click.echo(f"  setup {row.name} ({row.version}), {source}: {_one_line(changes)} {_one_line(row.note)}".rstrip())
    for pull in pulls:
        click.echo(f"  pull {pull.number}: {pull.file_name}, setup {pull.setup}, {pull.sha256[:12]}")
    for kind, answer in newest.items():
        stale = "current" if answer.current else f"made from another {' and '.join(answer.stale)}"
        click.echo(f"  {kind} of {answer.made:%Y-%m-%d %H:%M}: {stale}")


def _written(path: Path, json_to: str | None) -> None:
    if json_to:
        write_json({"format": "pulsewright written file 1", "file": path, "bytes": path.stat().st_size}, json_to)
    else:
        click.echo(path)


def _one_line(text: str) -> str:
    """Text of a person without line ends and signs that steer a terminal."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _plain(value: Any) -> Any:
    """Times as ISO 8601 text."""
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return value.isoformat() if hasattr(value, "isoformat") else value
