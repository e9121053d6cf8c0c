"""One SQLite file as the place of a record.

1. The log (WAL) is synced with every commit (``synchronous=FULL``): what is committed survives a
   power cut. One connection writes and is held for the process's life; reads have connections
   of their own and never wait for it.
2. A commit whose sync fails is rolled back here, but its pages stand in the log, whole, and
   SQLite would take them for a commit if the process died before the next one wrote over them.
   So they are written over at once (:meth:`SqliteStore._void`). What remains: power lost between
   a failed sync and the next that succeeds. Then the disk decides whether the entry is there;
   the chain is whole either way, and its key makes a repeated command act once.
3. Nobody opens the file but SQLite: closing any other handle of it would drop the locks that
   SQLite holds in this process (POSIX locks; https://sqlite.org/howtocorrupt.html, 2.2).
"""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path
from typing import TypeVar

from sqlalchemy import Connection, Engine, create_engine, insert
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool, QueuePool

from weighd.domain.errors import JournalError
from weighd.storage import migrate, schema, views
from weighd.storage.before_upgrade import keep_copy
from weighd.storage.faults import fault, of_sqlite, of_system
from weighd.storage.lock import FileLock
from weighd.storage.syncing import sync

T = TypeVar("T")

#: How long to wait for another program (a person with the database shell) to let go.
PATIENCE_S = 2.0
#: How often a read of a quiet file starts again because a daemon came to life meanwhile.
MOST_TRIES = 20
#: A database of SQLite has one page at least (https://sqlite.org/fileformat2.html, 1.3.2).
SMALLEST = 512
#: What a rollback journal of SQLite begins with.
JOURNAL = bytes.fromhex("d9d505f920a163d7")


class SqliteStore:
    """A record's file, held by the one daemon that writes to it."""

    def __init__(self, path: Path) -> None:
        """Open the file; make it if there is none, copy it and bring it up to date if it is older.

        Raises :class:`JournalError`; a file that is newer, or not ours, is not touched.
        """
        self._path = path = path.resolve()
        look(path)
        _make_folder(path.parent, path)
        self._lock = FileLock(path)
        self._turn = threading.Lock()
        self._writer: Connection | None = None
        self._reader: Engine | None = None
        self._inode: tuple[int, int] | None = None
        #: The copy of the record as it was before it was brought up to date, where it was.
        self.copied: Path | None = None
        try:
            revision = look(path)  # again: now nobody else can change it
            if revision is not None and revision != schema.REVISIONS[-1]:
                older = revision
                self.copied = quietly(path, lambda source: keep_copy(path, older, source))
            self._write_engine = create_engine(
                "sqlite://", creator=self._open_writer, poolclass=NullPool
            )
            self._write(lambda connection: _bring_up_to_date(connection, revision))
            self._inode = _inode(path)
            self._reader = create_engine(
                "sqlite://",
                creator=self._open_reader,
                poolclass=QueuePool,
                pool_size=4,
                max_overflow=-1,
            )
        except BaseException:
            self.close()
            raise

    def read(self, question: Callable[[Connection], T]) -> T:
        """Ask one thing; all that is asked inside sees the record at one moment."""
        if self._reader is None:
            raise fault("store-closed", self._path)
        try:
            with self._reader.connect() as connection:
                connection.exec_driver_sql("BEGIN")
                return question(connection)
        except (DBAPIError, sqlite3.Error) as error:
            raise _fault_of(error, self._path) from error

    def write(self, change: Callable[[Connection], T]) -> T:
        """Make a change: when this returns it is durable, when it raises there is none of it."""
        if self._reader is None:
            raise fault("store-closed", self._path)
        if _inode(self._path) != self._inode:
            # Writes to a deleted file succeed, and are lost.
            raise fault("store-gone", self._path, writing=True)
        return self._write(change)

    def close(self) -> None:
        """Let go of the file. Does nothing the second time."""
        with self._turn:
            reader, self._reader = self._reader, None
            if reader is not None:
                reader.dispose()
            self._drop_writer()
            self._lock.release()

    def _write(self, change: Callable[[Connection], T]) -> T:
        with self._turn:
            try:
                if self._writer is None:
                    self._writer = self._write_engine.connect()
                raw = self._raw(self._writer)
                # Past SQLAlchemy, which has the driver do no more, and takes as long as it.
                raw.execute("BEGIN IMMEDIATE")
                result = change(self._writer)
                raw.execute("COMMIT")
                if self._writer.in_transaction():  # as it has it, where it was asked anything
                    self._writer.commit()
            except BaseException as error:
                self._roll_back()
                if not isinstance(error, DBAPIError | sqlite3.Error):
                    raise
                if _code(error) & 0xFF == sqlite3.SQLITE_IOERR:
                    self._void()
                raise _fault_of(error, self._path, writing=self._inode is not None) from error
            return result

    def _roll_back(self) -> None:
        if self._writer is None:
            return
        try:
            self._writer.rollback()
            # A commit that failed is over for SQLAlchemy, but may not be for SQLite.
            self._raw(self._writer).rollback()
        except (DBAPIError, sqlite3.Error):
            self._drop_writer()

    def _void(self) -> None:
        """Write over what a commit that could not be synced left in the log.

        Any small commit in its place does: the sums of the log run on from page to page, so the
        pages after it no longer fit. It need not reach the disk either to stand before the old
        pages for whoever opens the file next. ``user_version`` has no other use.
        """
        if self._writer is None:
            return
        connection = self._raw(self._writer)
        with suppress(sqlite3.Error):
            connection.execute("BEGIN IMMEDIATE")
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            connection.execute(f"PRAGMA user_version = {(version + 1) % 1_000_000}")
            connection.commit()
        with suppress(sqlite3.Error):
            connection.rollback()

    def _drop_writer(self) -> None:
        writer, self._writer = self._writer, None
        if writer is not None:
            with suppress(DBAPIError, sqlite3.Error):
                writer.close()

    @staticmethod
    def _raw(connection: Connection) -> sqlite3.Connection:
        raw = connection.connection.driver_connection
        assert isinstance(raw, sqlite3.Connection)
        return raw

    def _open_writer(self) -> sqlite3.Connection:
        connection = _connect(self._path, "mode=rwc" if self._inode is None else "mode=rw")
        try:
            mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
        except BaseException:
            connection.close()
            raise
        if not os.access(self._path, os.W_OK):
            # SQLite opens such a file to be read, and says so only when something is weighed.
            connection.close()
            raise fault("store-read-only", self._path)
        if mode != "wal":
            connection.close()
            raise fault("store-failed", self._path, "no log can be kept on this file system")
        return connection

    def _open_reader(self) -> sqlite3.Connection:
        connection = _connect(self._path, "mode=ro")
        # Half a megabyte of pages to each by itself; the system keeps them all once, besides.
        connection.execute("PRAGMA cache_size = -512")
        return connection


