"""Ctrl-C and a polite kill end a run at a place where nothing is lost; the second time they end it at once."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

SIGNALS = (signal.SIGINT, signal.SIGTERM)


@contextmanager
def stop_signals() -> Iterator[threading.Event]:
    """An event that is set by the first signal; outside the main thread no signal is caught."""
    stop = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield stop
        return
    before = {each: signal.getsignal(each) for each in SIGNALS}

    def first(number: int, _frame: FrameType | None) -> None:
        stop.set()
        signal.signal(number, before[signal.Signals(number)])

    for each in SIGNALS:
        signal.signal(each, first)
    try:
        yield stop
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)
