"""A PostgreSQL database as the place of the records of many stations.

1. The tables are those of a station's own file, the stations side by side: every key begins with
   the station. What is committed is as durable as the server is set to be.
2. A network can cut, hang or answer late. A connection has time limits of its own on both sides,
   and every question a deadline here, after which its socket is shut: whoever swallows bytes
   without an answer cannot hold a thread for ever. A lock that a lost client held is let go by
   the server, by ``idle_in_transaction_session_timeout``.
3. When the answer to a commit is lost it is not known whether it came about: the error says so,
   and whoever wrote asks for the tail before writing again.
4. A text of PostgreSQL cannot hold the character NUL. The record's own text never does (JSON
   escapes it); in a column for people it is written as its picture, U+2400.
"""

from __future__ import annotations

import logging
import os
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import TypeVar

import psycopg
from psycopg.types.string import StrDumper
from sqlalchemy import Connection, create_engine, insert, inspect, select, text
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import QueuePool

from weighd.domain.errors import JournalError
from weighd.storage import migrate, schema, views
from weighd.storage.address import Address
from weighd.storage.postgres_faults import code_of, fault, short
from weighd.storage.rows import without_nul
from weighd.storage.turns import take_tables

for _index in schema.LOT_NAME.indexes:
    if _index.name == "ix_lot_name_own":
        _index.dialect_kwargs["postgresql_where"] = schema.RECEIVED

T = TypeVar("T")

#: Seconds to wait for a connection, for one statement, and for all of a transaction.
CONNECT_S, STATEMENT_S, DEADLINE_S = 10, 30, 300
#: Seconds after which the server gives up a transaction whose client says nothing more; a thin
#: line may take this long for one message.
IDLE_S = 120
#: What is looked for to tell our tables from others' of the same name.
OURS = {"station", "seq", "kind", "at", "batch", "key", "body", "prev", "hash"}

_CLIENT = {
    "application_name": "weighd",
    "client_encoding": "utf-8",
    "connect_timeout": str(CONNECT_S),
    "keepalives_idle": "10",
    "keepalives_interval": "5",
    "keepalives_count": "3",
    "tcp_user_timeout": "20000",  # milliseconds
}
_SESSION = f"""SELECT set_config('statement_timeout', '{STATEMENT_S}s', false),
    set_config('lock_timeout', '{STATEMENT_S}s', false),
    set_config('idle_in_transaction_session_timeout', '{IDLE_S}s', false),
    set_config('timezone', 'UTC', false)"""
# What it warns of when a line is cut is raised as well.
logging.getLogger("psycopg").setLevel(logging.ERROR)

_UNKNOWN = "Whether this was still recorded there is seen when it answers again."


class _Text(StrDumper):
    """Texts as they are, but for NUL."""

    def dump(self, obj: str) -> bytes | bytearray | memoryview | None:
        return super().dump(without_nul(obj))


