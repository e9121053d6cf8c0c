"""The solver in a process of its own, which a station starts when asked and ends a while later.

scipy would stay in the daemon for good, with 50 MB of it; and whatever befalls it in there (it is
compiled code, given numbers that people typed) would befall the station.
"""

from __future__ import annotations

import contextlib
import pickle
import subprocess
import sys
import threading
from typing import BinaryIO, cast

from weighd.domain.errors import SolverError
from weighd.domain.problem import Answer, Problem
from weighd.solver.child import give, take

#: Seconds after the last problem until the process ends: who asks again soon waits for no start.
IDLE_S = 60.0
#: Seconds for one answer, the start of the process with it: the solver gives up earlier by itself.
LONGEST_S = 60.0


class Beside:
    """A solver; calls may come from any thread and are met one after the other."""

    def __init__(self, idle_s: float = IDLE_S, longest_s: float = LONGEST_S) -> None:
        self._idle_s, self._longest_s = idle_s, longest_s
        self._turn = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._end: threading.Timer | None = None

    def solve(self, problem: Problem, /) -> Answer:
        """The best solution.

        Raises :class:`SolverError`, ``solver-too-long`` or ``solver-failed``.
        """
        with self._turn:
            if self._end is not None:
                self._end.cancel()
            found = self._ask(pickle.dumps(problem))
            self._end = threading.Timer(self._idle_s, self.close)
            self._end.daemon = True
            self._end.start()
        if isinstance(found, tuple):
            code, message, remedy = found
            raise SolverError(code, message, remedy=remedy)
        return found

    def close(self) -> None:
        """Let go of the process; another one is started by the next problem."""
        with self._turn:
            if self._end is not None:
                self._end.cancel()
            self._let_go()

    def _ask(self, data: bytes) -> Answer | tuple[str, str, str]:
        process, late = self._running(), threading.Event()

        def too_long() -> None:
            late.set()
            process.kill()

        watch = threading.Timer(self._longest_s, too_long)
        watch.daemon = True
        watch.start()
        answer = None
        with contextlib.suppress(OSError):
            give(_pipe(process.stdin), data)
            answer = take(_pipe(process.stdout))
        watch.cancel()
        if answer is None:
            self._let_go()
            if late.is_set():
                raise SolverError(
                    "solver-too-long",
                    f"No answer was found within {self._longest_s:.0f} s.",
                    remedy="Give fewer ingredients or fewer targets.",
                )
            raise SolverError("solver-failed", "The solver broke off.", remedy="Ask once more.")
        found: Answer | tuple[str, str, str] = pickle.loads(answer)  # noqa: S301 - our own process's
        return found

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is None or self._process.poll() is not None:
            self._let_go()
            command = [sys.executable, "-m", "weighd.solver.child"]
            try:
                self._process = subprocess.Popen(  # noqa: S603 - our own module
                    command, stdin=subprocess.PIPE, stdout=subprocess.PIPE
                )
            except OSError as error:
                raise SolverError(
                    "solver-failed", f"The solver cannot be started: {error.strerror or error}."
                ) from error
        return self._process

    def _let_go(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        for pipe in (process.stdin, process.stdout):
            with contextlib.suppress(OSError):
                _pipe(pipe).close()
        process.kill()
        process.wait()


def _pipe(pipe: object) -> BinaryIO:
    assert pipe is not None
    return cast(BinaryIO, pipe)
