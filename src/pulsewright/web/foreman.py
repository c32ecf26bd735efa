"""Keeps one process for long work alive beside the server, while there is work.

The process runs at low priority, so that pages stay quick. It ends by itself when nothing has waited for a while,
and when its server is gone; what it was at goes on when a server starts again.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from contextlib import suppress

from pulsewright.errors import PulsewrightError
from pulsewright.records.work import WAITING
from pulsewright.web.desk import Desk

LOOK_EVERY = 0.5  # [s]
LEFT_OVER_EVERY = 20  # looks: a worker of a server that was killed may outlive it for some seconds
PATIENCE = 1.5  # [s] for a worker that was asked to end; it leaves by itself before
PLACE = "PULSEWRIGHT_WORK_PLACE"  # environment: the store, which may hold a password and so is no argument


class Foreman:
    """Starts the worker when work waits."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._worker: subprocess.Popen[bytes] | None = None
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._watch, name="foreman", daemon=True)

    def start(self) -> None:
        """Begin to watch; work that an earlier server left over waits again."""
        if not self._desk.store.read_only:
            self._desk.store.resume_left_over()
        self._thread.start()

    def stop(self) -> None:
        """End the worker; its work waits for the next server."""
        self._end.set()
        self._thread.join(LOOK_EVERY * 4)
        if self._worker is None or self._worker.poll() is not None:
            return
        self._worker.terminate()
        try:
            self._worker.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._worker.kill()

    def _watch(self) -> None:
        looks = 0
        while not self._end.wait(LOOK_EVERY):
            looks += 1
            with suppress(PulsewrightError):  # a store that is busy for a moment is asked again
                self._look(looks % LEFT_OVER_EVERY == 0)

    def _look(self, for_left_over: bool) -> None:
        if self._desk.store.read_only:
            return  # nobody could say how far the work is
        ended = None if self._worker is None else self._worker.poll()
        if for_left_over or ended not in (None, 0):
            self._desk.store.resume_left_over()
        if (self._worker is None or ended is not None) and self._desk.store.works(None, WAITING):
            self._worker = self._begin()

    def _begin(self) -> subprocess.Popen[bytes]:
        environment = {**os.environ, PLACE: str(self._desk.place)}
        return subprocess.Popen([sys.executable, "-m", "pulsewright.web.worker"], env=environment)
