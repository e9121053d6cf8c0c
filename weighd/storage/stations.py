"""Whose records a database holds."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, func, select

from weighd.storage.schema import ENTRY


def stations(connection: Connection) -> list[str]:
    """The stations that have entries, by name: one look into the index for each, however many
    entries there are."""
    out, next_one = list[Any](), select(func.min(ENTRY.c.station))
    while (found := connection.scalar(next_one)) is not None:
        out.append(found)
        next_one = select(func.min(ENTRY.c.station)).where(ENTRY.c.station > found)
    return out


def hash_of(connection: Connection, station: str, seq: int) -> str | None:
    """The hash of a station's entry; ``None`` for one that is not there."""
    wanted = select(ENTRY.c.hash).where(ENTRY.c.station == station, ENTRY.c.seq == seq)
    return connection.scalar(wanted)