class QuietStore:
    """A record's file, opened to be read: by verification and exports, beside a daemon or not.

    Nothing is written and, where the daemon is not running, no file is made beside it.
    """

    def __init__(self, path: Path) -> None:
        """Look at the file. Raises :class:`JournalError` when it is not one to read."""
        self._path = path = path.resolve()
        if not path.exists():
            raise fault("store-missing", path, "there is no such file")
        revision = look(path)
        if revision is None:
            raise fault("store-not-ours", path, "it is empty")
        if revision != schema.REVISIONS[-1] and revision not in schema.SAME_RECORD:
            raise fault("store-older", path)

    def read(self, question: Callable[[Connection], T]) -> T:
        """Ask one thing; all that is asked inside sees the record at one moment."""

        def ask(connection: sqlite3.Connection) -> T:
            engine = create_engine("sqlite://", creator=lambda: connection, poolclass=NullPool)
            with engine.connect() as asked:
                asked.exec_driver_sql("BEGIN")
                return question(asked)

        return quietly(self._path, ask)

    def write(self, change: Callable[[Connection], T]) -> T:  # noqa: ARG002  (a Store's call)
        """Refuse: this was opened to be read."""
        raise fault("store-read-only", self._path, "it was opened to be read", writing=True)

    def close(self) -> None:
        """Nothing is held between two reads."""


