"""One daemon a record: a lock that the system lets go when its holder dies, however it dies."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

from weighd.storage.faults import fault, of_system


class FileLock:
    """Holds ``FILE.lock`` beside a record's file.

    The lock file stays when the lock is released: taking it away would let two daemons hold
    locks on two files of one name. It is not the record's own file, because closing that would
    drop the locks that SQLite holds on it in the same process.
    """

    def __init__(self, path: Path) -> None:
        """Take the lock. Raises :class:`JournalError` ``store-in-use`` when another has it."""
        beside = path.with_name(path.name + ".lock")
        try:
            self._held: int | None = os.open(beside, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        except OSError as error:
            raise of_system(error, path) from error
        try:
            fcntl.flock(self._held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            self.release()
            raise fault("store-in-use", path) from error
        except OSError as error:
            self.release()
            raise of_system(error, path) from error

    def release(self) -> None:
        """Let go. Does nothing the second time."""
        if self._held is not None:
            os.close(self._held)
            self._held = None
