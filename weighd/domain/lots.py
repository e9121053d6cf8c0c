"""Lots of goods: what there is of each, whether it may be used, and which to take first.

1. A lot changes only by entries: those of its own (``lot_record``), which belong to no batch, and
   accepted additions, each of which draws down the lots it names by its net.
2. Stock is never cut off at nothing. Below nothing means that more was weighed than was there by
   the books, and is told.
3. A use-by date is kept to without exception, and so is a block. A best-before date may be passed
   by a person with a reason. Both hold through their whole day (UTC).
4. First expired, first out: the earlier of both dates decides; then what is open, then what came
   first.
5. A lot may have been received at another station (``lot_shared``). What other stations drew of a
   lot comes as sums; a lot's stock is what is left of it anywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from typing import Protocol

from weighd.domain import mass
from weighd.domain.days import day_of, plus_days
from weighd.domain.errors import OperatorError
from weighd.domain.lot_uses import Drawn

NOTHING = Decimal(0)
_NEVER = "9999-12-31"


class Fit(StrEnum):
    """Whether a lot may be used."""

    GOOD = "good"
    PAST_BEST = "past best before"
    EXPIRED = "expired"
    BLOCKED = "blocked"
    USED_UP = "used up"


@dataclass(frozen=True, slots=True)
class Goods:
    """What was received. ``quantity_g`` in grams; dates as days; other texts may be empty.

    ``supplier_lot``   the code on the pack; ``gtin``: its trade number, 14 digits;
    ``temperature_c``  as read at receipt; ``document``: delivery note or invoice;
    ``made_in``        the batch it was made in here.
    """

    ingredient: str
    name: str
    quantity_g: Decimal
    supplier: str = ""
    supplier_lot: str = ""
    gtin: str = ""
    use_by: str = ""
    best_before: str = ""
    temperature_c: str = ""
    document: str = ""
    note: str = ""
    made_in: str = ""


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot as its entries leave it; masses in grams, moments as the record has them.

    ``drawn``                what additions drew here.
    ``count_g``              what was there when it was counted last, ``None`` for never.
    ``station``, ``there``   where it was received, and its code there; empty for here.
    ``blocks``               those that stand: hash of the entry, station, reason.
    ``lifted``               hashes of blocks that were released, whether or not they came before;
                             ``replaced``, of adjustments that another stands in the place of.
    ``stood``                moment and station of the newest count or end of it.
    ``elsewhere``            what other stations drew, by station; ``overdrawn_g``, what was told
                             last of how far it is overdrawn.
    """

    code: str
    goods: Goods
    received: str
    by: str
    seq: int
    hash: str
    opened: str = ""
    keeps_days: int | None = None
    used_up: str = ""
    drawn: Drawn = field(default_factory=Drawn)
    count_g: Decimal | None = None
    replaced: frozenset[str] = frozenset()
    #: Adjustments by the hash of their entry, in grams, and whether each was a count.
    adjusted: tuple[tuple[str, Decimal, bool], ...] = ()
    station: str = ""
    there: str = ""
    blocks: tuple[tuple[str, str, str], ...] = ()
    lifted: frozenset[str] = frozenset()
    stood: tuple[str, str] = ("", "")
    elsewhere: tuple[tuple[str, Drawn], ...] = ()
    overdrawn_g: Decimal = NOTHING

    @property
    def blocked(self) -> str:
        """Why it is not to be used; empty where it may be."""
        return "; ".join(sorted({reason for _, _, reason in self.blocks}))

    @property
    def used_g(self) -> Decimal:
        """What additions drew here."""
        return self.drawn.g

    @property
    def uses(self) -> int:
        """In how many additions."""
        return self.drawn.uses

    @property
    def wasted_g(self) -> Decimal:
        """What was taken out of stock with a reason, above zero for what went."""
        return -sum((change for _, change, counted in self.adjusted if not counted), NOTHING)

    @property
    def counted_g(self) -> Decimal:
        """By how much counts moved the books, above zero for more."""
        return sum((change for _, change, counted in self.adjusted if counted), NOTHING)

    @property
    def had_g(self) -> Decimal:
        """What there was of it to draw from."""
        return self.goods.quantity_g - self.wasted_g + self.counted_g

    @property
    def elsewhere_g(self) -> Decimal:
        """What other stations drew, as far as it is known here."""
        return sum((one.g for _, one in self.elsewhere), NOTHING)

    @property
    def left_g(self) -> Decimal:
        """What is there by the books; below zero where more was weighed than was."""
        return self.had_g - self.used_g - self.elsewhere_g

    @property
    def u_used_g(self) -> Decimal:
        """Standard uncertainty of what was drawn, its weighings taken as independent."""
        squares = self.drawn.u2 + sum((one.u2 for _, one in self.elsewhere), NOTHING)
        return mass.EXACT.sqrt(squares).quantize(Decimal("0.0001"))

    @property
    def over_g(self) -> Decimal:
        """By how much more was drawn than there was, beyond 2 u; nothing where it was not."""
        over = -self.left_g
        return over if over > 2 * self.u_used_g else NOTHING

    @property
    def origin(self) -> tuple[str, str]:
        """The station where it was received (empty: here), and its code there."""
        return (self.station, self.there or self.code) if self.station else ("", self.code)

    @property
    def use_by(self) -> str:
        """The day through which it may be used, once opened counted in; empty for none."""
        days = [self.goods.use_by] if self.goods.use_by else []
        if self.opened and self.keeps_days is not None:
            days.append(plus_days(day_of(self.opened), self.keeps_days))
        return min(days, default="")

    @property
    def first_out(self) -> tuple[str, bool, int]:
        """What lots are taken in the order of."""
        ends = min(self.use_by or _NEVER, self.goods.best_before or _NEVER)
        return ends, not self.opened, self.seq

    def fit(self, day: str) -> Fit:
        """Whether it may be used on a day."""
        if self.blocked:
            return Fit.BLOCKED
        if self.used_up:
            return Fit.USED_UP
        if self.use_by and day > self.use_by:
            return Fit.EXPIRED
        if self.goods.best_before and day > self.goods.best_before:
            return Fit.PAST_BEST
        return Fit.GOOD


