"""How well things are weighed, out of a record."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from weighd.config import load
from weighd.main.files import database_of
from weighd.main.timelines import check_format, write_plot
from weighd.station.trends import detail, points, summaries
from weighd.storage.address import Place
from weighd.storage.journal import open_read_only
from weighd.storage.shelf import FormulaShelf


def trends_of(
    config: Path | None,
    database: Place | None,
    *,
    by: str,
    of: str = "",
    since: str = "",
    until: str = "",
    last: int,
) -> list[dict[str, Any]]:
    """The summary of every group, or of one with its chart. Raises :class:`JournalError` and
    :class:`OperatorError`."""
    settings = load(config)
    prices = FormulaShelf(settings.place(settings.station.formulas)).prices("").per_kg
    journal = open_read_only(database or database_of(config))
    try:
        found = points(journal, since=since, until=until, last=last)
    finally:
        journal.close()
    return [detail(found, by, of, prices)] if of else summaries(found, by, prices)


def draw(it: Mapping[str, Any], path: Path) -> None:
    """Write the chart of one group. Raises :class:`OperatorError` where that cannot be done."""
    check_format(path)
    from weighd.reports.trend_plot import figure

    write_plot(figure(it), path, "--plot")
