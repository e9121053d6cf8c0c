"""What the command line does with batches: out of a database or an export, with today's prices."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weighd.domain.batch import Batch
from weighd.domain.errors import RecordError
from weighd.domain.fold import fold
from weighd.domain.verify import read_export
from weighd.main.files import (
    LIMITS,
    database_of,
    read_document,
    read_limits_file,
    read_text,
)
from weighd.main.proving import export_batch
from weighd.storage.address import Place, shown

if TYPE_CHECKING:
    from weighd.domain.against_plan import Prices
    from weighd.domain.limits import ProductClass


def batch_in(path: Path) -> Batch:
    """The batch of an export. Raises :class:`RecordError`."""
    return _folded(read_document(path), str(path))


def batch_of(database: Place | None, config: Path | None, batch: str) -> Batch:
    """A batch out of a database, the configured one where none is named.

    Raises :class:`RecordError`, :class:`JournalError`.
    """
    place = database or database_of(config)
    return _folded(export_batch(place, batch), shown(place))


def _folded(document: Any, where: str) -> Batch:
    try:
        found = fold(read_export(document))
    except RecordError:
        raise
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise RecordError(
            "unreadable-entry",
            f"The entries of the batch are not what they should be: {error!r}.",
            where=where,
            remedy="Verify the record.",
        ) from error
    assert found is not None  # an export without entries was refused
    return found


def formulas_of(config: Path | None) -> Path:
    """The folder of the configured station's formulas."""
    from weighd.config import load

    settings = load(config)
    return settings.place(settings.station.formulas)


def prices_at(folder: Path, formula: str) -> Prices:
    """What the ingredients of a folder of formulas cost today."""
    from weighd.storage.shelf import FormulaShelf

    return FormulaShelf(folder).prices(formula)


def prices_in(file: Path) -> Prices:
    """What the ingredients in a file cost. Raises :class:`FormulaError`."""
    from weighd.domain.against_plan import Prices
    from weighd.domain.formula_text import read_ingredients
    from weighd.storage.shelf import date_of, prices_of

    return Prices(prices_of(read_ingredients(read_text(file), str(file))), date_of(file))


def batch_priced(
    file: Path | None,
    batch: str,
    config: Path | None,
    database: Place | None,
    prices: Path | None,
) -> tuple[Batch, Prices, Path | None]:
    """A batch out of an export or, without one, of the database; what its ingredients cost today,
    by a file or by the kitchen's; and the kitchen's folder of formulas, where that is known."""
    from weighd.domain.against_plan import Prices

    folder: Path | None = None
    if file is not None:
        folded = batch_in(file)
    else:
        folded = batch_of(database, config, batch)
        folder = None if database and not config else formulas_of(config)
    if prices is not None:
        known = prices_in(prices)
    elif folder is not None:
        known = prices_at(folder, str(folded.formula.get("id", "")))
    else:
        known = Prices()
    return folded, known, folder


def kinds_for(limits: Path | None, folder: Path | None) -> dict[str, ProductClass]:
    """The limits in a file, else those of a folder of formulas, else those that ship."""
    return read_limits_file(limits, beside=folder / LIMITS if folder else None)


def csv_of_draws(drawn: Mapping[str, Any]) -> str:
    """The draws of a batch as CSV."""
    from weighd.reports.draws_table import draws_csv

    return "".join(draws_csv(drawn))
