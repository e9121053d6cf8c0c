"""A copy of an older record, made before it is brought up to date: the way back.

A newer weighd's record cannot be read by an older one. The copy can, with all that was in the
database then; what was recorded after it is only in the newer one.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from weighd.storage.faults import FOLDER, fault, of_system
from weighd.storage.syncing import sync

#: How many of them are kept: each was followed by a newer weighd that went on well.
KEPT = 3
#: The copy, the migration's own log, and as much again to work in.
TIMES = 3
SPARE = 1024 * 1024


def keep_copy(path: Path, revision: str, source: sqlite3.Connection) -> Path:
    """Copy the record at ``path``, which is of an older ``revision``; where the copy is.

    ``source``  the record, opened to be read. A copy of as many entries is written over: it is of
    an upgrade that did not come to its end, or was gone back on.

    Raises :class:`JournalError`, ``store-full`` before anything is written, where there is no
    room for copy and upgrade.
    """
    folder = path.with_name(FOLDER)
    try:
        entries = source.execute("SELECT count(*) FROM entry").fetchone()[0]
        _room(path, source)
        folder.mkdir(mode=0o750, exist_ok=True)
        copy = folder / f"{path.stem}-{revision}-{entries}{path.suffix}"
        part = copy.with_name(copy.name + ".part")
        part.unlink(missing_ok=True)
        os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o640))
        with closing(sqlite3.connect(part)) as into:
            source.backup(into)
            into.execute("PRAGMA journal_mode = DELETE")
        sync(part)
        part.rename(copy)
        sync(folder)
        sync(path.parent)
    except OSError as error:
        raise of_system(error, folder) from error
    _thin(folder, path, copy)
    return copy


def _room(path: Path, source: sqlite3.Connection) -> None:
    pages = source.execute("PRAGMA page_count").fetchone()[0]
    needed = TIMES * pages * source.execute("PRAGMA page_size").fetchone()[0] + SPARE
    room = os.statvfs(path.parent)
    if room.f_bavail * room.f_frsize < needed:
        raise fault(
            "store-full",
            path,
            f"a copy is made before the record is brought up to date, which takes"
            f" {needed / 1e6:.0f} MB",
        )


def _thin(folder: Path, path: Path, newest: Path) -> None:
    """Leave the newest copies. One that cannot be taken away stays."""
    with suppress(OSError):
        older = sorted(
            (one for one in folder.glob(f"{path.stem}-*{path.suffix}") if one != newest),
            key=lambda one: one.stat().st_mtime_ns,
            reverse=True,
        )
        for one in older[KEPT - 1 :]:
            one.unlink()
