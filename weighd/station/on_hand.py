"""What is there of each ingredient by the book of lots, for whoever needs more of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Batch
from weighd.domain.formula import Ingredient
from weighd.domain.lots import Fit, LotBook
from weighd.domain.recovery import State, Trouble

_NONE, _TENTH = Decimal(0), Decimal("0.1")


@dataclass(frozen=True, slots=True)
class OnHand:
    """Grams of an ingredient, in ``lots`` that may be used today, first out first.

    ``said``  somebody said so, instead of the books.
    """

    grams: Decimal
    lots: tuple[str, ...] = ()
    said: bool = False


def on_hand(
    book: LotBook, batch: Batch, day: str, poured_g: Decimal, *, ran_out: bool = False
) -> dict[str, OnHand]:
    """What is there by the books of every ingredient of which a lot was ever booked in.

    Expired, blocked and used-up lots count for nothing, nor do those past their best-before date:
    they take a reason. ``poured_g`` of the current addition is in the bowl and not yet in the
    books. Where that ``ran_out``, its lot is empty, whatever the books say.
    """
    current = batch.current
    empty = batch.lots.get(current.n, "") if current and ran_out else ""
    out = {}
    for ingredient in dict.fromkeys(one.goods.ingredient for one in book):
        mine = current is not None and current.ingredient == ingredient
        if mine and ran_out and not empty:
            continue  # nobody said which lot it was: the books cannot tell what else is there
        there = [
            one
            for one in book.of(ingredient)
            if one.fit(day) is Fit.GOOD and one.left_g > 0 and not (mine and one.code == empty)
        ]
        grams = sum((one.left_g for one in there), _NONE)
        if mine and not ran_out:
            grams = max(_NONE, grams - poured_g)
        out[ingredient] = OnHand(grams, tuple(one.code for one in there))
    return out


def reckoned(
    state: State, book: tuple[LotBook, str] | None, said: Mapping[str, Decimal]
) -> dict[str, OnHand]:
    """What to reckon with: what was ``said``, else what the books of that day have."""
    booked = {}
    if book is not None:
        poured = _NONE if state.trouble is Trouble.WRONG else state.hand_g
        ran_out = state.trouble is Trouble.RAN_OUT
        booked = on_hand(book[0], state.batch, book[1], poured, ran_out=ran_out)
    return {**booked, **{name: OnHand(grams, said=True) for name, grams in said.items()}}


def draw_on_hand(
    there: Mapping[str, OnHand], ingredients: Iterable[Ingredient]
) -> list[dict[str, Any]]:
    """What was reckoned to be there of these, as JSON values; grams to 0.1 g."""
    names = {one.id: one.name for one in ingredients}
    return [
        {
            "ingredient": name,
            "name": names[name],
            "grams": mass.text(mass.rounded(there[name].grams, _TENTH)),
            "lots": list(there[name].lots),
            "by": "said" if there[name].said else "lots",
        }
        for name in names
        if name in there
    ]
