"""Mixes to compose, written down short; our own one is invented."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from weighd.domain.facts import Facts, checked
from weighd.domain.formula import Ingredient

Mix = list[tuple[Ingredient, Decimal]]


def made_of(name: str, sugars: Mapping[str, object] | None = None, **parts: object) -> Ingredient:
    """An ingredient of these parts in 100 g; sugars that are not given are none."""
    stated = tuple((key, Decimal(str(value))) for key, value in parts.items())
    kinds = tuple((kind, Decimal(str(value))) for kind, value in (sugars or {}).items())
    return Ingredient(name, name.capitalize(), (), "", checked(Facts(stated, kinds)))


def dairy(name: str, fat: object, msnf: object = None) -> Ingredient:
    """Milk or cream: milk solids-not-fat are 9 % of all but the fat (Guelph, html/1712)."""
    solids = (100 - Decimal(str(fat))) * Decimal("0.09") if msnf is None else Decimal(str(msnf))
    water = 100 - Decimal(str(fat)) - solids
    return made_of(name, fat=fat, milk_fat=fat, msnf=solids, water=water)


SUCROSE = made_of("sucrose", {"sucrose": 100})
WATER = made_of("water", water=100)
SALT = made_of("salt", salt=100)
STABILISER = made_of("stabiliser", stabiliser=100)
SKIM_POWDER = made_of("powder", msnf=97, water=3)


def grams(*amounts: tuple[Ingredient, object]) -> Mix:
    """Amounts in grams."""
    return [(one, Decimal(str(mass))) for one, mass in amounts]


#: 2400 g of the mix that stands in fixtures/tables/frozen.json as our own.
OWN = grams(
    (dairy("milk", "3.25"), 1560),
    (dairy("cream", 35), 120),
    (SKIM_POWDER, 110),
    (SUCROSE, 330),
    (made_of("dextrose", {"glucose": 100}), 60),
    (made_of("syrup", {"glucose-syrup-42de": 100}), 110),
    (STABILISER, 8),
    (SALT, 2),
    (WATER, 100),
)
#: Example 13 of Goff & Hartel; the 12 g that it does not name stand in as fat.
EXAMPLE_13 = grams(
    (
        made_of(
            "example",
            {"sucrose": 12, "glucose-syrup-42de": 4},
            msnf=10,
            whey_solids=2,
            water=60,
            fat=12,
        ),
        1000,
    )
)
