"""The first signal asks to stop, the second one stops."""

import os
import signal

import pytest

from pulsewright.many.stop_signals import stop_signals


def test_the_first_asks_and_the_second_stops():
    with stop_signals() as stop:
        os.kill(os.getpid(), signal.SIGINT)
        assert stop.wait(5)
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
