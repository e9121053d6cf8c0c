"""Labels of what a batch made, and of goods received: of the command line and for the network."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.label_size import LabelLook, LabelSize
from weighd.main.batch_files import batch_of, formulas_of
from weighd.main.files import read_text, write_text
from weighd.main.lot_files import show_lot, today
from weighd.station.labels import (
    Label,
    chosen_size,
    draw_labels,
    labels_of_batch,
    labels_of_lot,
)
from weighd.storage.address import Place

if TYPE_CHECKING:
    from weighd.domain.batch import Batch


def write_labels(
    config: Path | None,
    database: Place | None,
    code: str,
    out: Path,
    *,
    size: str = "",
    of: str = "batch",
    copies: int = 1,
    each: str = "",
) -> tuple[list[Label], list[str]]:
    """Write the labels of a lot or a batch, as PDF, or one of them as SVG; the labels, and the
    letters that the fonts do not have.

    Raises :class:`OperatorError`: ``unknown-lot``, ``not-made``, ``bad-labels``,
    ``label-too-small``, ``cannot-write``.
    """
    from weighd.config import load
    from weighd.main.outputs import whole
    from weighd.reports.label_sheet import not_in_fonts

    settings = load(config)
    look = settings.labels.look(settings.station.name)
    labels = _labels(config, database, code, look, of=of, copies=copies, each=each)
    if out.suffix.lower() == ".svg":
        from weighd.reports.label import label_svg

        if size or len(labels) > 1:
            raise OperatorError(
                "bad-labels", "As SVG one label is written, 62 mm wide.", where="--out"
            )
        write_text(out, label_svg(labels[0]))
        return labels, []
    made = LabelOutputs().labels(labels, chosen_size(size or look.sizes[0]), look.code)
    with whole(out) as part:
        part.write_bytes(made)
    return labels, not_in_fonts(labels)


class LabelOutputs:
    """Labels, for the network edge."""

    def labels(self, labels: list[Label], size: LabelSize, form: str, /) -> bytes:
        """As PDF/A. Raises :class:`OperatorError`: ``label-too-small``, ``cannot-typeset``."""
        from weighd.reports.label_sheet import labels_pdf

        return labels_pdf(labels, size, form, today())

    def labels_told(self, labels: list[Label], form: str, /) -> dict[str, Any]:
        """What stands on them as JSON values, each with its code drawn as the data of an SVG path
        in a square of ``modules``, and the letters that the fonts of the PDF do not have."""
        from weighd.reports.label_sheet import not_in_fonts
        from weighd.reports.typeset import qr_path

        drawn = draw_labels(labels, form)
        for one in drawn:
            one["path"], one["modules"] = qr_path(one["scanned"])
        return {"labels": drawn, "not_in_fonts": not_in_fonts(labels)}


def _labels(
    config: Path | None,
    database: Place | None,
    code: str,
    look: LabelLook,
    *,
    of: str,
    copies: int,
    each: str,
) -> list[Label]:
    lot = None
    try:
        lot = show_lot(config, database, code)
    except OperatorError as error:
        if error.code != "unknown-lot":
            raise
    if lot is None or lot["lot"] == code:
        made = _batch(config, database, code)
        if made is not None:
            return labels_of_batch(
                made, look.kitchen, of=of, copies=copies, each=each, language=look.language
            )
    if lot is None:
        raise OperatorError(
            "unknown-lot",
            f'There is no lot and no batch "{code}".',
            remedy="See weighd lots list.",
        )
    if of != "batch" or each:
        raise OperatorError(
            "bad-labels", f"{lot['lot']} was received: it has no draws.", where="of"
        )
    allergens = _allergens(lot["ingredient"], config)
    return labels_of_lot(lot, allergens, look.kitchen, copies, look.language)


def _batch(config: Path | None, database: Place | None, code: str) -> Batch | None:
    from weighd.domain.errors import RecordError

    try:
        return batch_of(database, config, code)
    except RecordError:
        return None


def _allergens(ingredient: str, config: Path | None) -> tuple[str, ...]:
    """The allergens that the kitchen's list names; none where it cannot be read."""
    from weighd.domain.formula_text import read_ingredients

    try:
        file = formulas_of(config) / "ingredients.toml"
        one = read_ingredients(read_text(file), str(file)).get(ingredient)
    except FormulaError:
        return ()
    return one.allergens if one else ()
