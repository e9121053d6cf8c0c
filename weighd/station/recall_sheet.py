"""A recall sheet as rows of texts: what is to be called back, and what it was made of."""

from __future__ import annotations

from weighd.domain import mass
from weighd.domain.lots import Lot
from weighd.domain.trace import Trace

#: What a spreadsheet would take for the beginning of a formula.
_ACTIVE = ("=", "+", "-", "@", "\t", "\r")
HEAD = ("direction", "depth", "code", "ingredient", "grams of the lot", "grams in all", "by way of")


def recall_rows(found: Trace, lot: Lot | None) -> list[list[str]]:
    """The sheet with its head, one row a batch or a source; safe to open as a spreadsheet."""
    rows = [list(HEAD)]
    name = lot.goods.ingredient if lot else ""
    total = mass.text(lot.goods.quantity_g) if lot else ""
    rows.append(["lot", "0", found.lot, name, total, total, lot.goods.supplier if lot else ""])
    for one in found.forward:
        by = ", ".join(f"{through} {mass.text(g)} g" for through, g in one.through)
        rows.append(
            [
                "in",
                str(one.depth),
                one.batch,
                "",
                mass.text(one.g.normalize()),
                mass.text(one.batch_g),
                by,
            ]
        )
    rows += [
        [
            "of",
            str(one.depth),
            one.lot or "no lot named",
            one.ingredient,
            mass.text(one.g.normalize()),
            "",
            "",
        ]
        for one in found.back
    ]
    return [[_inert(text) for text in row] for row in rows]


def _inert(text: str) -> str:
    return f"'{text}" if text.startswith(_ACTIVE) else text
