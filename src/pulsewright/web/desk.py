"""What the pages work on: the store, and the days on the dyno that were read from it, kept while they stay the same."""

from __future__ import annotations

import threading
from collections import OrderedDict
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pulsewright.bench.session import Session, read_session
from pulsewright.errors import PulsewrightError
from pulsewright.pulls.session_pulls import SessionPulls, read_session_pulls
from pulsewright.records.folders import store_folder
from pulsewright.records.job_hashes import Hashes
from pulsewright.records.store import Store
from pulsewright.remedies.candidates import Machine

MOST_KEPT = 12  # days in memory
READ_AHEAD = 3  # jobs: a day of ten pulls takes a second to read


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Day:
    """A job as the readers see it."""

    job: int
    hashes: Hashes
    session: Session
    pulls: SessionPulls | None  # None: there are none, or `trouble` says why they cannot be read
    trouble: PulsewrightError | None

    def machine(self, name: str | None = None) -> Machine:
        """A setup to start a change from: the one that is named, else the baseline, else the first."""
        setup = self.session.setup(name or self.baseline)
        return Machine(name=setup.name, text=setup.text, setup=setup.setup)

    @property
    def baseline(self) -> str:
        """The machine as it came: the first setup that was pulled, else the first."""
        return self.pulls.baseline if self.pulls else self.session.setups[0].name


class Desk:
    """One server's view of one store. Safe for threads."""

    def __init__(self, store: Store, place: Path | str) -> None:
        self.store, self.place = store, place
        self._days: OrderedDict[tuple[int, datetime], Day] = OrderedDict()
        self._lock, self._reading = threading.Lock(), dict[int, threading.Lock]()

    @property
    def folder(self) -> Path:
        """Where fits and finished runs are kept in files, as the command line keeps them."""
        return self.store.folder or store_folder()

    @property
    def fits(self) -> Path:
        """Folder of the fits, the one that the command line uses."""
        return self.folder / "fits"

    def day(self, job: int) -> Day:
        """The job's session with its pulls, read anew where something that counts has changed.

        Raises NotKeptError where there is no such job.
        """
        key = job, self.store.job(job).changed
        with self._lock:
            own = self._reading.setdefault(job, threading.Lock())
        with own:  # two pages of one job wait for one reading
            with self._lock:
                if key in self._days:
                    self._days.move_to_end(key)
                    return self._days[key]
            day = self._read(job)
            with self._lock:
                self._days[key] = day
                while len(self._days) > MOST_KEPT:
                    self._days.popitem(last=False)
            return day

    def warm_up(self) -> None:
        """Read the jobs that were changed last, so that their first page need not wait; what cannot be is left."""
        with suppress(PulsewrightError):
            for line in self.store.jobs()[:READ_AHEAD]:
                with suppress(PulsewrightError):
                    self.day(line.id)

    def _read(self, job: int) -> Day:
        laid = self.store.laid_out(job)
        session = read_session(laid.folder)
        pulls, trouble = None, None
        if session.pulls:
            try:
                pulls = read_session_pulls(session)
            except PulsewrightError as error:
                trouble = error
        return Day(job=job, hashes=laid.hashes, session=session, pulls=pulls, trouble=trouble)


def stoichiometric_of(day: Day) -> float:
    """Of the fuel that the baseline's sheet names. [-]"""
    return day.session.setup(day.baseline).setup.fuel.stoichiometric_afr
