"""What can be done to a record from outside, and what can be seen of it there."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path


def by_hand(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        for one in statements:
            connection.execute(one)


def look_of(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Every file of a folder: its bytes, and when it was last changed.

    Not while this process has a record open there: reading the file drops SQLite's locks on it.
    """
    return {one.name: (one.read_bytes(), one.stat().st_mtime_ns) for one in folder.iterdir()}
