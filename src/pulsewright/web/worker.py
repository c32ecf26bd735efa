"""The process for long work: fits, causes, advice. One at a time, at low priority, with a sign of life each second."""

from __future__ import annotations

import os
import signal
import threading
import time
from contextlib import suppress
from dataclasses import dataclass, field

from pulsewright.errors import CancelledError, PulsewrightError
from pulsewright.physics.shared_cache import end_process
from pulsewright.records.store import Store
from pulsewright.records.work import DONE, FAILED, STOPPED, Work
from pulsewright.web import words
from pulsewright.web.desk import Desk
from pulsewright.web.foreman import PLACE
from pulsewright.web.long_work import KINDS

NICE = 15
IDLE = 45.0  # [s] without work after which the process ends
SIGN_OF_LIFE = 1.0  # [s]
LAST_STEP = 0.8  # [s] for what is being done when it is to leave; what is compiled or computed longer is given up


@dataclass(slots=True)
class Progress:
    """How far one piece of work is, and whether it is to stop."""

    share: float = 0.0
    words: str = ""
    stop: threading.Event = field(default_factory=threading.Event)  # a person asked
    leave: threading.Event = field(default_factory=threading.Event)  # the server goes: to be taken up again

    def say(self, text: str) -> None:
        """What is being done."""
        self.words = text

    def tell(self, share: float, text: str) -> None:
        """How far it is, 0 to 1, and what is being done."""
        self.share, self.words = share, text

    def stopped(self) -> bool:
        """Whether to give up soon."""
        return self.stop.is_set() or self.leave.is_set()


def main() -> None:
    """Work until nothing waits any more or the server is gone."""
    place, parent = os.environ[PLACE], os.getppid()
    with suppress(OSError):
        os.nice(NICE)
    leave = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: leave.set())
    signal.signal(signal.SIGINT, lambda *_: leave.set())
    threading.Thread(target=_leave_with, args=(parent, leave), daemon=True).start()
    threading.Thread(target=_leave_at_last, args=(leave,), daemon=True).start()
    with Store.open(place) as store:
        desk, last = Desk(store, place), time.monotonic()
        while not leave.is_set() and time.monotonic() - last < IDLE:
            work = store.claim(*KINDS)
            if work is None:
                leave.wait(0.3)
                continue
            _run(desk, work, leave)
            last = time.monotonic()


def _leave_with(parent: int, leave: threading.Event) -> None:
    """Leave when the server is gone, however it went."""
    while os.getppid() == parent:
        time.sleep(0.5)
    leave.set()


def _leave_at_last(leave: threading.Event) -> None:
    """Do not wait for a kernel that is being compiled: what was kept is kept, and the next worker goes on from it."""
    leave.wait()
    time.sleep(LAST_STEP)
    end_process(0)


def _run(desk: Desk, work: Work, leave: threading.Event) -> None:
    progress, over = Progress(leave=leave), threading.Event()
    beat = threading.Thread(target=_beat, args=(desk.store, work.id, progress, over), daemon=True)
    beat.start()
    state, text = DONE, words.TEXT["work_done"]
    try:
        KINDS[work.kind](desk, work, progress)
    except (CancelledError, KeyboardInterrupt):
        state, text = STOPPED, words.TEXT["work_stopped"]
    except PulsewrightError as error:
        state, text = FAILED, f"{error.what}. {error.hint or ''}".strip()
    except Exception as error:  # a defect must not leave the work running for ever; it is told and printed
        import traceback

        traceback.print_exc()
        state, text = FAILED, f"{words.TEXT['error_own']} ({type(error).__name__})"
    finally:
        over.set()
        beat.join()
    if state == STOPPED and leave.is_set() and not progress.stop.is_set():
        return  # the server goes; the next one takes this up again
    desk.store.finish(work.id, state, text[:500])


def _beat(store: Store, id: int, progress: Progress, over: threading.Event) -> None:
    while not over.wait(SIGN_OF_LIFE):
        with suppress(PulsewrightError):
            if not store.heartbeat(id, progress.share, progress.words or None):
                progress.stop.set()


if __name__ == "__main__":
    main()
