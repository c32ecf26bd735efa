"""Runs the screen: store, door, web server, browser."""

from __future__ import annotations

import logging
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn

from pulsewright.errors import UsageError
from pulsewright.records.store import Store
from pulsewright.web import words
from pulsewright.web.app import create_app
from pulsewright.web.desk import Desk
from pulsewright.web.door import Door

LOOPBACK, EVERYWHERE = "127.0.0.1", "0.0.0.0"
LAST_WORDS = 1  # [s] for pages that are being answered when the server is stopped


def serve(
    place: Path | str, port: int, *, lan: bool = False, browser: bool = True, say: Callable[[str], None] = print
) -> None:
    """Serve until Ctrl-C. `say` is told the address, and the code for other machines.

    Raises UsageError where the port is taken, InputError where the store cannot be opened.
    """
    with Store.open(place) as store, _listening(EVERYWHERE if lan else LOOPBACK, port) as listener:
        door = Door(port=listener.getsockname()[1], lan=lan)
        app = create_app(Desk(store, place), door)
        address = f"http://{LOOPBACK}:{door.port}/"
        say(words.TEXT["serve_here"].format(address=address))
        for link in door.links():
            say(words.TEXT["serve_phone"].format(link=link))
        if browser:
            threading.Timer(0.8, webbrowser.open, (address,)).start()
        config = uvicorn.Config(
            app, log_level="warning", server_header=False, timeout_graceful_shutdown=LAST_WORDS, ws="none"
        )
        logging.getLogger("uvicorn.error").addFilter(_is_no_farewell)
        server = uvicorn.Server(config)
        server.run(sockets=[listener])
        # It raises the signal again that ended it, which does nothing in a process that was started to ignore it, as
        # in the background of a script: Python would then wait for threads that compile.
        if server.started and server.should_exit:
            raise KeyboardInterrupt


def _is_no_farewell(record: logging.LogRecord) -> bool:
    """Whether a word of the web server is one for the person: that it did not wait for a page at its end is none."""
    return "timeout graceful shutdown exceeded" not in record.getMessage()


def _listening(host: str, port: int) -> socket.socket:
    # The protocol is named, else asyncio leaves Nagle's algorithm on, and every answer waits 40 ms for the last one
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        told = words.TEXT["serve_port"].format(port=port, why=error.strerror)
        raise UsageError(told, where="--port", hint=words.TEXT["serve_port_hint"]) from None
    return listener
