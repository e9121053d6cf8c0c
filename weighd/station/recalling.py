"""A recall of a lot, as it stands on a sheet: where all of it is, and who is to be told.

1. Of what a batch had of the lot, some went on into later batches, some is still in stock here as
   what the batch made, some was thrown away; the rest has left, or nobody booked it. All are shares
   by mass, as in a trace (:mod:`weighd.domain.trace`), so that they add up to what was used.
2. Stock is what the books say: only a count shows whether it is there.
3. Of a batch that was abandoned the rest counts as discarded: its record says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Status
from weighd.domain.lots import Lot, LotBook
from weighd.domain.trace import Reached, Trace
from weighd.station.lots_drawn import draw_balance, draw_lot, draw_trace
from weighd.station.ports import BatchRow, Journal

_NOTHING = Decimal(0)
_SHOWN = Decimal("0.01")


def rows_of(journal: Journal, found: Trace) -> Mapping[str, BatchRow]:
    """The lines of the batches of a trace, as far as this journal has them."""
    return journal.lines_of([found.lot, *(one.batch for one in found.forward)])


def draw_recall(
    found: Trace,
    known: Lot | None,
    book: LotBook,
    rows: Mapping[str, BatchRow],
    *,
    day: str,
    took_ms: float,
    drill: bool = False,
) -> dict[str, Any]:
    """The recall as JSON values: what a trace has (``forward`` with where what is in each batch is
    now), ``balance``, ``sums``, ``tell``, how long it took to find, and whether it is a drill.
    """
    traced = draw_trace(found, known, day)
    places = _places(found, book, rows)
    forward = [
        {**told, **places[one.batch]}
        for told, one in zip(traced["forward"], found.forward, strict=True)
    ]
    back = []
    for told in traced["back"]:
        lot = book.get(told["lot"]) if told["lot"] else None
        goods = lot.goods if lot else None
        back.append(
            {
                **told,
                "name": goods.name if goods else told["ingredient"],
                "supplier": goods.supplier if goods else "",
                "supplier_lot": goods.supplier_lot if goods else "",
            }
        )
    own = rows.get(found.lot)
    return {
        **traced,
        "name": known.goods.name if known else own.name if own else "",
        "forward": forward,
        "back": back,
        "balance": draw_balance(known) if known else None,
        "known": draw_lot(known, day) if known else None,
        "sums": _sums(forward),
        "tell": _tell(known, forward, back),
        "day": day,
        "took_ms": took_ms,
        "drill": drill,
    }


def _places(found: Trace, book: LotBook, rows: Mapping[str, BatchRow]) -> dict[str, dict[str, Any]]:
    """Where what each batch has of the lot is now: grams by place, and what is known of it."""
    passed = dict.fromkeys((one.batch for one in found.forward), _NOTHING)
    shares = {one.batch: _share(one) for one in found.forward}
    for one in found.forward:
        for lot, grams in one.through:
            if lot in passed and lot != one.batch:
                passed[lot] += grams * shares[lot]
    return {one.batch: _place(one, passed[one.batch], book, rows) for one in found.forward}


def _share(one: Reached) -> Decimal:
    """The same as ``one.share``, not rounded."""
    return one.g / one.batch_g if one.batch_g else _NOTHING


def _place(
    one: Reached, passed: Decimal, book: LotBook, rows: Mapping[str, BatchRow]
) -> dict[str, Any]:
    row, lot, share = rows.get(one.batch), book.get(one.batch), _share(one)
    rest = max(one.g - passed, _NOTHING)
    stock = wasted = _NOTHING
    if lot is not None:
        stock = min(max(lot.left_g, _NOTHING) * share, rest)
        wasted = min(max(lot.wasted_g, _NOTHING) * share, rest - stock)
    over = row is not None and row.status == Status.ABANDONED
    gone = rest - stock - wasted
    return {
        "name": row.name if row else "",
        "made": row.opened[:10] if row else "",
        "operator": row.operator if row else "",
        "status": row.status if row else "",
        "passed_g": _grams(passed),
        "in_stock_g": _grams(stock),
        "stock_g": _grams(max(lot.left_g, _NOTHING)) if lot else "",
        "wasted_g": _grams(wasted + gone if over else wasted),
        "out_g": _grams(_NOTHING if over else gone),
    }


def _sums(forward: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    """Over all batches: grams of the lot that are still here, thrown away, and out."""
    rows = list(forward)
    return {
        name: mass.text(sum((Decimal(one[name]) for one in rows), _NOTHING))
        for name in ("in_stock_g", "wasted_g", "out_g")
    }


def _tell(
    known: Lot | None, forward: Iterable[Mapping[str, Any]], back: Iterable[Mapping[str, Any]]
) -> list[dict[str, str]]:
    """Who is to be told, as far as the record knows them: whom it came from, and who made what."""
    out: dict[tuple[str, str], list[str]] = {}
    if known is not None and known.goods.supplier:
        out["supplier", known.goods.supplier] = [known.goods.supplier_lot or known.code]
    for one in back:
        if one["supplier"]:
            told = out.setdefault(("supplier", one["supplier"]), [])
            told.append(one["supplier_lot"] or one["lot"])
    for one in forward:
        if one["operator"]:
            out.setdefault(("made it", one["operator"]), []).append(one["batch"])
    return [
        {"why": why, "who": who, "of": ", ".join(dict.fromkeys(of))}
        for (why, who), of in out.items()
    ]


def _grams(grams: Decimal) -> str:
    return mass.text(mass.short(grams, _SHOWN))
