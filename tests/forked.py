"""weighd as a process of its own, forked from one that has imported it already.

Most of what a short command takes is bringing in its modules. A test that asks for many commands,
or for a daemon, asks a process that did so once for a fork: with arguments, folder, environment and
streams of its own, signals and an exit code like any other. What depends on how a fresh interpreter
starts (what is imported when, say) is tested with ``subprocess``.

``WEIGHD_FORK=0`` starts a fresh interpreter each time.
"""

from __future__ import annotations

import atexit
import contextlib
import gc
import json
import os
import random
import select
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any, NoReturn

WEIGHD = Path(sys.executable).with_name("weighd")
#: What a request may take: arguments and environment as JSON.
LARGEST = 1 << 20


class Forked:
    """A running ``weighd ARGUMENTS``; of ``subprocess.Popen`` it has what tests use."""

    def __init__(
        self,
        arguments: Sequence[str],
        *,
        stdin: int = subprocess.DEVNULL,
        stdout: int,
        stderr: int,
        env: Mapping[str, str] | None = None,
        cwd: Path | None = None,
    ) -> None:
        self.args = [str(WEIGHD), *arguments]
        self.stdout: IO[str] | None = None
        self.returncode: int | None = None
        self._reading = threading.Lock()
        with contextlib.ExitStack() as open_:
            given = []
            for one in (stdin, stdout, stderr):
                number = one
                if one == subprocess.DEVNULL:
                    number = os.open(os.devnull, os.O_RDWR)
                    open_.callback(os.close, number)
                elif one == subprocess.PIPE:
                    reading, number = os.pipe()
                    open_.callback(os.close, number)
                    self.stdout = os.fdopen(reading, encoding="utf-8")
                given.append(number)
            asked = {
                "argv": self.args,
                "env": dict(os.environ if env is None else env),
                "cwd": str(cwd or Path.cwd()),
            }
            self._line = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
            self._line.connect(_server())
            socket.send_fds(self._line, [json.dumps(asked).encode()], given)
            self.pid = int(self._line.recv(64))

    def poll(self) -> int | None:
        """Its exit code once it has ended."""
        return self._ended(0)

    def wait(self, timeout: float | None = None) -> int:
        """Its exit code. Raises ``subprocess.TimeoutExpired``."""
        code = self._ended(timeout)
        if code is None:
            raise subprocess.TimeoutExpired(self.args, timeout or 0)
        return code

    def send_signal(self, number: int) -> None:
        """Send a signal, unless it has ended."""
        if self.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, number)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """End it."""
        self.send_signal(signal.SIGKILL)

    def _ended(self, timeout: float | None) -> int | None:
        if self.returncode is None:
            ready, _, _ = select.select([self._line], [], [], timeout)
            with self._reading:  # one thread may wait while another asks
                if ready and self.returncode is None:
                    self.returncode = int(self._line.recv(64) or b"-9")
        return self.returncode


def start(
    arguments: Sequence[object],
    *,
    stdout: int,
    stderr: int,
    env: Mapping[str, str] | None = None,
) -> Forked | subprocess.Popen[str]:
    """``weighd ARGUMENTS``, running; ``stdout`` may be ``subprocess.PIPE``."""
    words = list(map(str, arguments))
    if os.environ.get("WEIGHD_FORK") == "0":
        return subprocess.Popen(
            [str(WEIGHD), *words], stdout=stdout, stderr=stderr, text=True, env=env
        )
    return Forked(words, stdout=stdout, stderr=stderr, env=env)


def run(
    *arguments: object, stdin: bytes = b"", seconds: float = 60, cwd: Path | None = None
) -> subprocess.CompletedProcess[str]:
    """``weighd ARGUMENTS`` to its end. Raises ``subprocess.TimeoutExpired``."""
    words = list(map(str, arguments))
    if os.environ.get("WEIGHD_FORK") == "0":
        plain = subprocess.run(
            [str(WEIGHD), *words], input=stdin, capture_output=True, timeout=seconds, cwd=cwd
        )
        said = plain.stdout.decode(), plain.stderr.decode()
        return subprocess.CompletedProcess(plain.args, plain.returncode, *said)
    with (
        tempfile.TemporaryFile() as given,
        tempfile.TemporaryFile() as out,
        tempfile.TemporaryFile() as errors,
    ):
        given.write(stdin)
        given.seek(0)
        one = Forked(
            words, stdin=given.fileno(), stdout=out.fileno(), stderr=errors.fileno(), cwd=cwd
        )
        try:
            code = one.wait(seconds)
        except BaseException:
            one.kill()
            raise
        out.seek(0)
        errors.seek(0)
        return subprocess.CompletedProcess(
            one.args, code, out.read().decode(), errors.read().decode()
        )


