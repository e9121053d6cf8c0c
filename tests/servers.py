"""Servers that tests start for themselves: PostgreSQL and an MQTT broker, on loopback or a socket.

Each has a folder of its own and is gone when its ``with`` ends. Where the programs are not
installed a test is skipped, except with ``WEIGHD_REQUIRE_SERVERS=1``: there it fails.
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any

import pytest

#: Seconds that a server may take to answer, on a machine that is busy with other tests.
PATIENCE = 60.0
_QUIET = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}


def program(name: str) -> str:
    """Where a program of a server stands. Skips the test, or fails it, where there is none."""
    places = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    found = shutil.which(
        name, path=os.pathsep.join([os.environ["PATH"], "/usr/sbin", *map(str, places)])
    )
    if found is None:
        missing = f"{name} is not installed here"
        if os.environ.get("WEIGHD_REQUIRE_SERVERS") == "1":
            pytest.fail(missing)
        pytest.skip(missing)
    return found


def free_port() -> int:
    """A port of loopback that nobody listens on just now."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
        return port


def wait_until(true: Callable[[], bool], what: str, patience: float = PATIENCE) -> None:
    """Ask again and again until it is true. Raises ``AssertionError`` when it takes too long."""
    end = time.monotonic() + patience
    while not true():
        assert time.monotonic() < end, f"{what}: not within {patience:g} s"
        time.sleep(0.05)


def answers(port: int) -> bool:
    """Whether somebody accepts connections on a port of loopback."""
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1).close()
    except OSError:
        return False
    return True


class Postgres:
    """A PostgreSQL server of its own on loopback. ``url`` is for SQLAlchemy and for ``weighd``.

    It is synchronous as in a kitchen, but for ``fsync``, which no test of ours can tell.
    """

    def __init__(self) -> None:
        self._made: list[str] = []
        self._bin = {name: program(name) for name in ("initdb", "postgres", "psql")}
        self._folder = Path(tempfile.mkdtemp(prefix="weighd-pg-"))
        self._user: dict[str, Any] = {}
        if os.geteuid() == 0:  # the server does not run as root
            self._user = {"user": "postgres", "group": "postgres"}
            shutil.chown(self._folder, "postgres", "postgres")
        self._server: subprocess.Popen[bytes] | None = None
        self.port = free_port()

    def __enter__(self) -> Postgres:
        data = str(self._folder / "data")
        init = [self._bin["initdb"], "-D", data, "-A", "trust", "-U", "weighd", "--no-sync"]
        init += ["--encoding=UTF8", "--locale=C"]
        subprocess.run(init, check=True, timeout=PATIENCE, cwd=self._folder, **_QUIET, **self._user)
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop(at_once=True)
        shutil.rmtree(self._folder, ignore_errors=True)

    def url(self, database: str = "postgres") -> str:
        """The address of one of its databases."""
        return f"postgresql://weighd@127.0.0.1:{self.port}/{database}"

    def start(self) -> None:
        """Start it, also after :meth:`stop`, on the same port and with what it held."""
        options = ["-p", str(self.port), "-h", "127.0.0.1", "-k", str(self._folder), "-F"]
        self._server = subprocess.Popen(
            [self._bin["postgres"], "-D", str(self._folder / "data"), *options],
            cwd=self._folder,
            **_QUIET,
            **self._user,
        )
        wait_until(self._ready, "PostgreSQL answers")

    def stop(self, *, at_once: bool = False) -> None:
        """Stop it; ``at_once`` as if it had lost its power: clients are cut, nothing is tidied."""
        if self._server is None:
            return
        self._server.send_signal(signal.SIGQUIT if at_once else signal.SIGINT)
        self._server.wait(PATIENCE)
        self._server = None

    def create(self, database: str) -> str:
        """A new, empty database; its address. One of that name again gets a number too."""
        self._made.append(database)
        if (nth := self._made.count(database)) > 1:
            database = f"{database}-{nth}"
        self.ask(f'CREATE DATABASE "{database}"')
        return self.url(database)

    def ask(self, script: str, *options: str, database: str = "postgres") -> str:
        """What ``psql`` says to statements. Raises ``AssertionError`` with what it complains of."""
        done = self._psql(script, *options, database=database)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def _ready(self) -> bool:
        assert self._server is not None and self._server.poll() is None, "PostgreSQL ended"
        return self._psql("SELECT 1").returncode == 0

    def _psql(
        self, script: str, *options: str, database: str = "postgres"
    ) -> subprocess.CompletedProcess[str]:
        address = ["-h", "127.0.0.1", "-p", str(self.port), "-U", "weighd", "-d", database]
        return subprocess.run(
            [self._bin["psql"], *address, "-X", "-q", "-v", "ON_ERROR_STOP=1", *options],
            input=script,
            capture_output=True,
            text=True,
            timeout=PATIENCE,
            cwd=self._folder,
        )


class Mosquitto:
    """An MQTT broker of its own on loopback, without passwords; ``lines`` are added to its file."""

    def __init__(self, *lines: str) -> None:
        self._bin = program("mosquitto")
        self._folder = Path(tempfile.mkdtemp(prefix="weighd-mqtt-"))
        self._server: subprocess.Popen[bytes] | None = None
        self.port = free_port()
        said = [f"listener {self.port} 127.0.0.1", "allow_anonymous true", *lines]
        (self._folder / "broker.conf").write_text("\n".join(said) + "\n")

    def __enter__(self) -> Mosquitto:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()
        shutil.rmtree(self._folder, ignore_errors=True)

    def start(self) -> None:
        """Start it, also after :meth:`stop`: on the same port, with nothing retained."""
        self._server = subprocess.Popen(
            [self._bin, "-c", str(self._folder / "broker.conf")], cwd=self._folder, **_QUIET
        )
        wait_until(lambda: answers(self.port), "the broker answers")

    def stop(self) -> None:
        """End it; clients are cut."""
        if self._server is None:
            return
        self._server.kill()
        self._server.wait(PATIENCE)
        self._server = None
