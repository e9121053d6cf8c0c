"""Lots and traces as JSON values, for pages and programs."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.days import days_between
from weighd.domain.lot_json import goods_as_json
from weighd.domain.lots import Lot, LotBook
from weighd.domain.recall import Balance, balance
from weighd.domain.trace import Trace

_SHOWN = Decimal("0.01")


def draw_lot(lot: Lot, day: str) -> dict[str, Any]:
    """A lot as it stands on a day; ``days_left`` to the earlier of its dates, ``None`` for none."""
    ends = [one for one in (lot.use_by, lot.goods.best_before) if one]
    return {
        "lot": lot.code,
        "ingredient": lot.goods.ingredient,
        "name": lot.goods.name,
        "supplier": lot.goods.supplier,
        "supplier_lot": lot.goods.supplier_lot,
        "gtin": lot.goods.gtin,
        "made_in": lot.goods.made_in,
        "document": lot.goods.document,
        "note": lot.goods.note,
        "temperature_c": lot.goods.temperature_c,
        "quantity_g": mass.text(lot.goods.quantity_g),
        "left_g": mass.text(lot.left_g),
        "used_g": mass.text(lot.used_g),
        "station": lot.station,
        "elsewhere": [{"station": name, "g": mass.text(one.g)} for name, one in lot.elsewhere],
        "over_g": mass.text(lot.over_g),
        "u_used_g": mass.text(lot.u_used_g),
        "wasted_g": mass.text(lot.wasted_g),
        "counted_g": mass.text(lot.counted_g),
        "uses": lot.uses,
        "use_by": lot.use_by,
        "use_by_closed": lot.goods.use_by,
        "best_before": lot.goods.best_before,
        "days_left": days_between(day, min(ends)) if ends else None,
        "opened": lot.opened,
        "keeps_days": lot.keeps_days,
        "blocked": lot.blocked,
        "used_up": lot.used_up,
        "received": lot.received,
        "by": lot.by,
        "fit": str(lot.fit(day)),
    }


def draw_lots(book: LotBook, day: str, wanted: str = "", *, gone: bool = False) -> list[Any]:
    """The lots there are, soonest to expire first; those whose texts hold what is wanted.

    ``gone``  also those that were used up.
    """
    word = wanted.strip().casefold()
    found = [
        one
        for one in (book if gone else book.there())
        if not word or any(word in text.casefold() for text in _texts(one))
    ]
    return [draw_lot(one, day) for one in sorted(found, key=lambda one: one.first_out)]


def _texts(lot: Lot) -> tuple[str, ...]:
    return (lot.code, *goods_as_json(lot.goods).values())


def draw_trace(found: Trace, lot: Lot | None, day: str) -> dict[str, Any]:
    """A trace; ``forward`` and ``back`` as :mod:`weighd.domain.trace` has them."""
    return {
        "lot": found.lot,
        "known": draw_lot(lot, day) if lot else None,
        "forward": [
            {
                "batch": one.batch,
                "depth": one.depth,
                "g": mass.text(mass.short(one.g, _SHOWN)),
                "batch_g": mass.text(one.batch_g),
                "percent": mass.text(mass.short(one.share * 100, Decimal("0.0001"))),
                "through": [
                    {"lot": through, "g": mass.text(grams)} for through, grams in one.through
                ],
                "corrected": one.corrected,
            }
            for one in found.forward
        ],
        "back": [
            {
                "lot": one.lot,
                "ingredient": one.ingredient,
                "depth": one.depth,
                "g": mass.text(mass.short(one.g, _SHOWN)),
                "made": one.made,
                "corrected": one.corrected,
            }
            for one in found.back
        ],
        "circles": found.circles,
    }


def draw_balance(lot: Lot) -> dict[str, Any]:
    """The mass balance of a lot, as JSON values."""
    one: Balance = balance(lot)
    return {
        "received_g": mass.text(one.received_g),
        "used_g": mass.text(one.used_g),
        "u_used_g": mass.text(one.u_g),
        "wasted_g": mass.text(one.wasted_g),
        "left_g": mass.text(one.left_g),
        "difference_g": None if one.difference_g is None else mass.text(one.difference_g),
        "adds_up": one.adds_up,
    }
