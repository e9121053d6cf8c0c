"""Labels of what a batch made, and of goods received."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weighd.domain import mass
from weighd.domain.days import day_of, plus_days
from weighd.domain.errors import FormulaError, OperatorError
from weighd.main.batch_files import batch_of, formulas_of
from weighd.main.files import read_text, write_text
from weighd.main.lot_files import show_lot

if TYPE_CHECKING:
    from weighd.domain.batch import Batch
    from weighd.reports.label import Label


def write_label(config: Path | None, database: Path | None, code: str, out: Path) -> Label:
    """Write the label of a lot or a batch as SVG.

    Raises :class:`OperatorError`: ``unknown-lot``, ``not-made``, ``cannot-write``.
    """
    from weighd.reports.label import label_svg

    try:
        label = _received(show_lot(config, database, code), config)
    except OperatorError as error:
        if error.code != "unknown-lot":
            raise
        label = None
    if label is None or label.code == code:
        made = _batch(config, database, code)
        label = _made(made) if made is not None else label
    if label is None:
        raise OperatorError(
            "unknown-lot",
            f'There is no lot and no batch "{code}".',
            remedy="See weighd lots list.",
        )
    write_text(out, label_svg(label))
    return label


def _batch(config: Path | None, database: Path | None, code: str) -> Batch | None:
    from weighd.domain.errors import RecordError

    try:
        return batch_of(database, config, code)
    except RecordError:
        return None


def _made(batch: Batch) -> Label:
    from weighd.reports.label import Label

    if not batch.accepted or batch.current is not None:
        raise OperatorError("not-made", f"Batch {batch.id} was not weighed to its end.")
    product: dict[str, Any] = batch.formula["content"].get("product", {})
    day = day_of(batch.weighed or batch.closed or batch.opened)
    grams = sum((one.net_g for one in batch.accepted), Decimal(0))
    facts = [("Made", day)]
    if "keeps_days" in product:
        facts.append(("Use by", plus_days(day, product["keeps_days"])))
    facts.append(
        ("Weighed in", f"{mass.text(mass.short(grams, Decimal('0.1')))}\N{NO-BREAK SPACE}g")
    )
    if product.get("storage"):
        facts.append(("Keep", product["storage"]))
    return Label(
        str(batch.formula["name"]), batch.id, facts, batch.allergens, product.get("gtin", "")
    )


def _received(lot: dict[str, Any], config: Path | None) -> Label:
    from weighd.reports.label import Label

    facts = [
        ("Use by", lot["use_by"]),
        ("Best before", lot["best_before"]),
        ("Opened", lot["opened"][:10]),
        ("Received", f"{lot['received'][:10]}, {lot['quantity_g']}\N{NO-BREAK SPACE}g"),
        ("From", ", ".join(one for one in (lot["supplier"], lot["supplier_lot"]) if one)),
    ]
    return Label(
        lot["name"],
        lot["lot"],
        [(word, what) for word, what in facts if what],
        _allergens(lot["ingredient"], config),
        lot["gtin"],
    )


def _allergens(ingredient: str, config: Path | None) -> tuple[str, ...]:
    """The allergens that the kitchen's list names; none where it cannot be read."""
    from weighd.domain.formula_text import read_ingredients

    try:
        file = formulas_of(config) / "ingredients.toml"
        one = read_ingredients(read_text(file), str(file)).get(ingredient)
    except FormulaError:
        return ()
    return one.allergens if one else ()
