"""Where ``weighd recover`` looks: a session, an export, the database, or the station that runs."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weighd.clock import SystemClock
from weighd.domain.batch import Batch
from weighd.domain.days import day_of
from weighd.domain.errors import SessionError
from weighd.domain.formula import Ingredient
from weighd.domain.lots import LotBook
from weighd.main import batch_files
from weighd.main.files import database_of, formula_content
from weighd.main.targets import a_solver
from weighd.station.lot_history import lots_in
from weighd.station.recovering import Query, There, pool_of, recovered, standing
from weighd.storage.address import Place
from weighd.storage.journal import open_read_only

if TYPE_CHECKING:
    from weighd.station.station import Station

LIST = "ingredients.toml"


def of_file(path: Path, query: Query, until: float | None, folder: Path | None) -> dict[str, Any]:
    """The ways for a batch in an export, or as it stands in a recorded session.

    Raises :class:`SessionError`, :class:`RecordError`, :class:`OperatorError`.
    """
    if _is_session(path):
        station = _at_the_end(path, until)
        batch, there = station.batch, There()
        if batch is None:
            raise SessionError("no-batch", "No batch was started in this session.", where=str(path))
        if batch.current is not None:
            there = standing(batch, station.now, station.stock.as_known(station.at()))
        return _ways(batch, there, query, folder or path.parent)
    return _ways(batch_files.batch_in(path), There(), query, folder or path.parent)


def of_database(
    batch: str, query: Query, config: Path | None, database: Place | None
) -> dict[str, Any]:
    """The ways for a batch in a database: what is in is what was recorded when it was held."""
    folder = None if database and not config else batch_files.formulas_of(config)
    place = database or database_of(config)
    there = There(book=(_book(place, batch), day_of(SystemClock().utc())))
    return _ways(batch_files.batch_of(place, config, batch), there, query, folder)


def _book(database: Place, batch: str) -> LotBook:
    """The lots of the station that made a batch."""
    journal = open_read_only(database, batch=batch)
    try:
        return LotBook(lots_in(journal))
    finally:
        journal.close()


def _ways(batch: Batch, there: There, query: Query, folder: Path | None) -> dict[str, Any]:
    own = folder if folder is not None and (folder / LIST).is_file() else None
    kinds = batch_files.kinds_for(None, own)
    prices = batch_files.prices_at(own, str(batch.formula.get("id", ""))).per_kg if own else {}
    return recovered(batch, there, query, _pool(own), kinds, prices, a_solver())


def _pool(folder: Path | None) -> dict[str, Ingredient]:
    from weighd.domain.formula_text import read_ingredients
    from weighd.main.files import read_text
    from weighd.main.shipped import read_shipped_table

    shipped = read_shipped_table().values()
    if folder is None:
        return pool_of(shipped)
    listed = read_ingredients(read_text(folder / LIST), str(folder / LIST))
    return pool_of(shipped, listed.values())


def _is_session(path: Path) -> bool:
    """Whether the first line of a file is that of a session."""
    from weighd.storage.session_file import session_lines

    try:
        first = json.loads(next(iter(session_lines(path)), ""))
    except (ValueError, RecursionError):
        return False
    return isinstance(first, dict) and "session" in first


class _Last:
    """Remembers the station of a replay."""

    station: Station | None = None

    def reading(self, station: Station, *_: object) -> None:
        self.station = station

    def entries(self, station: Station, *_: object) -> None:
        self.station = station

    def taken(self, station: Station, *_: object) -> None:
        self.station = station


def _at_the_end(path: Path, until: float | None) -> Station:
    from weighd.main.drivers import session_decoder
    from weighd.station.inputs import Input
    from weighd.station.replay import replay
    from weighd.station.session import read
    from weighd.storage.session_file import session_lines

    header, inputs = read(session_lines(path), str(path))
    some: Iterator[Input] = inputs
    if until is not None:
        some = takewhile(lambda one: one.t <= until, inputs)
    last = _Last()
    replay(header, some, session_decoder, formula_content(path, None), onlooker=last)
    if last.station is None:
        raise SessionError("empty-session", "The session is empty.", where=str(path))
    return last.station
