"""The bench screen as a process of its own, as a person starts it."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path


class Server:
    """One `pulsewright serve`, on a free port.

    place : folder of the store, or the URL of a database. more : options of the command.
    """

    def __init__(self, place: Path | str, *more: str) -> None:
        self.place, self.more = place, more
        self.begin()

    def begin(self) -> None:
        """Start it and wait for its first word."""
        command = [
            sys.executable,
            "-m",
            "pulsewright",
            "--store",
            str(self.place),
            "serve",
            "--no-browser",
            "--port",
            "0",
            *self.more,
        ]
        environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=environment,
            start_new_session=True,
        )
        assert self.process.stdout is not None
        said = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+", said)
        assert found, said + self.process.stdout.read()
        self.address = found.group(0)
        self._wait()

    def _wait(self) -> None:
        for _ in range(300):
            try:
                urllib.request.urlopen(self.address + "/look", timeout=5).close()
                return
            except OSError:
                time.sleep(0.1)
        raise AssertionError("the server does not answer")

    def kill(self) -> None:
        """As a power cut would end it, with what it had started."""
        self._end(signal.SIGKILL)

    def kill_alone(self) -> None:
        """The server goes and what it had started stays for a moment."""
        self.process.kill()
        self._end(signal.SIGINT)

    def stop(self) -> None:
        """As Ctrl-C ends it."""
        self._end(signal.SIGINT)

    def _end(self, how: signal.Signals) -> None:
        if self.process.poll() is None:
            if how is signal.SIGKILL:
                os.killpg(self.process.pid, how)
            else:
                self.process.send_signal(how)
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(10)
        if self.process.stdout is not None:
            self.process.stdout.close()
