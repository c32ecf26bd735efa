"""A real PostgreSQL server in a temporary folder, reached by a socket there and from nowhere else."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

IN_MEMORY = "/dev/shm"  # where the system has it: a server writes hundreds of files
WHO = "nobody"  # the server refuses to run as root
SETTINGS = "-c listen_addresses='' -c fsync=off -c full_page_writes=off"  # speed; no power cut is tested here


def program(name: str) -> str | None:
    """A program of the server: on the path, or where Debian puts it."""
    installed = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))
    return shutil.which(name) or (str(installed[-1]) if installed else None)


def why_not() -> str | None:
    """Why no server can be started here; None where one can."""
    missing = [name for name in ("initdb", "pg_ctl") if program(name) is None]
    if missing:
        return f"no PostgreSQL server here: {missing[0]} is missing"
    if os.geteuid() == 0 and shutil.which("setpriv") is None:
        return "PostgreSQL refuses to run as root, and setpriv is missing"
    return None


class PostgresServer:
    """Started by `with`, stopped and thrown away at its end."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="pw-pg-", dir=IN_MEMORY if os.access(IN_MEMORY, os.W_OK) else None))
        if os.geteuid() == 0:
            user = pwd.getpwnam(WHO)
            os.chown(self.folder, user.pw_uid, user.pw_gid)
        self.folder.chmod(0o755)

    def __enter__(self) -> PostgresServer:
        self._run("initdb", "-D", self.folder / "data", "-A", "trust", "-U", "bay1", "-E", "UTF8", "--no-sync")
        options = f"-k {self.folder} {SETTINGS}"
        self._run("pg_ctl", "-D", self.folder / "data", "-w", "-l", self.folder / "log", "-o", options, "start")
        return self

    def __exit__(self, *_: Any) -> None:
        self._run("pg_ctl", "-D", self.folder / "data", "-m", "immediate", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)

    def address(self, database: str) -> str:
        """URL of a database."""
        return f"postgresql://bay1:secret@/{database}?host={self.folder}"

    def new_database(self) -> str:
        """URL of the one database for tests, emptied."""
        self.say("DROP SCHEMA public CASCADE; CREATE SCHEMA public")
        return self.address("postgres")

    def say(self, command: str) -> None:
        """Run a command as the owner of the server."""
        import psycopg

        with psycopg.connect(self.address("postgres"), autocommit=True) as connection:
            connection.execute(command.encode())

    def _run(self, name: str, *arguments: object) -> None:
        as_other = ["setpriv", f"--reuid={WHO}", "--regid=nogroup", "--clear-groups"] if os.geteuid() == 0 else []
        command = [*as_other, program(name) or name, *map(str, arguments)]
        done = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, cwd="/", text=True)
        assert done.returncode == 0, done.stderr
