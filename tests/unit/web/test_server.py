"""The socket that the screen listens on."""

import socket

from pulsewright.web.server import LOOPBACK, _listening


def test_small_answers_are_sent_at_once():
    """asyncio turns Nagle's algorithm off only where the socket names its protocol; else answers wait some 40 ms."""
    with _listening(LOOPBACK, 0) as listener:
        assert listener.proto == socket.IPPROTO_TCP
