"""Step 1: files in, how they are read, what in them is measurement, and all setups on common axes."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from pulsewright.bench.session import PullEntry, Session
from pulsewright.errors import InputError, PulsewrightError
from pulsewright.pulls.channel_words import WORDS
from pulsewright.pulls.dialect import Table
from pulsewright.pulls.finding import FACTS, odds_in_words
from pulsewright.pulls.mapping import Mapping as Remembered
from pulsewright.pulls.mapping import mapping_of, write_mapping
from pulsewright.pulls.pull import ChannelDecision
from pulsewright.pulls.read_pull import pulls_from_bytes, table_of
from pulsewright.pulls.reading import Reading
from pulsewright.pulls.session_reading import session_reading
from pulsewright.web import words
from pulsewright.web.app import see
from pulsewright.web.chart_data import SCREENS, chart_json, measured_chart, stills_of
from pulsewright.web.desk import Day, Desk, stoichiometric_of
from pulsewright.web.difference_page import SetupName, seen_difference, still_pictures
from pulsewright.web.numbers_typed import JobNumber
from pulsewright.web.pages import page, view_of
from pulsewright.web.uploads import Upload, files_of, words_and_files
from pulsewright.web.writes import SAME_SITE

router = APIRouter()
UNUSED = "unused"
AIR = ("temperature", "pressure", "humidity")


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one file."""

    name: str
    words: str
    good: bool


@router.get("/jobs/{job}/pulls")
def pulls(request: Request, job: JobNumber, first: SetupName = "", second: SetupName = "") -> Response:
    """Everything about the pulls of a job; `first`, `second`: the setups whose difference is shown."""
    return _shown(request, job, [], first, second)


def _shown(request: Request, job: int, taken: list[Taken], first: str = "", second: str = "") -> Response:
    desk: Desk = request.app.state.desk
    kept, day = desk.store.job(job), desk.day(job)
    chart = measured_chart(day)
    view, stoichiometric = view_of(request), stoichiometric_of(day)
    seen = seen_difference(day, view, stoichiometric, first, second)
    return page(
        request, "pulls", step="pulls", job=kept, day=day, files=desk.store.pull_files(job), taken=taken, wide=True,
        facts=FACTS, odds=odds_in_words,
        channels=_channels(day), quantities=[*WORDS, UNUSED], air=_last_air(desk, job),
        chart=stills_of(chart, view, stoichiometric, SCREENS) if chart else None,
        seen=seen, stills=still_pictures(seen, view) if seen else None,
    )  # fmt: skip


@router.get("/jobs/{job}/curves.json")
def curves(request: Request, job: JobNumber) -> JSONResponse:
    """All setups on common axes, in this browser's units."""
    desk: Desk = request.app.state.desk
    day = desk.day(job)
    chart = measured_chart(day)
    if chart is None:
        raise InputError(words.TEXT["no_pulls"], hint=words.TEXT["no_pulls_hint"])
    return JSONResponse(chart_json(chart, view_of(request), stoichiometric_of(day)))


@router.post("/jobs/{job}/pulls", dependencies=[SAME_SITE])
async def bring_in(request: Request, job: JobNumber) -> Response:
    """Take files in, in the order of their names; each is read before it is kept, or the reason is told."""
    from starlette.concurrency import run_in_threadpool

    said, sent = await words_and_files(request)
    desk: Desk = request.app.state.desk
    taken = await run_in_threadpool(take_files, desk, job, sent, said)
    return await run_in_threadpool(_shown, request, job, taken)


def take_files(desk: Desk, job: int, sent: list[Any], said: Mapping[str, str]) -> list[Taken]:
    """Keep every file that holds a table; a file that cannot be kept is named with its reason."""
    settings = _settings(said)
    uploads = sorted(files_of(sent), key=lambda upload: upload.name)
    session = desk.day(job).session
    setup = said.get("setup") or session.setups[-1].name
    _remembered_for(desk, job, session, uploads)
    session = desk.day(job).session
    return [_take(desk, job, session, setup, upload, settings) for upload in uploads]


def _take(desk: Desk, job: int, session: Session, setup: str, upload: Upload, settings: dict[str, Any]) -> Taken:
    t = words.TEXT
    entry = PullEntry(
        file=Path(upload.name), setup=setup, kind=settings["kind"], air=None, head_temperature=None, note=""
    )
    try:
        found, trouble = pulls_from_bytes(upload.data, upload.name, reading=session_reading(session, entry)), None
    except PulsewrightError as error:
        found, trouble = [], error
    try:
        if trouble is not None:
            _bare_table(upload)  # a file without any table is not kept; columns can be put right by hand
        rows = [(pull.recipe.as_json() if pull.recipe else {}, pull.number) for pull in found] or [({}, None)]
        for recipe, number in rows:
            desk.store.add_pull_file(job, setup, upload.name, upload.data, recipe, {**settings, "number": number})
    except PulsewrightError as error:
        return Taken(upload.name, f"{error.what}. {error.hint or ''}".strip(), False)
    if trouble is not None:
        return Taken(upload.name, f"{t['pulls_refused']}: {trouble.what}. {trouble.hint or ''}".strip(), False)
    return Taken(upload.name, t["pulls_several"] if len(found) > 1 else t["pulls_added"], True)


