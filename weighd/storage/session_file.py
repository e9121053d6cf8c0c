"""Recorded sessions on disk: one line an input, flushed as it is taken."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from weighd.domain.errors import SessionError
from weighd.station.inputs import Command, Input
from weighd.station.session import Header, header_line, line


class SessionFile:
    """A session being recorded. A recording is not a record: a full disk ends it, no more.

    ``most``   bytes it may come to, with the ``older`` files of the same recording. They go, oldest
               first, where it would be more; then it ends. ``None`` for no bound.
    ``ended``  called with its path and why, where it ends by itself.
    """

    def __init__(
        self,
        path: Path,
        header: Header,
        most: int | None = None,
        older: Sequence[Path] = (),
        ended: Callable[[Path, str], None] = lambda _path, _why: None,
    ) -> None:
        self.path = path
        self.failed = ""
        #: When somebody asked for something last, by the station's clock.
        self.asked_s = 0.0
        self._lock = threading.Lock()
        self._most, self._size, self._ended = most, 0, ended
        self._older = [(one, one.stat().st_size) for one in older]
        try:
            # "x": a recording never overwrites another.
            self._file = path.open("xb")
        except OSError as error:
            raise SessionError(
                "cannot-record",
                f"The session cannot be written: {error.strerror or error}.",
                where=str(path),
                remedy="Name a file that does not exist yet.",
            ) from error
        self._put(header_line(header))
        self._header = self._size

    @property
    def due(self) -> bool:
        """Whether another file had better follow: it has half of what there is room for, and more
        than how it begins."""
        return self._most is not None and self._size > max(self._most // 2, 2 * self._header)

    def write(self, event: Input) -> None:
        """Add one input, from whatever thread."""
        if isinstance(event, Command):
            self.asked_s = event.t
        text = line(event)
        if text is not None and not self.failed:
            self._put(text)

    def close(self) -> None:
        """End the recording; a second call does nothing."""
        with self._lock:
            self._file.close()

    def _put(self, text: str) -> None:
        data = text.encode() + b"\n"
        with self._lock:
            if self._file.closed:
                return
            try:
                if self._fits(len(data)):
                    self._file.write(data)
                    self._file.flush()
                    self._size += len(data)
                else:
                    self._fail(f"it has come to the {self._most} bytes that it may have")
            except (OSError, ValueError) as error:
                self._fail(str(error))

    def _fail(self, why: str) -> None:
        self.failed = why
        self._ended(self.path, why)

    def _fits(self, more: int) -> bool:
        """Whether there is room for so many bytes, once older files have made some."""
        if self._most is None:
            return True
        while self._older and self._size + more + sum(size for _, size in self._older) > self._most:
            gone, _ = self._older.pop(0)
            gone.unlink(missing_ok=True)
        return self._size + more <= self._most


def session_lines(path: Path) -> Iterator[str]:
    """The lines of a session file, lazily. Raises :class:`SessionError` when it cannot be read.

    Every line is written with its end; a last one without may be half a line, left by a full disk
    or a power cut, and is passed over where it is.
    """
    try:
        with path.open(encoding="utf-8") as stream:
            for text in stream:
                if text.endswith("\n") or _whole(text):
                    yield text
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not text in UTF-8"
        raise SessionError(
            "unreadable-session", f"The session cannot be read: {reason}.", where=str(path)
        ) from error


def _whole(text: str) -> bool:
    try:
        json.loads(text)
    except (ValueError, RecursionError):
        return False
    return True
