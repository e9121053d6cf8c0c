"""What went wrong with the record's file, in a cook's words.

SQLite's result codes are those of https://sqlite.org/rescode.html; Python gives them as
``sqlite_errorcode``.
"""

from __future__ import annotations

import errno
import os
import sqlite3
from pathlib import Path

from weighd.domain.errors import JournalError

#: Less free space than this is "full": a page of the log and of its index must fit.
LEAST_FREE = 64 * 1024

#: The folder of the copies that are made before an older record is brought up to date.
FOLDER = "before-upgrade"
_WHOLE = "The file was not touched."
_SAFE = "What was recorded before is safe."
_TEXTS = {
    "store-full": (
        "The disk is full.",
        f"Free some space and try again. {_SAFE}",
    ),
    "store-read-only": (
        "The record's file or its folder cannot be written.",
        "Give weighd the right to write there, or name another place in the configuration.",
    ),
    "store-io": (
        "The disk failed.",
        f"Look at the disk and its cable, then try again. {_SAFE}",
    ),
    "store-locked": (
        "Another program is writing to the record.",
        "Close it and try again.",
    ),
    "store-corrupt": (
        "The record's file is damaged.",
        "Stop the station, keep the file, and put back a copy.",
    ),
    "store-missing": (
        "The record's file cannot be opened.",
        "Check that the folder is there and can be read.",
    ),
    "store-gone": (
        "The record's file was moved, replaced or deleted while the station ran.",
        "Put it back, or restart the station.",
    ),
    "store-in-use": (
        "Another weighd keeps its record in this file.",
        "Stop that one first, or name another file in the configuration.",
    ),
    "store-newer": (
        "A newer weighd wrote this record; this one would not understand it.",
        f"Use that one or a later one, or put back the copy in {FOLDER} beside it. {_WHOLE}",
    ),
    "store-older": (
        "An older weighd wrote this record, and it was opened only to be read.",
        "Start the station once to bring it up to date.",
    ),
    "store-not-ours": (
        "This file is not a record of weighd.",
        f"Name another in the configuration. {_WHOLE}",
    ),
    "store-closed": ("The record is closed.", "Open it again."),
    "store-failed": ("The record cannot be used.", "Restart the station."),
}

_CODES = {
    sqlite3.SQLITE_FULL: "store-full",
    sqlite3.SQLITE_READONLY: "store-read-only",
    sqlite3.SQLITE_PERM: "store-read-only",
    sqlite3.SQLITE_IOERR: "store-io",
    sqlite3.SQLITE_BUSY: "store-locked",
    sqlite3.SQLITE_LOCKED: "store-locked",
    sqlite3.SQLITE_CORRUPT: "store-corrupt",
    sqlite3.SQLITE_NOTADB: "store-corrupt",
    sqlite3.SQLITE_CANTOPEN: "store-missing",
}

_ERRNOS = {
    errno.ENOSPC: "store-full",
    errno.EDQUOT: "store-full",
    errno.EROFS: "store-read-only",
    errno.EACCES: "store-read-only",
    errno.EPERM: "store-read-only",
    errno.EIO: "store-io",
    errno.ENOENT: "store-missing",
    errno.ENOTDIR: "store-missing",
    errno.EISDIR: "store-not-ours",
}


def fault(code: str, path: Path, detail: str = "", *, writing: bool = False) -> JournalError:
    """The error of a code. ``writing``: something was to be recorded, and was not."""
    message, remedy = _TEXTS[code]
    if detail:
        message = f"{message[:-1]} ({detail})."
    if writing:
        message += " Nothing of this was recorded."
    return JournalError(code, message, where=str(path), remedy=remedy)


def of_sqlite(error: sqlite3.Error, path: Path, *, writing: bool = False) -> JournalError:
    """What an error of SQLite means."""
    # Errors that Python raises by itself (a closed connection) carry no code of SQLite's.
    number = getattr(error, "sqlite_errorcode", None)
    code = "store-failed" if number is None else _CODES.get(number & 0xFF, "store-failed")
    if code in ("store-io", "store-missing") and path.parent.is_dir() and _is_full(path.parent):
        # The index of the log cannot grow on a full disk, and SQLite calls that an I/O error.
        code = "store-full"
    if code in ("store-io", "store-missing") and _is_read_only(path.parent):
        code = "store-read-only"  # a file system that went read-only under an open file
    return fault(code, path, "" if code == "store-full" else str(error), writing=writing)


def of_system(error: OSError, path: Path) -> JournalError:
    """What an error of the operating system means."""
    code = _ERRNOS.get(error.errno or 0, "store-failed")
    return fault(code, path, error.strerror or str(error))


def _is_read_only(folder: Path) -> bool:
    try:
        return bool(os.statvfs(folder).f_flag & os.ST_RDONLY)
    except OSError:
        return False


def _is_full(folder: Path) -> bool:
    try:
        room = os.statvfs(folder)
    except OSError:
        return False
    return room.f_bavail * room.f_frsize < LEAST_FREE
