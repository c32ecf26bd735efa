"""The first signal asks to stop, the second one stops."""

import os
import signal
from collections.abc import Iterator

import pytest

from pulsewright.many.stop_signals import stop_signals


@pytest.fixture(autouse=True)
def usual_interrupt() -> Iterator[None]:
    """A run in the background of a shell starts with the interrupt ignored."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def test_the_first_asks_and_the_second_stops():
    with stop_signals() as stop:
        os.kill(os.getpid(), signal.SIGINT)
        assert stop.wait(5)
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
