"""Long work in the store: it waits, runs with a sign of life, can be stopped, and goes on after a crash.

waiting -> running -> done, failed or stopped; running -> waiting where the owner died.
"""

from __future__ import annotations

import os
import secrets
import socket
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, select, update

from pulsewright.errors import UsageError
from pulsewright.records.database import Database, NotKeptError
from pulsewright.records.job_rows import lock_job
from pulsewright.records.tables import insert, now, works
from pulsewright.records.texts import NAME, NOTE, clean, cut

WAITING, RUNNING, DONE, FAILED, STOPPED = "waiting", "running", "done", "failed", "stopped"
ENDS = (DONE, FAILED, STOPPED)
DEAD_AFTER = timedelta(seconds=90)  # without a sign of life
MOST_TRIES = 3  # work that kills its owner is not begun for ever
_PROCESS = secrets.token_hex(8)  # tells this process from an earlier one of the same number


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One piece of long work."""

    id: int
    job: int
    kind: str
    arguments: dict[str, Any]
    state: str  # waiting, running, done, failed, stopped
    progress: float  # 0 to 1
    words: str  # what is being done, or how it ended
    stop_asked: bool
    owner: str | None
    tries: int  # how often it was begun
    made: datetime
    seen: datetime | None  # last sign of life
    ended: datetime | None


class WorkList(Database):
    """What can be done with long work."""

    def queue_work(self, job: int, kind: str, arguments: dict[str, Any] | None = None) -> Work:
        """Ask for work. The same work that waits or runs already is given back, so that asking twice does no harm."""
        with self.writing() as connection:
            lock_job(connection, job)
            mine = works.c.job == job, works.c.kind == kind, works.c.state.in_((WAITING, RUNNING))
            for same in _read(connection, *mine, ~works.c.stop_asked):
                if same.arguments == (arguments or {}):
                    return same
            id = insert(
                connection, works, job=job, kind=clean(kind, "kind of work", NAME, needed=True),
                arguments=arguments or {}, state=WAITING,
                progress=0.0, words="waiting", stop_asked=False, tries=0, made=now(),
            )  # fmt: skip
            return _one(connection, id)

    def work(self, id: int) -> Work:
        """One piece of work. Raises NotKeptError where there is none."""
        with self.reading() as connection:
            return _one(connection, id)

    def works(self, job: int | None = None, *states: str) -> list[Work]:
        """Work of a job, or of all; in these states, or in any; the newest first."""
        chosen = [] if job is None else [works.c.job == job]
        with self.reading() as connection:
            return _read(connection, *chosen, *([works.c.state.in_(states)] if states else []))[::-1]

    def claim(self, *kinds: str) -> Work | None:
        """Take the work that has waited longest, of these kinds or of any; None where none waits."""
        chosen = [works.c.state == WAITING, *([works.c.kind.in_(kinds)] if kinds else [])]
        query = select(works.c.id, works.c.tries).where(*chosen).order_by(works.c.id).limit(1)
        with self.writing() as connection:
            row = connection.execute(query.with_for_update(skip_locked=True)).one_or_none()
            if row is None:
                return None
            _set(connection, row.id, state=RUNNING, owner=this_owner(), seen=now(), tries=row.tries + 1, words="begun")
            return _one(connection, row.id)

    def heartbeat(self, id: int, progress: float | None = None, words: str | None = None) -> bool:
        """A sign of life with how far the work is; False says: stop, a person asked for it or another has taken over.

        progress : 0 to 1, words : one sentence; None leaves it.
        """
        values: dict[str, Any] = {"seen": now()}
        if progress is not None:
            values["progress"] = min(1.0, max(0.0, progress))
        if words is not None:
            values["words"] = cut(words, NOTE)
        with self.writing() as connection:
            if not _is_mine(_one(connection, id)):
                return False
            _set(connection, id, **values)
            return not _one(connection, id).stop_asked

    def finish(self, id: int, state: str = DONE, words: str = "") -> Work:
        """End work that this process runs: done, failed or stopped. What another has taken over is left alone."""
        if state not in ENDS:
            raise UsageError(f"work does not end as '{state}'", hint="one of " + ", ".join(ENDS))
        with self.writing() as connection:
            if _is_mine(_one(connection, id)):
                progress = {"progress": 1.0} if state == DONE else {}
                ended = {"state": state, "words": cut(words, NOTE) or state, "ended": now()}
                _set(connection, id, **ended, **progress)
            return _one(connection, id)

    def ask_to_stop(self, id: int) -> Work:
        """Ask for a stop: work that waits stops at once, work that runs at its next sign of life."""
        with self.writing() as connection:
            work = _one(connection, id)
            if work.state == WAITING:
                _set(connection, id, stop_asked=True, state=STOPPED, words="stopped before it began", ended=now())
            elif work.state == RUNNING:
                _set(connection, id, stop_asked=True)
            return _one(connection, id)

    def resume_left_over(self, dead_after: timedelta = DEAD_AFTER) -> list[Work]:
        """Let running work whose owner died wait again; to be called when a server starts, and now and then.

        Work that was asked to stop is stopped, and work that was begun three times has failed.
        """
        with self.writing() as connection:
            left = [w for w in _read(connection, works.c.state == RUNNING) if _is_dead(w, dead_after)]
            for work in left:
                _set(connection, work.id, **_after_death(work))
            return [_one(connection, work.id) for work in left]


def this_owner() -> str:
    """Host, process number, and what tells this process from an earlier one of that number."""
    return f"{socket.gethostname()} {os.getpid()} {_PROCESS}"


def _is_mine(work: Work) -> bool:
    return work.state == RUNNING and work.owner == this_owner()


def _is_dead(work: Work, dead_after: timedelta) -> bool:
    """Whether the owner of running work is gone: known at once on this host, elsewhere by its silence."""
    host, number, process = (work.owner or "- 0 -").split(" ")
    if work.owner == this_owner():
        return False
    if host == socket.gethostname():
        if int(number) == os.getpid():
            return process != _PROCESS
        with suppress(PermissionError):
            try:
                os.kill(int(number), 0)
            except ProcessLookupError:
                return True
    return work.seen is None or now() - work.seen > dead_after


def _after_death(work: Work) -> dict[str, Any]:
    if work.stop_asked:
        return {"state": STOPPED, "words": "stopped", "ended": now()}
    if work.tries >= MOST_TRIES:
        return {"state": FAILED, "words": f"broke off {work.tries} times without a word", "ended": now()}
    return {"state": WAITING, "owner": None, "words": "was broken off; goes on soon"}


def _set(connection: Connection, id: int, **values: Any) -> None:
    connection.execute(update(works).where(works.c.id == id).values(**values))


def _read(connection: Connection, *chosen: Any) -> list[Work]:
    query = select(works).where(*chosen).order_by(works.c.id)
    return [Work(**row) for row in connection.execute(query).mappings()]


def _one(connection: Connection, id: int) -> Work:
    found = _read(connection, works.c.id == id)
    if not found:
        raise NotKeptError(f"there is no work {id}")
    return found[0]
