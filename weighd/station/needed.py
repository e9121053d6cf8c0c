"""What a batch takes out of stock, as JSON values; grams as decimal strings."""

from __future__ import annotations

from typing import Any

from weighd.domain import mass
from weighd.domain.formula import Formula
from weighd.domain.lots import Lot, LotBook
from weighd.domain.needs import Need, Stocked, most_of, needs


def draw_needs(formula: Formula, exact: Formula, book: LotBook, day: str) -> dict[str, Any]:
    """Each addition of a formula at its size with the lots for it, and the most that can be made.

    ``exact``  the same before its targets went to steps; the most is reckoned with it.
    """
    most = most_of(exact, book, day)
    return {
        "formula": formula.id,
        "day": day,
        "batch_g": mass.text(formula.batch_g),
        "needs": [
            {
                **_draw(one, day),
                "low_g": mass.text(addition.band[0]),
                "high_g": mass.text(addition.band[1]),
            }
            for one, addition in zip(needs(formula, book, day), formula.additions, strict=True)
        ],
        "most": None
        if most is None
        else {
            "batch_g": mass.text(most.batch_g),
            "size": most.asked,
            "scarcest": most.scarcest,
            "words": most.words,
        },
    }


def _draw(one: Need, day: str) -> dict[str, Any]:
    out: dict[str, Any] = {
        "n": one.n,
        "ingredient": one.ingredient,
        "name": one.name,
        "target_g": mass.text(one.needed_g),
        "stock": str(one.stocked),
    }
    if one.stocked is not Stocked.UNBOOKED:
        out["lots"] = [{**_draw_lot(lot), "takes_g": mass.text(grams)} for lot, grams in one.takes]
        out["short_g"] = mass.text(one.short_g)
        out["aside"] = [
            {**_draw_lot(lot), "fit": str(lot.fit(day)), "blocked": lot.blocked}
            for lot in one.aside
        ]
    return out


def _draw_lot(lot: Lot) -> dict[str, Any]:
    return {
        "lot": lot.code,
        "left_g": mass.text(lot.left_g),
        "use_by": lot.use_by,
        "best_before": lot.goods.best_before,
        "opened": bool(lot.opened),
    }