class LotLater(Protocol):
    """A lot that is known by what it is looked for by, and read whole when it is asked for.

    A station of some years has thousands of lots, nearly all of them used up (``over``).
    """

    @property
    def code(self) -> str: ...
    @property
    def origin(self) -> tuple[str, str]: ...
    @property
    def ingredient(self) -> str: ...
    @property
    def supplier_lot(self) -> str: ...
    @property
    def over(self) -> bool: ...
    @property
    def whole(self) -> Lot: ...


class LotBook:
    """The lots of a station.

    ``lots``       those, or another book, of which this one then has what it has.
    ``strangers``  what was drawn from codes that no lot has, by code: a lot may be weighed from
                   before it is booked in, or before another station has told of it.
    """

    def __init__(
        self, lots: Iterable[Lot | LotLater] = (), strangers: Mapping[str, Drawn] | None = None
    ) -> None:
        every = lots.later() if isinstance(lots, LotBook) else lots
        if strangers is None and isinstance(lots, LotBook):
            strangers = lots.strangers
        self._lots: dict[str, Lot | LotLater] = {one.code: one for one in every}
        self._folded = {one.casefold(): one for one in self._lots}
        self._origins = {one.origin: one.code for one in self._lots.values()}
        self.strangers: dict[str, Drawn] = dict(strangers or {})
        #: The number of the newest entry of lots that is known of each other station.
        self.known: dict[str, int] = {}

    def __iter__(self) -> Iterator[Lot]:
        return map(_whole, self._lots.values())

    def there(self) -> Iterator[Lot]:
        """Those that are not used up."""
        return map(_whole, self._there())

    def _there(self) -> Iterator[Lot | LotLater]:
        for one in self._lots.values():
            if not (one.used_up if isinstance(one, Lot) else one.over):
                yield one

    def later(self) -> Iterator[Lot | LotLater]:
        """All of them, as far as they were asked for."""
        return iter(self._lots.values())

    def __len__(self) -> int:
        return len(self._lots)

    def get(self, code: str) -> Lot | None:
        """A lot by its own code, in whatever case it was typed."""
        found = self._lots.get(code)
        found = found or self._lots.get(self._folded.get(code.strip().casefold(), ""))
        return None if found is None else _whole(found)

    def put(self, lot: Lot) -> None:
        """Have a lot, in the place of what was known of it."""
        self._lots[lot.code] = lot
        self._folded[lot.code.casefold()] = lot.code
        self._origins[lot.origin] = lot.code

    def received_at(self, station: str, code: str) -> Lot | None:
        """A lot by where it was received (empty: here) and its code there."""
        found = self._lots.get(self._origins.get((station, code), ""))
        return None if found is None else _whole(found)

    def find(self, text: str, ingredient: str = "") -> Lot | None:
        """A lot by its code, or by its supplier's where that means one lot (of an ingredient)."""
        own = self.get(text)
        if own is not None:
            return own
        wanted = text.strip().casefold()
        named = (it for it in self._lots.values() if wanted and _supplier_lot(it) == wanted)
        those = [_whole(one) for one in named]
        mine = [one for one in those if one.goods.ingredient == ingredient] or those
        open_ones = [one for one in mine if not one.used_up] or mine
        return open_ones[0] if len(open_ones) == 1 else None

    def of(self, ingredient: str) -> list[Lot]:
        """The lots of an ingredient, first out first."""
        found = (_whole(it) for it in self._lots.values() if _ingredient(it) == ingredient)
        return sorted(found, key=lambda one: one.first_out)

    def draw(self, code: str, grams: Decimal, u_g: Decimal) -> Lot | None:
        """Take what an addition drew out of a lot; ``None`` for one that was not received."""
        lot = self.get(code) if code else None
        if lot is None:
            if code:
                was = self.strangers.get(code, Drawn())
                self.strangers[code] = was.and_also(grams, u_g)
            return None
        lot = replace(lot, drawn=lot.drawn.and_also(grams, u_g))
        self.put(lot)
        return lot

    def give_back(self, code: str, grams: Decimal, u_g: Decimal) -> Lot | None:
        """Undo :meth:`draw`: it was another lot that an addition drew on."""
        lot = self.get(code) if code else None
        if lot is None:
            if code in self.strangers:
                left = self.strangers.pop(code).without(grams, u_g)
                self.strangers |= {code: left} if left.uses else {}
            return None
        lot = replace(lot, drawn=lot.drawn.without(grams, u_g))
        self.put(lot)
        return lot

    def suggest(self, ingredient: str, day: str) -> Lot | None:
        """What to take first of an ingredient: fit, and something of it there."""
        mine = (_whole(one) for one in self._there() if _ingredient(one) == ingredient)
        usable = (one for one in mine if one.fit(day) is Fit.GOOD and one.left_g > 0)
        return min(usable, key=lambda one: one.first_out, default=None)

    def name(self, text: str, ingredient: str, name: str, day: str, reason: str) -> tuple[str, str]:
        """The code that stands for a lot named for an addition, and the reason the record keeps.

        What nobody received here is taken as it was typed: not every kitchen books its goods in.
        Raises :class:`OperatorError`: ``other-ingredient``, ``lot-blocked``, ``lot-expired``,
        ``lot-used-up``, ``past-best-before``.
        """
        lot = self.find(text, ingredient)
        if lot is None:
            return text, ""
        where = f"lot {lot.code}"
        if lot.goods.ingredient != ingredient:
            raise OperatorError(
                "other-ingredient",
                f"That is {lot.goods.name}; {name} is being weighed.",
                where=where,
                remedy=f"Put it aside and take {name}.",
            )
        fit = lot.fit(day)
        if fit is Fit.BLOCKED:
            raise OperatorError(
                "lot-blocked",
                f"This lot of {lot.goods.name} is blocked: {lot.blocked}.",
                where=where,
                remedy="Take another lot.",
            )
        if fit is Fit.EXPIRED:
            raise OperatorError(
                "lot-expired",
                f"This lot of {lot.goods.name} was to be used by {lot.use_by}{_once_opened(lot)}.",
                where=where,
                remedy="Take another lot. A use-by date is kept to, whatever the reason.",
            )
        if fit is Fit.USED_UP:
            raise OperatorError(
                "lot-used-up",
                f"This lot of {lot.goods.name} was said to be used up.",
                where=where,
                remedy="Look at the code on the pack. If there is some left, count it first.",
            )
        if fit is Fit.PAST_BEST and not reason:
            raise OperatorError(
                "past-best-before",
                f"This lot of {lot.goods.name} was best before {lot.goods.best_before}.",
                where=where,
                remedy="Look at it, smell it and taste it. Take another lot, or give a reason.",
            )
        return lot.code, reason if fit is Fit.PAST_BEST else ""


def _whole(one: Lot | LotLater) -> Lot:
    return one if isinstance(one, Lot) else one.whole


def _ingredient(one: Lot | LotLater) -> str:
    return one.goods.ingredient if isinstance(one, Lot) else one.ingredient


def _supplier_lot(one: Lot | LotLater) -> str:
    text = one.goods.supplier_lot if isinstance(one, Lot) else one.supplier_lot
    return text.casefold()


def _once_opened(lot: Lot) -> str:
    if lot.use_by == lot.goods.use_by:
        return ""
    return f", since it was opened on {lot.opened[:10]} and keeps {lot.keeps_days} days"
