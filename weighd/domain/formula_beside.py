"""Two formulas composed side by side: what each comes to, and by how much they differ.

Sums are exact: a difference of nothing is told as none, any other as more or less. Where facts of
an ingredient are missing, it lies between the ends they leave
(:mod:`~weighd.domain.quantities`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from weighd.domain.against_plan import Told, priced
from weighd.domain.composition import Amount, Composition, of_formula
from weighd.domain.formula import Formula, Ingredient
from weighd.domain.freezing import Freezing, freezing
from weighd.domain.quantities import FINEST, Quantity, between, quantities_of

#: Where the share of ice is compared, in °C: a draw, a display cabinet, a freezer (common practice,
#: no source).
AT_C = (Decimal(-6), Decimal(-12), Decimal(-18))


@dataclass(frozen=True, slots=True)
class Shift:
    """One quantity of both formulas, as :class:`~weighd.domain.quantities.Quantity` names it;
    ``change`` is now less then. ``None`` where it is not known."""

    of: str
    then: Amount | None
    now: Amount | None
    change: Amount | None
    at_c: Decimal | None = None

    @property
    def told(self) -> Told:
        """What may be said of it."""
        if self.change is None:
            return Told.UNKNOWN
        if self.change.low > 0:
            return Told.MORE
        if self.change.high < 0:
            return Told.LESS
        return Told.UNKNOWN if self.change.low or self.change.high else Told.SAME


@dataclass(frozen=True, slots=True)
class Side:
    """A formula at its own size, composed."""

    formula: Formula
    mix: Composition
    frozen: Freezing


@dataclass(frozen=True, slots=True)
class Beside:
    """Both, and their differences."""

    then: Side
    now: Side
    shifts: tuple[Shift, ...]

    def of(self, key: str) -> Shift:
        """One of the differences; the first where there are several. Raises ``KeyError``."""
        for one in self.shifts:
            if one.of == key:
                return one
        raise KeyError(key)


def beside(
    then: Formula,
    now: Formula,
    *,
    at_c: Sequence[Decimal] = AT_C,
    prices: Mapping[str, Decimal] | None = None,
) -> Beside:
    """Compose both, each at its own size.

    ``prices``  of a kilogram today, by ingredient: no revision keeps any. Without them, no cost.
    """
    if prices is not None:
        then, now = _priced(then, prices), _priced(now, prices)
    before, after = _side(then), _side(now)
    quantities = quantities_of((before.mix, after.mix), at_c, priced=prices is not None)
    return Beside(before, after, tuple(_shift(one, before, after) for one in quantities))


def _side(formula: Formula) -> Side:
    mix = of_formula(formula)
    return Side(formula, mix, freezing(mix))


def _priced(formula: Formula, prices: Mapping[str, Decimal]) -> Formula:
    additions = (
        replace(one, ingredient=priced(one.ingredient, prices)) for one in formula.additions
    )
    return replace(formula, additions=tuple(additions))


def _shift(quantity: Quantity, then: Side, now: Side) -> Shift:
    before, after = quantity.value(then.mix), quantity.value(now.mix)
    change: Amount | None = None
    if before is not None and after is not None:
        if before.known and after.known:
            exact = (after.low - before.low).quantize(FINEST)
            change = Amount(exact, exact)
        elif quantity.key:
            change = between(quantity, _counted(quantity, then, now))
    return Shift(quantity.of, before, after, change, quantity.at_c)


def _counted(quantity: Quantity, then: Side, now: Side) -> Iterator[tuple[Ingredient, Decimal]]:
    for side, sign in ((then, -1), (now, 1)):
        for one in side.formula.additions:
            yield one.ingredient, sign * quantity.count(one.target_g, side.mix.mass_g)
