"""What a disk can hold after the power went, from a log of what it was given (``shim.c``).

1. What was written before a sync of its file, and the sync returned, is there.
2. Of what was written since, any 512-byte sectors are there and any are not, in whatever order;
   a truncation likewise. Bytes that were not written to are as they were (SQLite calls a disk of
   that kind safe for overwriting, and so do those who make them).
3. A new, removed or renamed file is known by its folder once that was synced. Of what was done to
   the folder since, some first part is there: file systems keep those in order.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512


@dataclass
class _File:
    """Bytes that are kept for good, and what was done since: writes, and truncations to a size."""

    kept: bytes = b""
    since: list[tuple[int, bytes | None]] = field(default_factory=list)


@dataclass(frozen=True)
class Left:
    """One way the disk may look: file by name. ``told`` is what pages had been told by then."""

    files: dict[str, bytes]
    told: dict[str, int]
    how: str


class Disk:
    """Takes the log, an act at a time; between syncs it says how all might be lost."""

    def __init__(self, chance: random.Random, each: int) -> None:
        self._chance, self._each = chance, each
        self._kept: dict[str, _File] = {}
        self._names: dict[str, _File] = {}
        self._renamed: list[dict[str, _File]] = []
        self.told: dict[str, int] = {}
        self.acts = 0
        self._looked: set[int] = set()

    def take(self, what: str, name: str, at: int, data: bytes) -> Iterator[Left]:
        """One act; before a sync, how the disk may look if the power goes then."""
        self.acts += 1
        if what == "mark":
            key, seq = name.split("\t")
            self.told[key] = int(seq)
        elif what == "sync":
            yield from self._losses(name)
            if not name:
                self._kept, self._renamed = dict(self._names), []
            elif name in self._names:
                one = self._names[name]
                one.kept, one.since = _all(one), []
        elif what in ("write", "truncate"):
            if name not in self._names:
                self._names = {**self._names, name: _File()}
                self._renamed.append(self._names)
            self._names[name].since.append((at, data if what == "write" else None))
        else:
            if what == "unlink":
                self._names = {one: it for one, it in self._names.items() if one != name}
            else:
                to = Path(data.decode()).name
                rest = {one: it for one, it in self._names.items() if one != name}
                self._names = {**rest, to: self._names[name]}
            self._renamed.append(self._names)

    def end(self) -> Iterator[Left]:
        """How the disk may look if the power goes after all of it."""
        yield from self._losses("the end")

    def _losses(self, where: str) -> Iterator[Left]:
        where = f"act {self.acts}, before the sync of {where or 'the folder'}"
        open_ = [one for one in self._names.values() if one.since]
        most = max((len(one.since) for one in open_), default=0)
        ways = [("all", 1.0, most), ("none", 0.0, most)]
        ways += [(f"first {n}", 1.0, n) for n in self._some(most)]
        ways += [(f"all, the last but torn {n}", 0.0, -1) for n in range(2)]
        ways += [
            (f"any {n}", self._chance.choice((0.1, 0.5, 0.9)), most) for n in range(self._each)
        ]
        if not open_:
            ways = ways[:1]
        for how, share, first in ways:
            folders = [self._kept, *self._renamed]
            for names in (folders[-1], self._chance.choice(folders)):
                files = {name: self._left(one, share, first) for name, one in names.items()}
                same = hash((tuple(files.items()), len(self.told)))
                if same not in self._looked:
                    self._looked.add(same)
                    yield Left(files, dict(self.told), f"{where}: {how}")

    def _some(self, most: int) -> list[int]:
        return self._chance.sample(range(1, most), min(max(most - 1, 0), self._each))

    def _left(self, one: _File, share: float, first: int) -> bytes:
        held = bytearray(one.kept)
        torn = first < 0
        for n, (at, data) in enumerate(one.since if torn else one.since[:first]):
            last = torn and n == len(one.since) - 1
            part = (0.5 if last else 1.0) if torn else share
            if data is None:
                if self._chance.random() < part:
                    _size(held, at)
                continue
            for begin, end in _sectors(at, len(data)):
                if self._chance.random() < part:
                    _size(held, max(len(held), end))
                    held[begin:end] = data[begin - at : end - at]
        return bytes(held)


def _sectors(at: int, size: int) -> Iterator[tuple[int, int]]:
    """Where a write falls into sectors."""
    end = at + size
    while at < end:
        upto = min(end, (at // SECTOR + 1) * SECTOR)
        yield at, upto
        at = upto


def _size(held: bytearray, size: int) -> None:
    held.extend(bytes(max(0, size - len(held))))
    del held[size:]


def _all(one: _File) -> bytes:
    held = bytearray(one.kept)
    for at, data in one.since:
        if data is None:
            _size(held, at)
        else:
            _size(held, max(len(held), at + len(data)))
            held[at : at + len(data)] = data
    return bytes(held)


def acts(log: Path, folder: Path) -> Iterator[tuple[str, str, int, bytes]]:
    """The acts of a log on files of a folder (its own name is empty); not the shared memory, which
    no disk keeps."""
    data, here = log.read_bytes(), 0
    while here < len(data):
        end = data.index(b"\n", here)
        what, rest = data[here:end].decode().split("\t", 1)
        path, at, size = rest.rsplit("\t", 2)
        here = end + 1
        carried = data[here : here + int(size)] if what in ("write", "rename") else b""
        here += len(carried)
        name = path if what == "mark" else "" if path == str(folder) else Path(path).name
        if not name.endswith("-shm"):
            yield what, name, int(at), carried
