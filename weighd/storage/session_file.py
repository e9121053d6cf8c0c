"""Recorded sessions on disk: one line an input, flushed as it is taken."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from pathlib import Path

from weighd.domain.errors import SessionError
from weighd.station.inputs import Input
from weighd.station.session import Header, header_line, line


class SessionFile:
    """A session being recorded. A recording is not a record: a full disk ends it, no more."""

    def __init__(self, path: Path, header: Header) -> None:
        self.path = path
        self.failed = ""
        self._lock = threading.Lock()
        try:
            # "x": a recording never overwrites another.
            self._file = path.open("x", encoding="utf-8", newline="\n")
        except OSError as error:
            raise SessionError(
                "cannot-record",
                f"The session cannot be written: {error.strerror or error}.",
                where=str(path),
                remedy="Name a file that does not exist yet.",
            ) from error
        self._put(header_line(header))

    def write(self, event: Input) -> None:
        """Add one input, from whatever thread."""
        text = line(event)
        if text is not None and not self.failed:
            self._put(text)

    def close(self) -> None:
        """End the recording; a second call does nothing."""
        with self._lock:
            self._file.close()

    def _put(self, text: str) -> None:
        with self._lock:
            try:
                self._file.write(text + "\n")
                self._file.flush()
            except (OSError, ValueError) as error:
                self.failed = str(error)


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
