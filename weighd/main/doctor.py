"""What is wrong with a station, or soon will be, and how to mend it: looked at from outside.

Nothing is written but a file that is taken away again, nothing is migrated, and nothing is sent to
a scale but what its configuration sends. Where the station runs, it is asked how it stands, and
what it holds (its scales, its record) is left to it.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path

from weighd import __version__
from weighd.clock import SystemClock
from weighd.config import Config, find, load
from weighd.domain.errors import JournalError, WeighdError
from weighd.main.doctor_door import door, who
from weighd.main.doctor_finding import Finding, Level, of_error
from weighd.main.doctor_links import broker, running, shared_store
from weighd.main.doctor_scales import scales
from weighd.station.clock_doubt import doubt
from weighd.storage.address import shown
from weighd.storage.journal import open_read_only
from weighd.storage.keys import KEY_FILE, read_station_key
from weighd.storage.shelf import FormulaShelf

DATABASE = "weighd.db"
#: A record grows by about this many bytes an addition; less than so many more is soon, or now.
ADDITION_BYTES, SOON, NOW = 5_300, 40_000, 400
#: SQLite before this one has no RETURNING, which the record needs (release notes of SQLite).
OLDEST_SQLITE = (3, 35, 0)


Look = Callable[[Config], Iterator[Finding]]


def examine(
    explicit: Path | None, change: Callable[[Config], Config], listen_s: float
) -> Iterator[Finding]:
    """Everything that is looked at, one finding after the other.

    ``explicit``  the configuration file; ``None`` where it is looked for.
    ``change``    what the command line says instead of the configuration.
    ``listen_s``  for how long each scale is listened to, in seconds.
    """
    yield from _machine()
    try:
        file = find(explicit)
        config = change(load(explicit))
    except WeighdError as error:
        whole = f"{error.where}: {error.message}" if error.where else error.message
        remedy = error.remedy or "Change that line, then look again."
        yield Finding("configuration", Level.BAD, whole, remedy)
        return
    if file is None:
        yield Finding(
            "configuration",
            Level.NOTE,
            "There is none: everything is as it is usually.",
            "weighd serve asks for what it needs on the page.",
        )
    else:
        yield Finding("configuration", Level.OK, "It can be read.", where=str(file))
    up = running(config)
    yield from up.findings
    looks: tuple[Look, ...] = (_formulas, _folder, _record, _key, _page)
    for look in looks:
        yield from look(config)
    yield from door(config, running=up.ours)
    yield from scales(config, 0.0 if up.ours else listen_s, held=up.ours)
    yield from shared_store(config)
    yield from broker(config)


def _machine() -> Iterator[Finding]:
    yield Finding(
        "machine",
        Level.OK,
        f"weighd {__version__}, Python {sys.version.split()[0]}, SQLite {sqlite3.sqlite_version}.",
    )
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        yield Finding(
            "machine",
            Level.BAD,
            f"SQLite {sqlite3.sqlite_version} is too old for the record.",
            "Use a Python that comes with SQLite 3.35 or newer.",
        )


def _formulas(config: Config) -> Iterator[Finding]:
    folder = config.place(config.station.formulas)
    if not folder.is_dir():
        yield Finding(
            "formulas",
            Level.WARN,
            "There is no folder of formulas.",
            "Make it, or paste a formula on the page: the station makes the folder.",
            str(folder),
        )
        return
    try:
        formulas, wrong = FormulaShelf(folder).all()
    except WeighdError as error:
        yield of_error("formulas", error)
        return
    for one in wrong:
        yield of_error("formulas", one, Level.WARN)
    if formulas or not wrong:
        many = f"{len(formulas)} can be used." if formulas else "There is none in the folder yet."
        yield Finding("formulas", Level.OK if formulas else Level.NOTE, many, where=str(folder))


def _folder(config: Config) -> Iterator[Finding]:
    """Whether the record can be written, and for how long."""
    folder = config.place(config.station.data)
    if not folder.exists():
        above = next(one for one in folder.parents if one.exists())
        if os.access(above, os.W_OK):
            yield Finding("folder", Level.NOTE, "It is made at the first start.", where=str(folder))
        else:
            yield Finding(
                "folder",
                Level.BAD,
                "It is not there, and this user cannot make it.",
                "Make it and give it to the user that runs weighd, or name another (data).",
                str(folder),
            )
        return
    try:
        with tempfile.NamedTemporaryFile(dir=folder, prefix=".doctor-") as stream:
            stream.write(b"weighd\n")
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        yield Finding(
            "folder",
            Level.BAD,
            f"Nothing can be written there ({error.strerror or error}).",
            "See to its owner, its rights and its disk.",
            str(folder),
        )
        return
    room = shutil.disk_usage(folder).free // ADDITION_BYTES
    more = f"There is room for about {_round(room)} more additions."
    if room < SOON:
        level = Level.BAD if room < NOW else Level.WARN
        yield Finding("folder", level, more, "Free some space on its disk.", str(folder))
    else:
        yield Finding("folder", Level.OK, f"It can be written. {more}", where=str(folder))


def _round(count: int) -> str:
    """Two digits of a count, the rest noughts: it is an estimate."""
    digits = max(len(str(count)) - 2, 0)
    return f"{count // 10**digits * 10**digits:,}"


def _record(config: Config) -> Iterator[Finding]:
    path = config.place(config.station.data) / DATABASE
    if not path.exists():
        yield Finding("record", Level.NOTE, "There is none yet.", where=str(path))
        yield from _clock("")
        yield from who(config, listed=False)
        return
    try:
        journal = open_read_only(path)
    except WeighdError as error:
        yield of_error("record", error)
        return
    try:
        tail, name, newest = journal.tail(), journal.station, journal.wall().newest
        listed = any(not one.retired for one in journal.people().all())
    except JournalError as error:
        yield of_error("record", error)
        return
    finally:
        journal.close()
    if name and name != config.station.name:
        yield Finding(
            "record",
            Level.BAD,
            f'It is that of station "{name}", and the configuration says "{config.station.name}".',
            f'Name the station "{name}", or give this one a folder of its own (data).',
            shown(path),
        )
    else:
        yield Finding(
            "record",
            Level.OK,
            f"{tail.seq:,} entries. weighd verify --chain looks whether they hold.",
            where=shown(path),
        )
    yield from _clock(newest)
    yield from who(config, listed=listed)


def _clock(newest: str) -> Iterator[Finding]:
    now = SystemClock().utc()
    wrong = doubt(now, newest)
    if not wrong:
        yield Finding("clock", Level.OK, f"It shows {now}.")
        return
    how, _, than = wrong.split()
    yield Finding(
        "clock",
        Level.WARN,
        f"It shows {now}, {'before' if how == 'behind' else 'far after'} {than}.",
        "Set it right before weighing: times in the record and dates of lots come from it.",
    )


def _key(config: Config) -> Iterator[Finding]:
    path = config.place(config.station.data) / KEY_FILE
    if not path.exists():
        yield Finding(
            "key", Level.NOTE, "It is made at the first start with this record.", where=str(path)
        )
        return
    try:
        key = read_station_key(path)
    except WeighdError as error:
        yield of_error("key", error)
        return
    yield Finding("key", Level.OK, f"Batches are signed with {key.key[:16]}...", where=str(path))


def _page(_config: Config) -> Iterator[Finding]:
    if not (files("weighd_web") / "dist" / "index.html").is_file():
        yield Finding(
            "page",
            Level.BAD,
            "The page was not built.",
            "Install weighd again: it is built when weighd is installed.",
        )
    else:
        yield Finding("page", Level.OK, "It is there.")
