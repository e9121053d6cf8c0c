"""A shared store for a test."""

from __future__ import annotations

from sqlalchemy import Connection, delete

from weighd.storage.address import read_address
from weighd.storage.postgres import PostgresStore
from weighd.storage.schema import METADATA, VERSION


def emptied(address: str) -> PostgresStore:
    """The store at an address, with tables and without a row."""

    def empty(connection: Connection) -> None:
        for table in reversed(METADATA.sorted_tables):
            if table is not VERSION:
                connection.execute(delete(table))

    store = PostgresStore(read_address(address))
    store.write(empty)
    return store
