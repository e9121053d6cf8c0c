"""Where a simulated kitchen keeps its record: in memory, or in a database file of its own."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Protocol

from tests.simulation.house import NAME
from tests.simulation.proofs import key_of
from weighd.domain.signing import Signature
from weighd.station.ports import Journal
from weighd.storage.journal import open_journal
from weighd.storage.memory import MemoryJournal

#: A file system in memory, where there is one: what is simulated is no disk.
MEMORY = Path("/dev/shm")


class Store(Protocol):
    """Gives the journal to each life, and clears up after the last."""

    def open(self) -> Journal: ...

    def signatures(self, batch: str) -> Sequence[Signature]: ...

    def clear(self) -> None: ...


class InMemory:
    """What survives a death is the list itself."""

    def __init__(self) -> None:
        self._journal = MemoryJournal(NAME)

    def open(self) -> Journal:
        """The journal, open again."""
        self._journal._closed = False
        return self._journal

    def signatures(self, batch: str) -> Sequence[Signature]:
        """None."""
        return ()

    def clear(self) -> None:
        """Nothing is left."""


class InFile:
    """A database file, signed with a key that follows from the seed."""

    def __init__(self, seed: int) -> None:
        self._key = key_of(seed)
        place = str(MEMORY) if MEMORY.is_dir() else None
        self._folder = Path(tempfile.mkdtemp(prefix="weighd-simulated-", dir=place))
        self._path = self._folder / "weighd.db"
        shutil.copy(_empty(), self._path)

    def open(self) -> Journal:
        """As a start opens it."""
        journal = open_journal(self._path, NAME)
        journal.signer = self._key
        self._journal = journal
        return journal

    def signatures(self, batch: str) -> Sequence[Signature]:
        """What was signed of a batch."""
        return [one for _, one in self._journal.signatures(batch)]

    def clear(self) -> None:
        """Take the file away."""
        shutil.rmtree(self._folder, ignore_errors=True)


@cache
def _empty() -> Path:
    """An empty record, made once."""
    place = str(MEMORY) if MEMORY.is_dir() else None
    path = Path(tempfile.mkdtemp(prefix="weighd-empty-", dir=place)) / "weighd.db"
    open_journal(path, NAME).close()
    return path
