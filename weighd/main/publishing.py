"""What the command line publishes to a shared store."""

from __future__ import annotations

from pathlib import Path

from weighd.clock import SystemClock
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Formula
from weighd.domain.formula_shared import Published
from weighd.main.files import read_formula_file
from weighd.main.sending import open_shared
from weighd.main.sharing import asked_store


def publish_formula(
    config: Path | None, store: str | None, named: str, by: str
) -> tuple[Published, bool]:
    """Publish a formula by its id or file; and whether it is new.

    Raises :class:`FormulaError`, :class:`OperatorError` where nobody is named,
    :class:`ConfigError` without a shared store, and :class:`JournalError`.
    """
    from weighd.storage.formula_revisions import FormulaRevisions
    from weighd.storage.shelf import FormulaShelf

    settings, address = asked_store(config, store)
    if not by.strip():
        raise OperatorError("no-operator", "Nobody is named.", remedy="Say who you are: --by.")
    formula: Formula
    if named.endswith(".toml") or Path(named).is_file():
        formula = read_formula_file(Path(named))
    else:
        formula = FormulaShelf(settings.place(settings.station.formulas)).get(named)
    shared = open_shared(address)
    try:
        made = FormulaRevisions(shared)
        return made.publish(formula, settings.station.name, by.strip(), SystemClock().utc())
    finally:
        shared.close()
