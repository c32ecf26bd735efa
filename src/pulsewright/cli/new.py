"""`pulsewright new FILE`: a setup sheet from a few questions."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pulsewright.cli.json_output import STANDARD_OUTPUT, json_option, write_json
from pulsewright.errors import CancelledError, InputError, UsageError

if TYPE_CHECKING:
    from pulsewright.new.questions import Question

FORMAT = "pulsewright new sheet 1"
HOW = "Write each answer with its unit. Enter or 'unknown': you do not know. '?': why it is asked."


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path), required=False)
@click.option("--answer", "answers", multiple=True, metavar="KEY=VALUE", help="Answer a question beforehand.")
@click.option("--yes", is_flag=True, help="Ask nothing: what is not answered is assumed.")
@click.option("--name", metavar="TEXT", help="Name of the setup; the file's name if not said.")
@click.option("--overwrite", is_flag=True, help="Replace FILE if it is there.")
@click.option("--questions", "listed", is_flag=True, help="List the keys of all questions, and write nothing.")
@click.option("--ranking", is_flag=True, help="Then say what every unknown costs in certainty, by the model.")
@json_option
def command(
    file: Path | None, answers: tuple[str, ...], yes: bool, name: str | None, overwrite: bool, listed: bool,
    ranking: bool, json_to: str | None,
) -> None:  # fmt: skip
    """Make a setup sheet by answering a few questions.

    Asks only what matters: first what a sheet cannot do without, then what the model says costs most where it is
    assumed. What you do not know is filled with a usual value and marked on the sheet as assumed. Ctrl-C keeps the
    answers so far in FILE.draft, and the next start offers to go on from them.
    """
    if listed:
        _list_questions()
        return
    if file is None:
        raise UsageError("say which file to write", hint="pulsewright new setup.toml")
    _check_target(file, overwrite)
    said = _beforehand(answers)
    if not yes:
        _take_up_draft(said, file)
        _ask_or_keep(said, file)
    _write(file, said, name or file.stem, ranking, json_to)
    if not yes:
        _drop_draft(file)


def _list_questions() -> None:
    from pulsewright.new.questions import questions

    for question in questions():
        usual = "needed" if question.needed else question.usual.strip() or "may stay open"
        choices = f" ({', '.join(question.choices)})" if question.choices else f" ({question.hint})"
        click.echo(f"{question.name:18} {usual:14} {question.label}{choices}")


def _check_target(file: Path, overwrite: bool) -> None:
    if file.exists() and not overwrite:
        raise InputError(f"{file} is there already", hint="choose another name, or add --overwrite to replace it")
    if not file.absolute().parent.is_dir():
        raise InputError(f"there is no folder '{file.parent}'", hint="make it first, or name another one")


def _beforehand(answers: tuple[str, ...]) -> dict[str, str]:
    from pulsewright.new.questions import checked, question_called

    said = {}
    for text in answers:
        key, sign, value = text.partition("=")
        if not sign:
            raise UsageError(f"'{text}' is no answer", where="--answer", hint="write --answer bore='94 mm'")
        question = question_called(key.strip())
        said[question.name] = checked(question, value)
    return said


def _take_up_draft(said: dict[str, str], file: Path) -> None:
    """Answers of an earlier start, if the person wants to go on from them; what was typed now comes first."""
    from pulsewright.new.draft import draft_of, read_draft

    kept = read_draft(file)
    if not kept:
        return
    question = f"{draft_of(file)} holds {len(kept)} answers of an earlier start. Go on from them?"
    if click.confirm(question, default=True, err=True):
        said.update({name: answer for name, answer in kept.items() if name not in said})


def _ask_or_keep(said: dict[str, str], file: Path) -> None:
    """Ask; a person who stops finds the answers again."""
    from pulsewright.new.draft import keep_draft

    before = len(said)
    try:
        _ask(said)
    except (click.Abort, KeyboardInterrupt):
        if len(said) == before:  # nothing new: an earlier draft stays as it is
            raise
        kept = keep_draft(said, file)
        raise CancelledError(
            f"stopped; {len(said)} answers are kept in {kept}", hint=f"pulsewright new {file} goes on from them"
        ) from None


def _drop_draft(file: Path) -> None:
    from pulsewright.new.draft import drop_draft

    drop_draft(file)


def _ask(said: dict[str, str]) -> None:
    from pulsewright.new.questions import GROUPS, asked_of

    click.echo(HOW, err=True)
    for group, members in GROUPS.items():
        click.echo(f"\n{group}", err=True)
        for question in members:
            if question.name not in said and question in list(asked_of(said)):
                said[question.name] = _one(question)


def _one(question: Question) -> str:
    from pulsewright.new.questions import checked

    choices = f" ({', '.join(question.choices)})" if question.choices else f" ({question.hint})"
    while True:
        text = click.prompt(f"  {question.label}{choices}", default="", show_default=False, err=True)
        if text.strip() == "?":
            click.echo(f"    {question.why}", err=True)
            continue
        try:
            answer = checked(question, text)
        except InputError as error:
            click.echo(f"    {error.what}" + (f"; {error.hint}" if error.hint else ""), err=True)
            continue
        if not answer and question.usual.strip():
            click.echo(f"    assumed: {question.usual} ({question.usual_why})", err=True)
        return answer


def _write(file: Path, said: dict[str, str], name: str, ranking: bool, json_to: str | None) -> None:
    from pulsewright.bench.plain import plain_assumptions
    from pulsewright.bench.sheet import setup_from_text
    from pulsewright.bench.toml_file import write_text
    from pulsewright.new.answered_sheet import assumed_by_the_answers, sheet_from

    try:
        text = sheet_from(said, name)
        setup = setup_from_text(text, str(file))
    except InputError as error:
        typed = " ".join(f"--answer {key}='{value}'" for key, value in said.items() if value)
        raise InputError(error.what, where=error.where, hint=f"{error.hint}; your answers: {typed}") from None
    write_text(text, file)
    if json_to != STANDARD_OUTPUT:
        for label, value, why in assumed_by_the_answers(said):
            click.echo(f"assumed: {label} {value} ({why})")
        click.echo(f"written: {file}; {len(setup.assumptions)} values in it are assumed: pulsewright check {file}")
    answer = {"format": FORMAT, "file": str(file), "answers": said, "assumptions": plain_assumptions(setup.assumptions)}
    if ranking:
        answer["ranking"] = _ranking(text, json_to)
    elif json_to != STANDARD_OUTPUT:
        click.echo(f"what each of them costs in certainty: pulsewright check {file} --ranking")
    if json_to:
        write_json(answer, json_to)


def _ranking(text: str, json_to: str | None) -> dict[str, object]:
    from pulsewright.bench.session import RIDING_BAND
    from pulsewright.cli.ranking_table import print_ranking, ranked

    ranking = ranked(text, RIDING_BAND)
    if json_to != STANDARD_OUTPUT:
        print_ranking(ranking)
    return ranking.as_json()
