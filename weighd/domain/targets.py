"""Targets as people write them: ``fat=5``, ``total_solids=34..36``, ``cream<=200 g``.

What stands before the sign is a quantity of :mod:`weighd.domain.limits`, parts to be added
(``fat+msnf``), or an ingredient's id. Behind it:

=====================  ===================================================
``5``                  that, exactly
``34..36``             from one to the other
``-2.4±0.1``           as far to either side; ``+-`` will do
``>=5``, ``at least``  no less; ``<=`` and ``at most`` no more
=====================  ===================================================

A quantity has its own unit (``%``, ``°C``, ...), which may be written. An ingredient's amount needs
one: grams, kilograms and so on, or ``%`` of the batch. So ``salt=0.1`` is the share of salt in the
mix, and ``salt=2 g`` is two grams of what is called salt.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

from weighd.domain import mass
from weighd.domain.errors import OperatorError
from weighd.domain.formula import LARGEST_G
from weighd.domain.limits import QUANTITIES, SPECIAL, Limit
from weighd.domain.mass import Unit
from weighd.domain.mix_lines import named

MOST_TARGETS = 100
GIVEN = "asked for"
_NUMBER = r"([+-]?[0-9]{1,9}(?:[.,][0-9]{1,9})?)"
_UNIT = r"\s*(%|°C|C|kg/L|mg|g|kg|oz|lb)?"
_RANGE = re.compile(rf"{_NUMBER}{_UNIT}\s*(?:\.\.|…|to)\s*{_NUMBER}{_UNIT}")
_ABOUT = re.compile(rf"{_NUMBER}{_UNIT}\s*(?:±|\+/-|\+-)\s*{_NUMBER}{_UNIT}")
_ONE = re.compile(rf"(>=|<=|≥|≤|=|at least|at most)?\s*{_NUMBER}{_UNIT}")
_SPLIT = re.compile(r"\s*([a-z0-9_.+\s-]+?)\s*(>=|<=|≥|≤|=|:)\s*(.*)", re.DOTALL)
_NONE, _HUNDRED = Decimal(0), Decimal(100)


@dataclass(frozen=True, slots=True)
class AmountTarget:
    """Grams of an ingredient from ``least`` to ``most``, or with ``share`` percent of the batch."""

    ingredient: str
    least: Decimal | None
    most: Decimal | None
    share: bool = False

    def in_grams(self, batch_g: Decimal) -> tuple[Decimal | None, Decimal | None]:
        """Both ends in grams of a batch."""
        if not self.share:
            return self.least, self.most
        return _part(self.least, batch_g), _part(self.most, batch_g)


Target = Limit | AmountTarget


def split_target(text: str) -> tuple[str, str]:
    """``cream<=200 g`` as its name and what is asked of it.

    Raises :class:`OperatorError`, ``bad-target``.
    """
    found = _SPLIT.fullmatch(text.strip())
    if found is None:
        raise _wrong(text, f'"{text[:60]}" is no target')
    sign = "" if found[2] in "=:" else found[2]
    return found[1].strip(), sign + found[3]


def read_target(name: str, text: str, ingredients: Collection[str]) -> Target:
    """What ``text`` asks of a quantity or of one of the ``ingredients``.

    Raises :class:`OperatorError`: ``bad-target``, ``unknown-quantity``.
    """
    parts = tuple(one.strip() for one in name.split("+"))
    least, most, unit = _ends(name, text.strip())
    quantity = all(one in QUANTITIES for one in parts)
    quantity = quantity and (len(parts) == 1 or not set(parts) & set(SPECIAL))
    own = SPECIAL.get(parts[0], "%").split()[0]
    if quantity and (not unit or unit == own or (unit == "C" and own == "°C")):
        if len(set(parts)) < len(parts):
            raise _wrong(name, f'"{name}" adds a part to itself')
        return Limit(parts, least, most, GIVEN)
    if name in ingredients:
        return _amount(name, least, most, unit)
    if quantity:
        raise _wrong(name, f'{named(parts)} is in {own}, not in "{unit}"')
    raise OperatorError(
        "unknown-quantity",
        f'"{name[:60]}" is neither a quantity nor an ingredient here.',
        where=name[:60],
        remedy=f"Quantities are {', '.join(QUANTITIES)}; ingredients are "
        f"{', '.join(sorted(ingredients)) or 'none'}.",
    )


def _amount(name: str, least: Decimal | None, most: Decimal | None, unit: str) -> AmountTarget:
    if unit == "%":
        share = True
        top = _HUNDRED
    else:
        share = False
        top = LARGEST_G
        try:
            factor = Unit(unit)
        except ValueError:
            raise _wrong(
                name, f"how much {name} needs a unit, like 200 g, or % of the batch"
            ) from None
        least = None if least is None else mass.to_grams(least, factor)
        most = None if most is None else mass.to_grams(most, factor)
    for end in (least, most):
        if end is not None and not 0 <= end <= top:
            raise _wrong(name, f"{end} of {name} is no amount")
    return AmountTarget(name, least, most, share)


def _ends(name: str, text: str) -> tuple[Decimal | None, Decimal | None, str]:
    text = text.replace("−", "-")
    if found := _RANGE.fullmatch(text):
        low, high = _number(found[1]), _number(found[3])
        unit = _one_unit(name, found[2], found[4])
        if low > high:
            raise _wrong(name, f"{found[1]} is above {found[3]}")
        return low, high, unit
    if found := _ABOUT.fullmatch(text):
        middle, off = _number(found[1]), _number(found[3])
        if off < 0:
            raise _wrong(name, f"{found[3]} to either side is no width")
        return middle - off, middle + off, _one_unit(name, found[2], found[4])
    if found := _ONE.fullmatch(text):
        value, unit = _number(found[2]), found[3] or ""
        sign = found[1] or "="
        least = value if sign in ("=", ">=", "≥", "at least") else None
        most = value if sign in ("=", "<=", "≤", "at most") else None
        return least, most, unit
    raise _wrong(name, f'"{text[:60]}" is no target')


def _one_unit(name: str, first: str | None, second: str | None) -> str:
    if first and second and first != second:
        raise _wrong(name, f"{first} and {second} are two units")
    return first or second or ""


def _number(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))


def _part(value: Decimal | None, batch_g: Decimal) -> Decimal | None:
    return None if value is None else value * batch_g / _HUNDRED


def _wrong(name: str, message: str) -> OperatorError:
    return OperatorError(
        "bad-target",
        f"{message[:200]}.",
        where=name[:60],
        remedy="Write it like fat=5, total_solids=34..36, freezing_point=-2.4±0.1, cream=200 g or "
        '"cream<=200 g".',
    )
