"""Quantities of a mix that two sides are compared in, and their difference where facts are missing.

A difference of sums is the sum of the differences: where a fact of an ingredient is missing on both
sides it is the same fact, and most of what it leaves open falls out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from weighd.domain.composition import Amount, Composition
from weighd.domain.contents import UNKNOWN, row_of
from weighd.domain.facts import Facts
from weighd.domain.formula import Ingredient
from weighd.domain.freezing import Solution, freezing

_NONE, _HUNDRED, _THOUSAND = Decimal(0), Decimal(100), Decimal(1000)
#: A difference is kept to this: finer than anything it is made of.
FINEST = Decimal("0.000000001")
#: Compared in percent of the mass.
SHARES = ("fat", "msnf", "sugars", "stabiliser", "total_solids", "alcohol", "sweetness")


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity of a mix: its value (``None`` where it is not known), and how it is made.

    ``key``  the sum that it is made of, empty for none; ``per`` is how much of it counts for each
             gram of the mix (100: it is in percent), ``None`` where the sum itself does.
    """

    of: str
    value: Callable[[Composition], Amount | None]
    key: str = ""
    per: Decimal | None = None
    at_c: Decimal | None = None

    def count(self, grams: Decimal, of_g: Decimal) -> Decimal:
        """What so many grams in a mix of ``of_g`` grams count in it."""
        return grams if self.per is None else grams / of_g * self.per


def quantities_of(
    mixes: Sequence[Composition], at_c: Iterable[Decimal], *, priced: bool
) -> list[Quantity]:
    """What mixes are compared in: mass, shares, freezing point, ice at ``at_c`` °C, cost where
    ingredients are ``priced``. Alcohol only where one has some."""
    shares = [key for key in SHARES if key != "alcohol" or any(mix.of(key).low for mix in mixes)]
    out = [Quantity("mass", lambda mix: Amount(mix.mass_g, mix.mass_g))]
    out += [_share(key) for key in shares]
    out += [Quantity("freezing_point", _point), *(_ice(one) for one in at_c)]
    if priced:
        out.append(Quantity("cost", lambda mix: mix.of("cost"), "cost"))
        out.append(Quantity("cost_per_kg", _cost_per_kg, "cost", _THOUSAND))
    return out


def between(quantity: Quantity, counted: Iterable[tuple[Ingredient, Decimal]]) -> Amount | None:
    """The difference of a sum, from what each amount counts more than on the other side.

    With ``c`` what a gram per gram of an ingredient counts, it is the sum of ``c r`` over all rows
    ``r``, each between its own ends. An ingredient whose facts differ counts as two.
    ``None`` where nothing limits it.
    """
    weights: dict[tuple[str, Facts | None], Decimal] = {}
    for ingredient, count in counted:
        row = ingredient.id, ingredient.facts
        weights[row] = weights.get(row, _NONE) + count
    low = high = _NONE
    missing: list[tuple[str, str]] = []
    for (name, facts), exact in weights.items():
        c, row_ = exact.quantize(FINEST), row_of(facts)
        spread = dict(row_.spread).get(quantity.key, _NONE)
        if not c:
            continue
        if spread == UNKNOWN:
            return None
        least = dict(row_.low).get(quantity.key, _NONE)
        ends = sorted((c * least, c * (least + spread)))
        low, high = low + ends[0], high + ends[1]
        if spread:
            missing += [(name, fact) for fact in dict(row_.missing)[quantity.key]]
    return Amount(low.quantize(FINEST), high.quantize(FINEST), tuple(dict.fromkeys(missing)))


def _share(key: str) -> Quantity:
    return Quantity(key, lambda mix: mix.percent(key), key, _HUNDRED)


def _cost_per_kg(mix: Composition) -> Amount:
    return mix.of("cost").times(_THOUSAND / mix.mass_g)


def _point(mix: Composition) -> Amount | None:
    return _ends(mix, lambda one: _below(one.depression()))


def _ice(at_c: Decimal) -> Quantity:
    def value(mix: Composition) -> Amount | None:
        return _ends(mix, lambda one: _percent(one.frozen(at_c)))

    return Quantity("frozen", value, at_c=at_c)


def _below(depression: Decimal | None) -> Decimal | None:
    return None if depression is None else -depression


def _percent(share: Decimal | None) -> Decimal | None:
    return None if share is None else share * _HUNDRED


def _ends(mix: Composition, of: Callable[[Solution], Decimal | None]) -> Amount | None:
    """A quantity at both ends of what may be dissolved; ``None`` where either is not known."""
    frozen = freezing(mix)
    if frozen.thin is None or frozen.thick is None:
        return None
    one, other = of(frozen.thin), of(frozen.thick)
    if one is None or other is None:
        return None
    missing = () if one == other else mix.of("sucrose_equivalent").missing
    return Amount(min(one, other), max(one, other), missing)
