"""Who may come in: names of this machine, requests of our own pages, phones that know the code.

A page of somebody else's, open in the same browser, can send requests to this machine. It cannot make the browser
name us as `Host` (so a name that is turned round to this machine is refused), it cannot hide its own `Origin`, and
it cannot read the token that our pages carry.
"""

from __future__ import annotations

import hmac
import secrets
import socket
import threading
import time
from contextlib import suppress
from dataclasses import dataclass, field

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
CODE_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # none that are taken for each other
CODE_LENGTH = 8
MOST_WRONG = 5  # wrong codes in a row, then a new code and a pause
PAUSE = 60.0  # [s]


@dataclass(slots=True)
class Door:
    """The rules of one server.

    lan : whether other machines may come in, each with a code that holds for one of them.
    """

    port: int
    lan: bool = False
    secret: bytes = field(default_factory=lambda: secrets.token_bytes(32))
    code: str = ""
    _guests: set[str] = field(default_factory=set)
    _wrong: int = 0
    _shut_until: float = 0.0
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        if self.lan:
            self.code = _new_code()

    @property
    def hosts(self) -> set[str]:
        """What a browser may call this machine, with the port."""
        names = [*LOOPBACK, *(_own_names() if self.lan else ())]
        plain = {name for name in names if self.port == 80}
        return plain | {f"{name}:{self.port}" for name in names}

    def knows(self, host: str) -> bool:
        """Whether a `Host` is ours."""
        return host.lower() in self.hosts

    def own_origin(self, origin: str, host: str) -> bool:
        """Whether a request comes from one of our own pages."""
        return origin.lower() == f"http://{host.lower()}"

    def token(self, visit: str) -> str:
        """What a page of one browser must carry to be allowed to write."""
        return hmac.new(self.secret, visit.encode(), "sha256").hexdigest()

    def allows(self, visit: str, token: str) -> bool:
        """Whether a token is that of a browser."""
        return bool(visit) and hmac.compare_digest(self.token(visit).encode(), token.encode())

    def is_guest(self, pass_: str) -> bool:
        """Whether a browser on another machine has given a code before."""
        with self._lock:
            return bool(pass_) and pass_ in self._guests

    def admit(self, code: str) -> str | None:
        """A pass for the right code, which is then used up; None for a wrong one, or while the door is shut."""
        with self._lock:
            if not self.lan or time.monotonic() < self._shut_until:
                return None
            if not hmac.compare_digest(code.strip().upper().encode(), self.code.encode()):
                self._wrong += 1
                if self._wrong >= MOST_WRONG:
                    self._wrong, self.code, self._shut_until = 0, _new_code(), time.monotonic() + PAUSE
                return None
            pass_ = secrets.token_urlsafe(24)
            self._guests.add(pass_)
            self._wrong, self.code = 0, _new_code()
            return pass_

    def links(self) -> list[str]:
        """Addresses for a phone, each with the code in it."""
        if not self.lan:
            return []
        return [f"http://{name}:{self.port}/enter?code={self.code}" for name in _addresses()]


def _new_code() -> str:
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))


def _own_names() -> list[str]:
    name = socket.gethostname().lower()
    return [name, f"{name}.local", *_addresses()]


def _addresses() -> list[str]:
    """IPv4 addresses under which others reach this machine."""
    found: list[str] = []
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # a test net: nothing is sent, but the way out is chosen
        found.append(probe.getsockname()[0])
    with suppress(OSError):
        found += [str(row[4][0]) for row in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return list(dict.fromkeys(a for a in found if not a.startswith("127.")))