# --- the process that forks --------------------------------------------------------------------

_running: list[tuple[subprocess.Popen[bytes], str]] = []


def _server() -> str:
    """The address of this process's own server, which is started at the first call."""
    if not _running or _running[-1][0].poll() is not None:
        address = f"\0weighd-tests-{os.getpid()}-{time.monotonic_ns()}"
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.forked", address[1:], "weighd"],  # for /proc/PID/cmdline
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=Path(__file__).parents[1],
        )
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        _running.append((process, address))
        atexit.register(process.kill)
    return _running[-1][1]


def _serve(address: str) -> None:
    """Fork a process for each request until standard input ends, as it does with who started us."""
    import uvicorn  # noqa: F401

    import weighd.cli.app
    import weighd.http.app
    import weighd.main.daemon  # noqa: F401

    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    gc.collect()
    gc.freeze()
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    listener.bind(f"\0{address}")
    listener.listen(64)
    os.write(1, b"ready\n")
    while True:
        ready, _, _ = select.select([listener, 0], [], [])
        if 0 in ready:
            return
        line, _ = listener.accept()
        if os.fork() == 0:
            listener.close()
            signal.signal(signal.SIGCHLD, signal.SIG_DFL)
            _keep(line)
        line.close()


def _keep(line: socket.socket) -> NoReturn:
    """Fork once more, and tell how that ended: only a parent is told."""
    text, numbers, _, _ = socket.recv_fds(line, LARGEST, 3)
    pid = os.fork()
    if pid == 0:
        line.close()
        _become(json.loads(text), numbers)
    for one in numbers:
        os.close(one)
    line.send(str(pid).encode())
    _, status = os.waitpid(pid, 0)
    with contextlib.suppress(OSError):
        line.send(str(os.waitstatus_to_exitcode(status)).encode())
    os._exit(0)


def _become(asked: Mapping[str, Any], numbers: Sequence[int]) -> NoReturn:
    """Be the command: with its streams, folder, environment and arguments, to its exit code."""
    for place, one in enumerate(numbers):
        os.dup2(one, place)
    os.closerange(3, max(numbers) + 1)
    os.environ.clear()
    os.environ.update(asked["env"])
    os.chdir(asked["cwd"])
    random.seed()
    at_once = bool(os.environ.get("PYTHONUNBUFFERED"))
    sys.stdin = sys.__stdin__ = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115
    sys.stdout = sys.__stdout__ = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    sys.stdout.reconfigure(write_through=at_once, line_buffering=at_once)
    sys.stderr = sys.__stderr__ = open(  # noqa: SIM115
        2, "w", encoding="utf-8", errors="backslashreplace", buffering=1, closefd=False
    )
    if "WEIGHD_TESTS_CLOCK" in os.environ:
        hurry(*map(float, os.environ["WEIGHD_TESTS_CLOCK"].split()))
    with contextlib.suppress(OSError):
        Path("/proc/self/comm").write_text("weighd")  # what others see of it
    sys.argv = asked["argv"]
    sys.modules["__main__"].__package__ = ""  # or usage would say "python -m tests..."
    os._exit(_run())


def hurry(since: float, speed: float) -> None:
    """Let a daemon's clock run so fast, as if it had since that moment (seconds since 1970).

    A daemon that is started anew goes on from there, as its record does.
    """
    import weighd.main.daemon as daemon
    from weighd.clock import SystemClock

    def clock() -> SystemClock:
        it = SystemClock(speed)
        it._wall = datetime.fromtimestamp(since + (time.time() - since) * speed, UTC)
        return it

    daemon.SystemClock = clock  # type: ignore[assignment,misc]


def _run() -> int:
    from weighd.cli.app import main

    code = 0
    try:
        main()
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(end.code is not None)
        if isinstance(end.code, str):
            print(end.code, file=sys.stderr)
    except BaseException:  # noqa: BLE001
        traceback.print_exc()
        code = 1
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
    return code


if __name__ == "__main__":
    _serve(sys.argv[1])
