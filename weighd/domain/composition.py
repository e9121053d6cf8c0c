"""The composition of a mix: sums over its ingredients, and what follows from them by division.

Amounts are ``Decimal`` grams and exact: mass times tabled value, summed; so the order of additions
does not matter and a scaled formula composes to the scaled composition. Rounding is for whoever
shows them. Where a value is missing, an amount is *at least* ``low`` and *at most* ``high``, and
says which ingredient and which fact are to blame.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from weighd.domain.contents import KEYS, NONE, UNKNOWN, row_of
from weighd.domain.formula import Formula, Ingredient

HUNDRED = Decimal(100)
_NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Amount:
    """Something between ``low`` and ``high`` (``Infinity`` where nothing limits it).

    ``missing`` names ingredient and fact, like ``("lemon-zest", "sugars")``, for each that is.
    """

    low: Decimal
    high: Decimal
    missing: tuple[tuple[str, str], ...] = ()

    @property
    def known(self) -> bool:
        """Whether it is one number."""
        return self.low == self.high

    def times(self, factor: Decimal) -> Amount:
        """This many times, ``factor`` not below zero."""
        return Amount(self.low * factor, self.high * factor if factor else NONE, self.missing)

    def plus(self, other: Amount) -> Amount:
        """The sum of both."""
        return Amount(
            self.low + other.low,
            self.high + other.high,
            tuple(dict.fromkeys((*self.missing, *other.missing))),
        )

    def per(self, other: Amount) -> Amount:
        """This divided by ``other``; ``Infinity`` at the top where that may be nothing."""
        low = self.low / other.high if other.high and other.high != UNKNOWN else NONE
        high = self.high / other.low if other.low else UNKNOWN
        return Amount(low, high, tuple(dict.fromkeys((*self.missing, *other.missing))))


ABSENT = Amount(NONE, NONE)


@dataclass(frozen=True, slots=True)
class Composition:
    """Sums over a mix of ``mass_g`` grams, by the names in :data:`weighd.domain.contents.KEYS`."""

    mass_g: Decimal
    sums: Mapping[str, Amount]

    def of(self, key: str) -> Amount:
        """A sum; absent is none. Raises ``KeyError`` for what is no name of a sum."""
        if key not in KEYS:
            raise KeyError(key)
        return self.sums.get(key, ABSENT)

    def percent(self, key: str) -> Amount:
        """A sum in percent of the mass."""
        return self.of(key).times(HUNDRED / self.mass_g)

    @property
    def in_water(self) -> Amount:
        """Lactose in grams per 100 g of water, which is what decides about sandiness."""
        return self.of("lactose").per(self.of("water")).times(HUNDRED)

    @property
    def density_g_ml(self) -> Amount:
        """Density of the mix without air, in g/mL."""
        return Amount(self.mass_g, self.mass_g).per(self.of("volume_ml"))

    @property
    def missing(self) -> dict[str, tuple[str, ...]]:
        """What is missing, by ingredient, each fact once."""
        out: dict[str, dict[str, None]] = {}
        for key in KEYS:
            for ingredient, fact in self.sums.get(key, ABSENT).missing:
                out.setdefault(ingredient, {})[fact] = None
        return {ingredient: tuple(facts) for ingredient, facts in out.items()}


def compose(amounts: Iterable[tuple[Ingredient, Decimal]]) -> Composition:
    """The composition of so many grams of each ingredient.

    Raises ``ValueError`` where an amount is not above zero, or there is none.
    """
    mass = _NOTHING
    low: dict[str, Decimal] = {}
    spread: dict[str, Decimal] = {}
    missing: dict[str, dict[tuple[str, str], None]] = {}
    for ingredient, grams in amounts:
        if not (grams.is_finite() and grams > 0):
            raise ValueError(f"{grams} g of {ingredient.name} is not an amount")
        mass += grams
        row = row_of(ingredient.facts)
        for key, value in row.low:
            low[key] = low.get(key, _NOTHING) + grams * value
        for key, value in row.spread:
            spread[key] = spread.get(key, _NOTHING) + grams * value
        for key, facts in row.missing:
            missing.setdefault(key, {}).update({(ingredient.id, fact): None for fact in facts})
    if not mass:
        raise ValueError("a mix of nothing has no composition")
    sums = {}
    for key in KEYS:
        if key in low or key in spread:
            least = low.get(key, _NOTHING)
            sums[key] = Amount(
                least, least + spread.get(key, _NOTHING), tuple(sorted(missing.get(key, ())))
            )
    return Composition(mass, sums)


def of_formula(formula: Formula) -> Composition:
    """The composition of a formula at its present size."""
    return compose((one.ingredient, one.target_g) for one in formula.additions)
