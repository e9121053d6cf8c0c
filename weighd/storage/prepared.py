"""Statements that every entry needs, put into SQL once and not at each entry.

Making a statement out of parts, looking up that it was made before, and making a result of what it
gave takes SQLAlchemy longer than SQLite takes to do what it says. So SQLite is asked directly; what
it raises is then its own error, which whoever holds the connection knows.
"""

from __future__ import annotations

import sqlite3
from typing import Any, Protocol

from sqlalchemy import (
    Column,
    Connection,
    Delete,
    Insert,
    Select,
    Table,
    Update,
    bindparam,
)
from sqlalchemy.sql.elements import BindParameter


class Prepared:
    """A statement whose values are all given by name: ``prepared(connection, name=value, ...)``.

    Only for columns of texts and whole numbers, which need no turning into what a driver takes.
    """

    def __init__(self, statement: Select[Any] | Insert | Update | Delete) -> None:
        self._statement = statement
        self._made: dict[str, tuple[str, list[str] | None]] = {}

    def __call__(self, connection: Connection, **values: Any) -> Answer:
        made = self._made.get(connection.dialect.driver)
        if made is None:
            compiled = self._statement.compile(dialect=connection.dialect)
            order = getattr(compiled, "positiontup", None)
            made = self._made[connection.dialect.driver] = (str(compiled), order)
        text, order = made
        if order is None:
            return connection.exec_driver_sql(text, values)
        row = tuple([values[name] for name in order])
        raw = connection.connection.driver_connection
        if isinstance(raw, sqlite3.Connection):
            return raw.execute(text, row)
        return connection.exec_driver_sql(text, row)


class Answer(Protocol):
    """What a statement gives: its rows, one after the other."""

    def fetchone(self) -> Any: ...

    def fetchall(self) -> Any: ...


def asked(column: Column[Any]) -> BindParameter[Any]:
    """The value that a column is compared with, by its name with ``_is``."""
    return bindparam(f"{column.name}_is", type_=column.type)


def given(table: Table, *names: str) -> dict[str, BindParameter[Any]]:
    """The values that columns get, by their names; of all columns where none is named."""
    wanted = names or tuple(column.name for column in table.columns)
    return {name: bindparam(name, type_=table.c[name].type) for name in wanted}