def look(path: Path) -> str | None:
    """The revision of the database at ``path``; ``None`` when there is none yet. Touches nothing.

    Raises :class:`JournalError`: ``store-newer``, ``store-not-ours``, ``store-corrupt``.
    """
    if not path.exists():
        return None
    if not path.is_file():
        raise fault("store-not-ours", path)
    if _was_being_made(path):
        return None
    size = path.stat().st_size
    if 0 < size < SMALLEST:  # SQLite would take the shortest of these for empty
        raise fault("store-not-ours", path)
    if size == 0:
        if _has_log(path):  # SQLite would take the log of an emptied file for rubbish
            raise fault("store-corrupt", path, "it was emptied; its log is beside it")
        return None
    try:
        revisions = quietly(path, _revisions)
    except JournalError as error:
        if _code(error.__cause__) & 0xFF == sqlite3.SQLITE_NOTADB:
            raise fault("store-not-ours", path) from error
        raise
    if revisions is None:
        return None
    if len(revisions) != 1:
        raise fault("store-not-ours" if not revisions else "store-corrupt", path)
    if revisions[0] not in schema.REVISIONS:
        raise fault("store-newer", path)
    return revisions[0]


def _revisions(connection: sqlite3.Connection) -> list[str] | None:
    """The revisions noted in a database; ``None`` for an empty one, none for another's."""
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    if not tables and application in (0, schema.APPLICATION_ID):
        return None
    if application != schema.APPLICATION_ID or schema.VERSION.name not in tables:
        return []
    return [str(one) for (one,) in connection.execute("SELECT version_num FROM alembic_version")]


def quietly(path: Path, ask: Callable[[sqlite3.Connection], T]) -> T:
    """Ask a file that others may write to, or nobody; make no file beside it.

    Without a log nobody has it open: it is read as it stands (``immutable``), and again if it
    changed meanwhile. With a log the daemon runs, or died: SQLite reads both, writing neither.
    """
    for _ in range(MOST_TRIES):
        before = _stamp(path)
        mode = "mode=ro" if before[-1] else "mode=ro&immutable=1"
        try:
            with closing(_connect(path, mode)) as connection:
                answer = ask(connection)
        except (DBAPIError, sqlite3.Error) as error:
            if not before[-1] and _stamp(path) != before:
                continue
            raise _fault_of(error, path) from error
        if before[-1] or _stamp(path) == before:
            return answer
    raise fault("store-locked", path)


def _connect(path: Path, query: str) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?{query}",
        uri=True,
        timeout=PATIENCE_S,
        isolation_level=None,  # transactions are begun in so many words
        check_same_thread=False,  # one thread at a time is seen to by whoever holds it
    )
    if "mode=ro" in query:
        connection.execute("PRAGMA query_only = ON")
    return connection


def _bring_up_to_date(connection: Connection, revision: str | None) -> None:
    if revision is None:
        schema.METADATA.create_all(connection)
        views.make_views(connection)
        connection.execute(insert(schema.VERSION).values(version_num=schema.REVISIONS[-1]))
        connection.exec_driver_sql(f"PRAGMA application_id = {schema.APPLICATION_ID}")
    elif revision != schema.REVISIONS[-1]:
        migrate.upgrade(connection)


def _stamp(path: Path) -> tuple[int, int, bool]:
    try:
        stat = path.stat()
    except OSError as error:
        raise of_system(error, path) from error
    return stat.st_mtime_ns, stat.st_size, path.with_name(path.name + "-wal").exists()


def _was_being_made(path: Path) -> bool:
    """Whether the power went while the file was made: SQLite will take it back to nothing.

    The journal that it does this by says how many pages there were before
    (https://sqlite.org/fileformat2.html, 3).
    """
    try:
        with path.with_name(path.name + "-journal").open("rb") as stream:
            head = stream.read(20)
    except OSError:
        return False
    return head.startswith(JOURNAL) and head[16:] == bytes(4)


def _has_log(path: Path) -> bool:
    try:
        return path.with_name(path.name + "-wal").stat().st_size > 0
    except OSError:
        return False


def _inode(path: Path) -> tuple[int, int] | None:
    try:
        stat = path.stat()
    except OSError:
        return None
    return stat.st_dev, stat.st_ino


def _make_folder(folder: Path, path: Path) -> None:
    """Make the folder of a new record, and see that its name reaches the disk."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    try:
        for one in reversed(missing):
            one.mkdir(exist_ok=True)
            sync(one.parent)
    except OSError as error:
        raise of_system(error, path) from error


def _sqlite_error(error: BaseException | None) -> BaseException | None:
    return error.orig if isinstance(error, DBAPIError) else error


def _code(error: BaseException | None) -> int:
    return int(getattr(_sqlite_error(error), "sqlite_errorcode", 0))


def _fault_of(error: BaseException, path: Path, *, writing: bool = False) -> JournalError:
    cause = _sqlite_error(error)
    assert isinstance(cause, sqlite3.Error)
    return of_sqlite(cause, path, writing=writing)
