"""What a scanned code means here: a lot that was received, an ingredient, or nothing known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from weighd.domain import mass
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Ingredient
from weighd.domain.lots import Lot, LotBook

if TYPE_CHECKING:
    from weighd.domain.scan import Scan


def gtin_14(code: str) -> str:
    """A trade number of 8 to 14 digits with 14; empty for what is none."""
    return code.zfill(14) if code.isascii() and code.isdigit() and 8 <= len(code) <= 14 else ""


def identify(
    scan: Scan, book: LotBook, ingredients: Mapping[str, Ingredient]
) -> tuple[Lot | None, Ingredient | None]:
    """The lot that a code is of, and the ingredient; either may be unknown.

    An ingredient is known by its ``supplier_code`` (which may be a trade number), and by the trade
    numbers of lots that were received before.
    """
    if scan.misread:
        return None, None
    lot = book.get(scan.text)
    if lot is None and scan.lot:
        lot = _received(scan, book)
    if lot is None and scan.kind == "plain":
        lot = book.find(scan.text)
    if lot is not None:
        return lot, ingredients.get(lot.goods.ingredient)
    return None, _ingredient(scan, book, ingredients)


def _received(scan: Scan, book: LotBook) -> Lot | None:
    """The lot with the supplier's code that was scanned, of the goods with that trade number."""
    named = scan.lot.casefold()
    those = [
        one
        for one in book
        if one.goods.supplier_lot.casefold() == named or one.code.casefold() == named
    ]
    same = [one for one in those if scan.gtin and one.goods.gtin == scan.gtin]
    # One that was received without its trade number may be it; one with another is not.
    found = same or [one for one in those if not (one.goods.gtin and scan.gtin)]
    return found[0] if len(found) == 1 else None


def _ingredient(
    scan: Scan, book: LotBook, ingredients: Mapping[str, Ingredient]
) -> Ingredient | None:
    if scan.gtin:
        before = {one.goods.ingredient for one in book if one.goods.gtin == scan.gtin}
        if len(before) == 1:
            return ingredients.get(before.pop())
        return _only(one for one in ingredients.values() if _code(one, gtin=True) == scan.gtin)
    wanted = scan.text.casefold()
    return _only(one for one in ingredients.values() if wanted and _code(one) == wanted)


def _code(one: Ingredient, *, gtin: bool = False) -> str:
    code = one.facts.supplier_code if one.facts else ""
    return gtin_14(code) if gtin else code.casefold()


def _only(found: Iterable[Ingredient]) -> Ingredient | None:
    those = list(found)
    return those[0] if len(those) == 1 else None


def draw_scan(scan: Scan, lot: Lot | None, ingredient: Ingredient | None) -> dict[str, Any]:
    """A scan as JSON: ``is`` says what it was taken for."""
    if scan.misread:
        what = "misread"
    elif lot is not None:
        what = "lot"
    elif ingredient is not None:
        what = "ingredient"
    else:
        what = "unknown"
    goods = lot.goods if lot else None
    return {
        "is": what,
        "text": scan.text,
        "misread": scan.misread,
        "lot": lot.code if lot else "",
        "ingredient": goods.ingredient if goods else ingredient.id if ingredient else "",
        "name": goods.name if goods else ingredient.name if ingredient else "",
        "gtin": scan.gtin,
        "supplier_lot": scan.lot or (goods.supplier_lot if goods else ""),
        "use_by": scan.use_by,
        "best_before": scan.best_before,
        "produced": scan.produced or scan.packed,
        "net_g": None if scan.net_g is None else mass.text(scan.net_g),
        "packs": scan.packs,
    }


def wrong_ingredient(ingredient: Ingredient, wanted: str, wanted_name: str) -> OperatorError | None:
    """What to say of an ingredient that is not the one being weighed."""
    if ingredient.id == wanted:
        return None
    return OperatorError(
        "other-ingredient",
        f"That is {ingredient.name}; {wanted_name} is being weighed.",
        where=f"ingredient {ingredient.id}",
        remedy=f"Put it aside and take {wanted_name}.",
    )
