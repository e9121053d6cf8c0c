"""Copies of a record and what belongs to it, taken while the station runs.

A copy is a folder: the record as SQLite's own backup gives it (one moment, whole, however much is
being written), the formulas, the configuration, and ``copy.json`` with the SHA-256 of each file. It
gets its name when it is complete and on the disk, so a copy that was cut short is none.
"""

from __future__ import annotations

import errno
import fcntl
import hashlib
import json
import os
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO

from weighd.domain.errors import JournalError, WeighdError
from weighd.storage.faults import of_system
from weighd.storage.sqlite import quietly
from weighd.storage.syncing import sync

FORMAT = 1
MANIFEST, RECORD, FORMULAS = "copy.json", "record", "formulas"
DATABASE = f"{RECORD}/weighd.db"
#: What the folder of a copy that is not complete ends with.
PART = ".part"
#: What is left of a copy that was cut short is taken away after so long, in seconds.
OLD_S = 24 * 3600
#: More than this in a manifest is no manifest.
LARGEST_MANIFEST = 1024 * 1024
_PLACES = re.compile(rf"(?:{RECORD}|{FORMULAS})/[^/\\\0]+|weighd\.toml")


@dataclass(frozen=True, slots=True)
class Kept:
    """A file of a copy: its place in it, its size, and the SHA-256 of what it holds."""

    place: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Copy:
    """What ``copy.json`` says: whose record it is, of when, and what is in it.

    ``paths``  where data and formulas stood beside the configuration, where they did.
    """

    folder: Path
    station: str
    at: str
    entries: int
    last: str
    version: str
    paths: Mapping[str, str]
    files: tuple[Kept, ...]

    def as_json(self) -> dict[str, Any]:
        return {
            "weighd_copy": FORMAT,
            "station": self.station,
            "at": self.at,
            "entries": self.entries,
            "last": self.last,
            "weighd": self.version,
            "paths": dict(self.paths),
            "files": [
                {"place": one.place, "size": one.size, "sha256": one.sha256} for one in self.files
            ],
        }