class PostgresStore:
    """A shared store. Calls may come from any thread, and each may raise ``JournalError``."""

    def __init__(
        self, address: Address, *, make: bool = True, deadline_s: float = DEADLINE_S
    ) -> None:
        """Reach the database; make the tables if there are none, migrate older ones.

        ``make``        ``False`` leaves it as it is, also where it is older: to read it.
        ``deadline_s``  how long one call may take, in seconds.

        Raises :class:`JournalError`: ``store-away``, ``store-refused``, ``store-missing``,
        ``store-newer``, ``store-not-ours`` (these two are not touched), ``store-empty`` and
        ``store-older`` where they must not be made.
        """
        self.address = address
        self._deadline_s = deadline_s
        self._closed = False
        engine = create_engine(
            "postgresql+psycopg://",
            creator=self._connect,
            poolclass=QueuePool,
            pool_size=4,
            max_overflow=-1,
            pool_pre_ping=True,
        )
        self._writer = engine.execution_options(isolation_level="READ COMMITTED")
        self._reader = engine.execution_options(
            isolation_level="REPEATABLE READ", postgresql_readonly=True
        )
        try:
            self._bring_up_to_date(make)
        except BaseException:
            self.close()
            raise

    def read(self, question: Callable[[Connection], T]) -> T:
        """Ask one thing; all that is asked inside sees the record at one moment."""
        self._see_open()
        try:
            with self._reader.connect() as connection, self._in_time(connection):
                return question(connection)
        except (SQLAlchemyError, psycopg.Error) as error:
            raise self._fault_of(error) from error

    def write(self, change: Callable[[Connection], T]) -> T:
        """Make a change: when this returns it is durable, when it raises there is none of it.

        But for ``store-away`` with a commit under way: then it may have come about.
        """
        self._see_open()
        committing = False
        try:
            with self._writer.connect() as connection, self._in_time(connection):
                result = change(connection)
                committing = True
                connection.commit()
                return result
        except (SQLAlchemyError, psycopg.Error) as error:
            raise self._fault_of(error, _UNKNOWN if committing else "") from error

    def close(self) -> None:
        """Let go of the connections. Does nothing the second time."""
        self._closed = True
        self._writer.dispose()

    def _bring_up_to_date(self, make: bool) -> None:
        revision = self.read(self._revision)
        if revision == schema.REVISIONS[-1]:
            return
        if make:
            try:
                self.write(self._make)
            except JournalError as error:
                if error.code != "store-refused":
                    raise
                code = "store-empty" if revision is None else "store-older"
                raise fault(code, self.address.shown) from error
        elif revision is None:
            raise fault("store-empty", self.address.shown)
        elif revision not in schema.SAME_RECORD:
            raise fault("store-older", self.address.shown)

    def _make(self, connection: Connection) -> None:
        take_tables(connection)
        revision = self._revision(connection)  # again: another may have done it meanwhile
        if revision is None:
            schema.METADATA.create_all(connection)
            views.make_views(connection)
            connection.execute(insert(schema.VERSION).values(version_num=schema.REVISIONS[-1]))
        elif revision != schema.REVISIONS[-1]:
            migrate.upgrade(connection)

    def _revision(self, connection: Connection) -> str | None:
        """Which revision the database is at; ``None`` for one without tables of ours."""
        encoding = connection.execute(text("SHOW server_encoding")).scalar_one()
        if encoding != "UTF8":
            raise fault("store-not-ours", self.address.shown, f"it is in {encoding}, not in UTF8")
        looked = inspect(connection)
        there = set(looked.get_table_names())
        ours = there & set(schema.METADATA.tables)
        if not ours:
            return None
        if not {schema.VERSION.name, schema.ENTRY.name} <= ours:
            raise fault("store-not-ours", self.address.shown)
        columns = {one["name"] for one in looked.get_columns(schema.ENTRY.name)}
        noted = connection.scalars(select(schema.VERSION.c.version_num)).all()
        if not columns >= OURS or len(noted) != 1:
            raise fault("store-not-ours", self.address.shown)
        if noted[0] not in schema.REVISIONS:
            raise fault("store-newer", self.address.shown)
        return str(noted[0])

    def _connect(self) -> psycopg.Connection[tuple[object, ...]]:
        connection = psycopg.connect("", **{**_CLIENT, **self.address.options})  # type: ignore[arg-type]
        try:
            connection.adapters.register_dumper(str, _Text)
            connection.autocommit = True  # one journey instead of three
            connection.execute(_SESSION)
            connection.autocommit = False
        except BaseException:
            connection.close()
            raise
        return connection

    @contextmanager
    def _in_time(self, connection: Connection) -> Iterator[None]:
        """Shut the connection's socket when this takes longer than it may."""
        raw = connection.connection.driver_connection
        assert isinstance(raw, psycopg.Connection)
        end = threading.Timer(self._deadline_s, _shut, (raw.fileno(),))
        end.daemon = True
        end.start()
        try:
            yield
        finally:
            end.cancel()

    def _see_open(self) -> None:
        if self._closed:
            raise fault("store-closed", self.address.shown)

    def _fault_of(self, error: BaseException, then: str = "") -> JournalError:
        cause = error.orig if isinstance(error, DBAPIError) else error
        words = short(str(cause), self.address.secret)
        if isinstance(cause, psycopg.OperationalError | psycopg.InterfaceError):
            code = code_of(cause.sqlstate, words)
        elif isinstance(cause, psycopg.Error):
            code = code_of(cause.sqlstate, words) if cause.sqlstate else "store-failed"
        else:
            code = "store-failed"
        return fault(code, self.address.shown, words, then=then)


def _shut(number: int) -> None:
    with suppress(OSError):
        one = socket.socket(fileno=os.dup(number))
        with one:
            one.shutdown(socket.SHUT_RDWR)
