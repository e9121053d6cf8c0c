"""Checks of a scale out of the record, to be shown and drawn."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from weighd.main.files import database_of
from weighd.main.timelines import check_format, write_plot
from weighd.station.check_history import history
from weighd.storage.address import Place


def checks_of(
    scale: str, config: Path | None, database: Place | None, most: int
) -> list[dict[str, Any]]:
    """The newest checks of a scale, the newest first. Raises :class:`JournalError`."""
    from weighd.storage.journal import open_read_only

    journal = open_read_only(database or database_of(config))
    try:
        return history(journal, scale, limit=most)
    finally:
        journal.close()


def draw(scale: str, checks: Sequence[dict[str, Any]], path: Path) -> None:
    """Write the plot. Raises :class:`OperatorError` where that cannot be done."""
    check_format(path)
    from weighd.reports.check_plot import figure

    write_plot(figure(scale, checks), path, "--plot")
