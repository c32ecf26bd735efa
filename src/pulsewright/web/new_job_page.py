"""A new job: from a sheet, from another job, or from a short form that shows what it assumes."""

from __future__ import annotations

import tempfile
from collections import defaultdict
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import Response

from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError
from pulsewright.new.answered_sheet import assumed_by_the_answers, sheet_from
from pulsewright.new.questions import GROUPS
from pulsewright.records.carry import ENDING
from pulsewright.web import words
from pulsewright.web.app import see
from pulsewright.web.desk import Desk
from pulsewright.web.pages import page
from pulsewright.web.uploads import Upload, files_of, session_in, whole_file_of, words_and_files
from pulsewright.web.writes import SAME_SITE

router = APIRouter()
Machine = Annotated[str, Form(max_length=200)]
Complaint = Annotated[str, Form(max_length=2000)]


@router.get("/new")
def ask(request: Request) -> Response:
    """The three ways to begin."""
    desk: Desk = request.app.state.desk
    return page(
        request, "new", jobs=desk.store.jobs(), asked=GROUPS, answers=defaultdict(str), assumed=None, trouble=None
    )


@router.post("/new/sheet", dependencies=[SAME_SITE])
def from_sheet(
    request: Request, sheet: Annotated[UploadFile, File()], machine: Machine = "", complaint: Complaint = ""
) -> Response:
    """From a setup sheet, a session folder in a zip file, or the file of a job."""
    desk: Desk = request.app.state.desk
    if sheet.filename and sheet.filename.lower().endswith(ENDING):
        return see(f"/jobs/{_carried_in(desk, sheet)}")
    uploads = files_of([sheet])
    if sheet.filename and sheet.filename.lower().endswith(".zip"):
        return see(f"/jobs/{_taken_in(desk, uploads)}")
    text = _text(uploads[0])
    name = machine.strip() or setup_from_text(text, uploads[0].name).name
    job = desk.store.new_job(name, name, complaint, text)
    return see(f"/jobs/{job.id}")


@router.post("/new/copy", dependencies=[SAME_SITE])
def from_copy(
    request: Request, of: Annotated[int, Form(ge=1, le=2**31 - 1)], machine: Machine = "", complaint: Complaint = ""
) -> Response:
    """The same machine again."""
    desk: Desk = request.app.state.desk
    title = machine.strip() or desk.store.job(of).title
    job = desk.store.copy_job(of, title)
    desk.store.edit_job(job.id, machine=title, complaint=complaint)
    return see(f"/jobs/{job.id}")


@router.post("/new/form", dependencies=[SAME_SITE])
async def from_form(request: Request) -> Response:
    """From the short form: first what would be assumed, then the job."""
    answers, _ = await words_and_files(request)
    desk: Desk = request.app.state.desk
    try:
        name = answers.get("machine", "").strip()
        text = sheet_from(answers, name or "unnamed")
        setup = setup_from_text(text, "the form", name=name, lines=False)
        if "make" in answers:
            job = desk.store.new_job(name or setup.name, name, answers.get("complaint", ""), text)
            return see(f"/jobs/{job.id}")
        assumed = [*assumed_by_the_answers(answers), *((a.key, a.value, a.why) for a in setup.assumptions)]
        trouble = None
    except InputError as error:
        assumed, trouble = None, error
    return page(
        request, "new", status=400 if trouble else 200, jobs=desk.store.jobs(), asked=GROUPS,
        answers=defaultdict(str, answers), assumed=assumed, trouble=trouble,
    )  # fmt: skip


@router.post("/new/example", dependencies=[SAME_SITE])
def example(request: Request) -> Response:
    """The invented day that comes with the package."""
    from pulsewright.demo.copy_session import SESSION

    desk: Desk = request.app.state.desk
    return see(f"/jobs/{desk.store.take_in(SESSION).id}")


def _taken_in(desk: Desk, uploads: list[Upload]) -> int:
    with tempfile.TemporaryDirectory() as folder:
        return desk.store.take_in(session_in(uploads, Path(folder))).id


def _carried_in(desk: Desk, sheet: UploadFile) -> int:
    upload = whole_file_of(sheet)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / upload.name
        path.write_bytes(upload.data)
        try:
            return desk.store.import_job(path).id
        except InputError as error:
            raise InputError(error.what, where=upload.name, hint=error.hint) from None


def _text(upload: Upload) -> str:
    try:
        return upload.data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(
            words.TEXT["sheet_no_text"], where=upload.name, hint=words.TEXT["sheet_no_text_hint"]
        ) from None
