"""What the command line tells of the revisions of a formula."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from weighd.clock import SystemClock
from weighd.config import load
from weighd.domain.errors import FormulaError
from weighd.main.files import database_of
from weighd.main.receiving import received_of
from weighd.station.revision_changes import Compared, compared
from weighd.station.revisions import History, history
from weighd.storage.address import Place
from weighd.storage.journal import open_read_only
from weighd.storage.kept_revisions import KeptRevisions
from weighd.storage.shelf import FormulaShelf

if TYPE_CHECKING:
    from collections.abc import Sequence


def history_of(config: Path | None, database: Place | None, named: str) -> History:
    """All that is known of a formula, by its id or its file.

    Raises :class:`FormulaError`, :class:`JournalError`, :class:`ConfigError`.
    """
    settings = load(config)
    folder, formula = _place(config, named)
    wrong: list[FormulaError] = []
    try:
        now = FormulaShelf(folder).get(formula)
    except FormulaError as error:
        now = None
        if error.code != "unknown-formula":
            wrong.append(error)
    kept, bad = KeptRevisions(folder, SystemClock().utc).of(formula)
    received = received_of(settings)
    published = () if received is None else received.of(formula)
    place = database or database_of(config)
    told: Sequence[FormulaError] = [*wrong, *bad]
    if database is None and not Path(place).exists():
        return history(formula, now, kept, published, None, told)
    journal = open_read_only(place, None if database else settings.station.name)
    try:
        return history(formula, now, kept, published, journal, told)
    finally:
        journal.close()


def compared_in(
    config: Path | None, found: History, named: str, then: str, now: str, kind: str
) -> Compared:
    """Two revisions of it side by side, by the kitchen's limits and prices.

    Raises :class:`FormulaError`, ``unknown-revision``; :class:`ConfigError`, ``unknown-class``.
    """
    shelf = FormulaShelf(_place(config, named)[0])
    prices = shelf.prices(found.formula)
    return compared(found.find(then), found.find(now), shelf.kinds(), kind=kind, prices=prices)


def _place(config: Path | None, named: str) -> tuple[Path, str]:
    """The folder of formulas, and the formula's id."""
    if named.endswith(".toml"):
        return Path(named).parent, Path(named).stem
    settings = load(config)
    return settings.place(settings.station.formulas), named