def copy_database(source: Path, target: Path) -> None:
    """A database as it stands at one moment, beside whoever writes to it.

    Raises :class:`JournalError`.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    with closing(sqlite3.connect(target)) as into:
        quietly(source, lambda connection: connection.backup(into))
        into.execute("PRAGMA journal_mode = DELETE")


def seal(folder: Path, **facts: Any) -> Copy:
    """Write down what is in a folder, and see that all of it is on the disk."""
    files = []
    for one in sorted(folder.rglob("*")):
        if one.is_file():
            place = one.relative_to(folder).as_posix()
            files.append(Kept(place, one.stat().st_size, digest(one)))
            _sync(one)
    made = Copy(folder, files=tuple(files), **facts)
    text = json.dumps(made.as_json(), ensure_ascii=False, indent=1) + "\n"
    (folder / MANIFEST).write_text(text, encoding="utf-8")
    for one in (folder / MANIFEST, folder / RECORD, folder / FORMULAS, folder):
        if one.exists():
            _sync(one)
    return made


def name(part: Path, whole: Path) -> None:
    """Give a complete copy its name. Raises :class:`JournalError` where it is taken."""
    try:
        part.rename(whole)
    except OSError as error:
        raise of_system(error, whole) from error
    _sync(whole.parent)


def read(folder: Path) -> Copy:
    """What a copy says it holds. Raises :class:`JournalError` ``not-a-copy``."""
    try:
        with (folder / MANIFEST).open("rb") as stream:
            row = json.loads(stream.read(LARGEST_MANIFEST + 1))
        _check_format(row)
        files = tuple(_kept(one) for one in row["files"])
        texts = [str(row[key]) for key in ("station", "at", "last", "weighd")]
        paths = {str(key): str(value) for key, value in row["paths"].items()}
        station, at, last, version = texts
        return Copy(folder, station, at, int(row["entries"]), last, version, paths, files)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise JournalError(
            "not-a-copy",
            f"This is no copy that weighd made ({error}).",
            where=str(folder),
            remedy="Name the folder of one copy; it has copy.json in it.",
        ) from error


def check(copy: Copy) -> None:
    """Whether every file is there as it was. Raises :class:`JournalError` ``copy-damaged``."""
    for one in copy.files:
        path = copy.folder / one.place
        if not path.is_file() or path.is_symlink():
            raise _damaged(path, "it is missing")
        if digest(path) != one.sha256:
            raise _damaged(path, "it is not as it was when the copy was made")
    if DATABASE not in {one.place for one in copy.files}:
        raise _damaged(copy.folder / DATABASE, "it is missing")


def copies(folder: Path, station: str) -> list[Copy]:
    """The copies of a station in a folder, oldest first; what is none, or has no name, is not."""
    found = []
    for one in folder.iterdir():
        named = one.is_dir() and not one.is_symlink() and one.suffix != PART
        if named and (one / MANIFEST).is_file():
            try:
                made = read(one)
            except JournalError:
                continue
            if made.station == station:
                found.append(made)
    return sorted(found, key=lambda made: (made.at, made.folder.name))


def left_over(folder: Path, stem: str, *, now: float) -> list[Path]:
    """What copies of this name left that were cut short, a day ago or earlier; ``now`` in seconds.

    A younger one may be of a copy that is being made.
    """
    found = []
    for one in folder.glob(f"{stem}-*{PART}"):
        if re.fullmatch(rf"{re.escape(stem)}-\d{{8}}T\d{{6}}Z", one.stem) and one.is_dir():
            with suppress(OSError):
                if one.stat().st_mtime < now - OLD_S:
                    found.append(one)
    return found


def remove(older: Iterable[Copy]) -> None:
    """Take copies away. Raises :class:`JournalError` where one cannot be."""
    for one in older:
        try:
            shutil.rmtree(one.folder)
        except OSError as error:
            raise of_system(error, one.folder) from error


def put_back(
    copy: Copy, places: Mapping[str, Path], finish: Callable[[Path], None] = lambda _: None
) -> Sequence[Path]:
    """Put files of a copy where ``places`` says, which must be free; where they are.

    A file that is there already just as the copy has it stays: a putting back that was cut short
    may be begun again.

    ``finish``  what is to be done, also to the record, before that has its name: whatever breaks
                or ends before, there is none.
    Raises :class:`JournalError`; then nothing stays of what it began.
    """
    begun, there = list[Path](), list[Path]()
    record = places[DATABASE]
    part = record.with_name(record.name + PART)
    try:
        record.parent.mkdir(parents=True, exist_ok=True)
        _free(record)
        with _alone(part) as held:
            begun.append(part)
            for one in copy.files:
                if one.place in places and one.place != DATABASE:
                    there.append(_put(copy.folder / one.place, places[one.place], one, begun))
            with (copy.folder / DATABASE).open("rb") as out:
                shutil.copyfileobj(out, held)
            held.flush()
            finish(part)
            _sync(part)
            part.rename(record)
    except FileExistsError as error:
        _take_back(begun)
        raise JournalError(
            "file-exists",
            "Something is there already; nothing was put back.",
            where=str(error.filename),
            remedy="Put it back into a folder where there is no station yet.",
        ) from error
    except OSError as error:
        _take_back(begun)
        raise of_system(error, Path(str(error.filename or copy.folder))) from error
    except WeighdError:
        _take_back(begun)
        raise
    there.append(record)
    for folder in {one.parent for one in there}:
        _sync(folder)
    return there


@contextmanager
def _alone(part: Path) -> Iterator[BinaryIO]:
    """A record to be, empty, for one that puts back. Raises ``FileExistsError`` for another."""
    with os.fdopen(os.open(part, os.O_RDWR | os.O_CREAT, 0o644), "r+b") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(part)) from error
        held.truncate()
        for more in ("-journal", "-wal", "-shm"):  # of one that was cut short: not of this record
            part.with_name(part.name + more).unlink(missing_ok=True)
        yield held


def _free(target: Path) -> None:
    """Nothing may be there. Raises ``FileExistsError``."""
    if target.exists():
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target))


def _put(source: Path, target: Path, one: Kept, begun: list[Path]) -> Path:
    """A file to where there is none, or the same, onto the disk; it has its name when whole."""
    if target.is_file() and digest(target) == one.sha256:
        return target
    _free(target)
    target.parent.mkdir(parents=True, exist_ok=True)
    mode = 0o600 if target.suffix == ".pem" else 0o644
    part = target.with_name(target.name + PART)
    part.unlink(missing_ok=True)  # of one that was cut short
    begun.append(part)
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as into:
        with source.open("rb") as out:
            shutil.copyfileobj(out, into)
        into.flush()
        os.fsync(into.fileno())
    part.rename(target)
    begun.append(target)
    return target


def digest(path: Path) -> str:
    """SHA-256 of a file in hex."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def texts(folder: Path) -> Iterator[Path]:
    """The TOML files of a folder, by name."""
    for one in sorted(folder.glob("*.toml")):
        if one.is_file():
            yield one


def _check_format(row: Mapping[str, Any]) -> None:
    if row["weighd_copy"] != FORMAT:
        raise ValueError("it was made by another version")


def _kept(row: Mapping[str, Any]) -> Kept:
    place = str(row["place"])
    if not _PLACES.fullmatch(place) or ".." in PurePosixPath(place).parts:
        raise ValueError(f"{place!r} is no file of a copy")
    return Kept(place, int(row["size"]), str(row["sha256"]))


def _damaged(path: Path, why: str) -> JournalError:
    return JournalError(
        "copy-damaged",
        f"The copy cannot be used: {why}.",
        where=str(path),
        remedy="Take an older copy.",
    )


def _take_back(written: Iterable[Path]) -> None:
    for one in written:
        one.unlink(missing_ok=True)


def _sync(path: Path) -> None:
    try:
        sync(path)
    except OSError as error:
        raise of_system(error, path) from error