def _bare_table(upload: Upload) -> Table:
    """The table of a file before any column has a meaning."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "file"
        path.write_bytes(upload.data)
        try:
            return table_of(path, Reading())
        except InputError as error:
            raise InputError(error.what, hint=error.hint) from None


def _settings(said: Mapping[str, str]) -> dict[str, Any]:
    """What is said of all files of one go, as a session has it."""
    air = {key: said.get(f"air_{key}", "").strip() for key in AIR}
    settings: dict[str, Any] = {"kind": said.get("kind") or "sweep"}
    if any(air.values()):
        settings["air"] = {key: _with_unit(value, key) for key, value in air.items() if value}
    if said.get("head", "").strip():
        settings["head_temperature"] = _with_unit(said["head"].strip(), "temperature")
    return settings


def _with_unit(text: str, key: str) -> str:
    """A bare number in the unit that people mean by it."""
    bare = text.replace(",", "").replace(".", "").lstrip("-").isdigit()
    return f"{text} {({'temperature': 'degC', 'pressure': 'kPa', 'humidity': '%'})[key]}" if bare else text


def _last_air(desk: Desk, job: int) -> dict[str, str]:
    """The air of the newest pull, to begin the form with."""
    files = desk.store.pull_files(job)
    return dict(files[-1].settings.get("air", {})) if files else {}


@router.post("/jobs/{job}/pulls/{pull}/remove", dependencies=[SAME_SITE])
def remove(request: Request, job: JobNumber, pull: JobNumber) -> Response:
    """Take a pull out; its bytes stay in the store."""
    desk: Desk = request.app.state.desk
    if desk.store.pull_file(pull).job != job:
        raise InputError(words.TEXT["pulls_other_job"])
    desk.store.remove_pull_file(pull)
    return see(f"/jobs/{job}/pulls")


@router.post("/jobs/{job}/channels", dependencies=[SAME_SITE])
async def channels(request: Request, job: JobNumber) -> Response:
    """Columns put right by hand, kept with the job and remembered for files with the same headings."""
    from starlette.concurrency import run_in_threadpool

    said, _ = await words_and_files(request)
    desk: Desk = request.app.state.desk
    await run_in_threadpool(_put_right, desk, job, said)
    return see(f"/jobs/{job}/pulls")


def _put_right(desk: Desk, job: int, said: Mapping[str, str]) -> None:
    settings = dict(desk.store.job(job).settings)
    logger = dict(settings.get("logger", {}))
    columns, units = dict(logger.get("columns", {})), dict(logger.get("units", {}))
    for number in (key.removeprefix("heading-") for key in said if key.startswith("heading-")):
        heading, quantity = said[f"heading-{number}"], said.get(f"quantity-{number}", UNUSED)
        unit = said.get(f"unit-{number}", "").strip()
        columns = {q: h for q, h in columns.items() if h != heading or q == quantity}
        if quantity not in (UNUSED, said.get(f"quantity-was-{number}", UNUSED)):
            columns[quantity] = heading
        if quantity != UNUSED and unit and unit != said.get(f"unit-was-{number}", ""):
            units[quantity] = unit
    logger |= {"columns": columns, "units": units}
    if said.get("torque") in ("engine", "wheel"):
        logger["torque"] = said["torque"]
    desk.store.edit_job(job, settings={**settings, "logger": {k: v for k, v in logger.items() if v}})
    _remember(desk, job)


def _remember(desk: Desk, job: int) -> None:
    """Keep how these files are read, for the next job with the same headings."""
    day = desk.day(job)
    if day.pulls is None:
        return
    pull, entry = day.pulls.pulls[0], day.session.pulls[0]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mapping.toml"
        write_mapping(path, mapping_of(pull, session_reading(day.session, entry)))
        desk.store.keep_mapping(" ".join(c.heading for c in pull.channels)[:100], path.read_text(encoding="utf-8"))


def _remembered_for(desk: Desk, job: int, session: Session, uploads: list[Upload]) -> None:
    """Read the first files of a job as files with the same headings were read before."""
    if session.pulls or session.logger.columns or not uploads:
        return
    try:
        names = desk.store.fitting_mappings(_bare_table(uploads[0]).headings)
    except PulsewrightError:
        return
    if not names:
        return
    known: Remembered = desk.store.mappings()[names[-1]]
    own: dict[str, tuple[str, str]] = {}
    with suppress(PulsewrightError):
        own = {c.quantity: (c.heading, c.unit) for c in pulls_from_bytes(uploads[0].data, uploads[0].name)[0].channels}
    columns = {q: h for q, h in known.columns.items() if own.get(q, ("", ""))[0] != h}
    units = {q: u for q, u in known.units.items() if q in columns or (q in own and own[q][1] != u)}
    settings = dict(desk.store.job(job).settings)
    logger = {"columns": columns, "units": units, "torque": known.torque_at, **settings.get("logger", {})}
    desk.store.edit_job(job, settings={**settings, "logger": {k: v for k, v in logger.items() if v}})


def _channels(day: Day) -> list[ChannelDecision]:
    """How the columns are read, once for all files alike; the bare headings where they cannot be read."""
    if day.pulls is not None:
        once: dict[tuple[str, str], ChannelDecision] = {}
        for pull in day.pulls.pulls:
            for c in pull.channels:
                once.setdefault((c.heading, c.quantity), c)
        return list(once.values())
    if not day.session.pulls:
        return []
    entry = day.session.pulls[0]
    try:
        headings = table_of(entry.file, session_reading(day.session, entry)).headings
    except PulsewrightError:
        return []
    return [
        ChannelDecision(quantity=UNUSED, column=n, heading=h, unit="", reason="", confidence=0.0)
        for n, h in enumerate(headings, 1)
    ]
