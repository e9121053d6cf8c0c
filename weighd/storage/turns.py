"""Writers of one station one after the other, in a database that lets several write at once."""

from __future__ import annotations

from sqlalchemy import Connection, text

#: Tells our locks from those of other programs in the same database ("weig" in ASCII).
OURS = 0x77656967
#: The lock of whoever makes or changes the tables.
TABLES = "tables"

_LOCK = text("SELECT pg_advisory_xact_lock(:ours, hashtext(:name))")


def take_turn(connection: Connection, station: str) -> None:
    """Wait until nobody else writes for this station, as long as the transaction lasts.

    A file of SQLite has one writer at a time as it is.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(_LOCK, {"ours": OURS, "name": f"station {station}"})


def take_tables(connection: Connection) -> None:
    """Wait until nobody else makes or changes the tables of a PostgreSQL database."""
    connection.execute(_LOCK, {"ours": OURS, "name": TABLES})
