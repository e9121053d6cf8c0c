"""What is in a mix for its own sake, and is not used to make up for something else.

A rule of thumb of ours, no source: an ingredient is taken for a flavour from a share of solids on
that no balance of a mix counts; and what is mostly salt, stabiliser or alcohol is there for that.
"""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from weighd.domain.contents import row_of
from weighd.domain.formula import Ingredient

_NONE = Decimal(0)
#: More than this share is solids that are neither fat, milk, sugar nor stabiliser, or may be.
FLAVOUR = Decimal("0.05")
_OWN_SAKE = ("stabiliser", "salt", "alcohol")
_MOSTLY = Decimal("0.5")


def is_flavour(one: Ingredient) -> bool:
    """Whether it is, or may be, in a mix for its taste: its amount is not up for balancing."""
    row = row_of(one.facts)
    low, spread = dict(row.low), dict(row.spread)
    return low.get("other_solids", _NONE) + spread.get("other_solids", _NONE) > FLAVOUR


def stays(one: Ingredient, grams: Decimal, wished: Collection[str]) -> bool:
    """Whether ``grams`` of it stay while a mix is balanced, where no target is about it.

    ``wished``  quantities that targets are about.
    """
    if grams and is_flavour(one) and "other_solids" not in wished:
        return True
    low = dict(row_of(one.facts).low)
    return any(low.get(part, _NONE) >= _MOSTLY and part not in wished for part in _OWN_SAKE)
