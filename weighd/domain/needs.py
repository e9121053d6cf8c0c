"""What a batch takes out of stock: which lots, in which order, and what is missing.

Only lots that may be used on the day count, first expired first out (:mod:`weighd.domain.lots`). An
ingredient of which no lot was ever booked in has nothing to be told of it. Nothing is set aside:
what is told is true until something is weighed. Masses in grams.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from weighd.domain import mass
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Formula
from weighd.domain.lots import Fit, Lot, LotBook
from weighd.domain.sizing import Size, by_hand

_NONE = Decimal(0)


class Stocked(StrEnum):
    """How the stock of an ingredient stands to what an addition takes."""

    UNBOOKED = "not booked"
    THERE = "there"
    SHORT = "short"


@dataclass(frozen=True, slots=True)
class Need:
    """What one addition takes.

    ``takes``    lots in the order they are emptied, with how much of each;
    ``short_g``  what is not there of it after those before it had theirs;
    ``aside``    lots with something in them that are not to be used, or only with a reason; told
                 with the first addition of an ingredient.
    """

    n: int
    ingredient: str
    name: str
    needed_g: Decimal
    stocked: Stocked
    takes: tuple[tuple[Lot, Decimal], ...] = ()
    short_g: Decimal = _NONE
    aside: tuple[Lot, ...] = ()


@dataclass(slots=True)
class _Larder:
    """The lots of one ingredient while they are gone through."""

    usable: list[tuple[Lot, Decimal]]
    aside: tuple[Lot, ...]
    booked: bool
    told: bool = field(default=False)

    def take(self, wanted: Decimal) -> tuple[list[tuple[Lot, Decimal]], Decimal]:
        """So much of it, from the first on; and what is missing."""
        out: list[tuple[Lot, Decimal]] = []
        while wanted > 0 and self.usable:
            lot, left = self.usable.pop(0)
            part = min(left, wanted)
            out.append((lot, part))
            wanted -= part
            if part < left:
                self.usable.insert(0, (lot, left - part))
        return out, wanted


def needs(formula: Formula, book: LotBook, day: str) -> list[Need]:
    """What each addition of a formula, at its size, takes out of the lots of that day."""
    larders: dict[str, _Larder] = {}
    out = []
    for n, one in enumerate(formula.additions, start=1):
        known = one.ingredient.id
        larder = larders.setdefault(known, _larder(book, known, day))
        if not larder.booked:
            out.append(Need(n, known, one.ingredient.name, one.target_g, Stocked.UNBOOKED))
            continue
        takes, short = larder.take(one.target_g)
        stocked = Stocked.SHORT if short > 0 else Stocked.THERE
        aside = () if larder.told else larder.aside
        larder.told = True
        out.append(
            Need(n, known, one.ingredient.name, one.target_g, stocked, tuple(takes), short, aside)
        )
    return out


def most_of(formula: Formula, book: LotBook, day: str) -> Size | None:
    """The largest batch that the lots allow, ``None`` where none limits it or none can be made.

    As it would be asked for, by the scarcest alone: ``blackcurrant-puree=500 g``.
    """
    there: dict[str, Decimal] = {}
    for known in dict.fromkeys(one.ingredient.id for one in formula.additions):
        larder = _larder(book, known, day)
        if larder.booked:
            there[known] = sum((left for _, left in larder.usable), _NONE)
    if not there or min(there.values()) <= 0:
        return None
    try:
        scarcest = by_hand(there, formula).scarcest
        only = {scarcest: there[scarcest]}
        return by_hand(only, formula, f"{scarcest}={mass.text(there[scarcest])} g")
    except OperatorError:  # more or less than can be made
        return None


def _larder(book: LotBook, ingredient: str, day: str) -> _Larder:
    lots = book.of(ingredient)
    usable = [(one, one.left_g) for one in lots if one.fit(day) is Fit.GOOD and one.left_g > 0]
    aside = tuple(
        one for one in lots if one.fit(day) not in (Fit.GOOD, Fit.USED_UP) and one.left_g > 0
    )
    return _Larder(usable, aside, booked=bool(lots))
