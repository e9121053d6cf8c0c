"""Formulas: what to make, in grams, in order, each amount with its tolerance.

1. A formula is read from TOML text; an error names the file, the line and the field.
2. ``revision`` is a hash of the content: it changes when the content does, and only then
   (comments, spacing and key order do not count).
3. A tolerance is an allowed band around the target: absolute, relative, or both, and it may
   differ on the two sides. An absolute tolerance is about weighing and does not grow with the
   batch; a relative one follows the target.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from weighd.domain import facts as facts_of
from weighd.domain import mass
from weighd.domain.errors import FormulaError
from weighd.domain.facts import Facts
from weighd.domain.mass import EXACT, Unit
from weighd.domain.process import ProcessStep, step_of_content
from weighd.domain.product import Product, product_of
from weighd.domain.record import canonical
from weighd.domain.substitutes import Substitute

#: Targets of a scaled batch are rounded to this; far finer than any kitchen scale shows.
FINEST = Decimal("0.01")
#: A batch above a tonne, or a formula longer than this, is a slip of the keyboard.
LARGEST_G = Decimal(1_000_000)
MOST_ADDITIONS = 200
#: How an addition is weighed that is not weighed into a vessel on the scale.
BY_DIFFERENCE = "by difference"

_AMOUNT = re.compile(r"\s*([0-9]+(?:[.,][0-9]+)?)\s*([A-Za-z]+)\s*")
_LIMIT = r"([0-9]+(?:[.,][0-9]+)?)\s*(%|[A-Za-z]+)?"
_ONE = re.compile(rf"\s*(?:±|\+/-|\+-)?\s*{_LIMIT}\s*")
_TWO = re.compile(rf"\s*\+\s*{_LIMIT}\s*/\s*[-−]\s*{_LIMIT}\s*")
_FLOOR = re.compile(rf"(.*?),\s*at least\s+{_LIMIT}\s*")


@dataclass(frozen=True, slots=True)
class Limit:
    """One side of a tolerance: the wider of ``grams`` and ``percent`` of the target."""

    grams: Decimal = Decimal(0)
    percent: Decimal = Decimal(0)

    def width(self, target_g: Decimal) -> Decimal:
        """How far the limit stands from the target, in grams."""
        return max(self.grams, EXACT.multiply(target_g, self.percent) / 100)


@dataclass(frozen=True, slots=True)
class Tolerance:
    """The allowed band: ``under`` below the target, ``over`` above it; ``text`` as written."""

    under: Limit
    over: Limit
    text: str

    def band(self, target_g: Decimal) -> tuple[Decimal, Decimal]:
        """Lower and upper limit in grams for a target in grams."""
        return target_g - self.under.width(target_g), target_g + self.over.width(target_g)


@dataclass(frozen=True, slots=True)
class Ingredient:
    """A material a formula calls for. ``caution`` is shown before it is handled.

    ``facts``    what is known of it: composition, density, cost; ``None`` for nothing.
    ``instead``  what may stand in for it; no part of what a formula is.
    """

    id: str
    name: str
    allergens: tuple[str, ...] = ()
    caution: str = ""
    facts: Facts | None = None
    instead: tuple[Substitute, ...] = ()


@dataclass(frozen=True, slots=True)
class Addition:
    """One ingredient to be weighed in once: at formula size, in grams.

    ``carrier``  the ingredient it mixes evenly with, where it may be premixed; empty for none.
    """

    ingredient: Ingredient
    target_g: Decimal
    tolerance: Tolerance
    #: Weighed by what leaves the ingredient's own vessel, which stands on the scale.
    by_difference: bool = False
    carrier: str = ""

    @property
    def band(self) -> tuple[Decimal, Decimal]:
        """Lower and upper limit in grams."""
        return self.tolerance.band(self.target_g)


@dataclass(frozen=True, slots=True)
class Formula:
    """What to make. ``id`` is the name of the file it came from, without its ending."""

    id: str
    name: str
    additions: tuple[Addition, ...]
    note: str = ""
    scenario: str = ""
    cautions: tuple[str, ...] = ()
    revision: str = field(default="", compare=False)
    #: The class of product whose limits it is held to; empty for none.
    kind: str = ""
    #: What is made of it after weighing.
    steps: tuple[ProcessStep, ...] = ()
    #: How long what it makes keeps, how it is stored, its trade number.
    product: Product = field(default_factory=Product)

    @property
    def batch_g(self) -> Decimal:
        """The sum of all targets in grams."""
        return sum((one.target_g for one in self.additions), Decimal(0))

    @property
    def allergens(self) -> tuple[str, ...]:
        """Every allergen of every ingredient, in alphabetical order."""
        return tuple(sorted({a for one in self.additions for a in one.ingredient.allergens}))

    def scaled(self, batch_g: Decimal) -> Formula:
        """The same formula for a batch of ``batch_g`` grams; targets rounded to 0.01 g.

        At its own size nothing is rounded. The revision stays: it is the formula's, not the
        batch's. Raises :class:`FormulaError` for a size that is not above zero, or that makes
        an amount vanish or its band reach below nothing.
        """
        own = self.batch_g
        if not 0 < batch_g <= LARGEST_G:
            raise FormulaError(
                "bad-batch-size",
                f"A batch of {batch_g} g cannot be made.",
                remedy=f"Give a size above 0 g and up to {LARGEST_G} g.",
            )
        if batch_g == own:
            return self
        additions = []
        for one in self.additions:
            target = mass.rounded(EXACT.multiply(one.target_g, batch_g) / own, FINEST)
            if target <= 0 or one.tolerance.band(target)[0] <= 0:
                raise FormulaError(
                    "bad-batch-size",
                    f"In a batch of {batch_g} g the {one.ingredient.name} would be {target} g, "
                    f"which its tolerance ({one.tolerance.text}) does not allow for.",
                    remedy="Choose a larger batch.",
                )
            additions.append(replace(one, target_g=target))
        return replace(self, additions=tuple(additions))

    def content(self) -> dict[str, Any]:
        """Everything that makes the formula what it is, as JSON values: the record keeps it."""
        return {
            "id": plain_id(self.id),
            "name": self.name,
            "note": self.note,
            "scenario": self.scenario,
            "cautions": list(self.cautions),
            **({"kind": self.kind} if self.kind else {}),
            "additions": [
                {
                    "ingredient": one.ingredient.id,
                    "name": one.ingredient.name,
                    "allergens": list(one.ingredient.allergens),
                    "caution": one.ingredient.caution,
                    "target_g": mass.text(one.target_g),
                    "tolerance": one.tolerance.text,
                    **({"method": BY_DIFFERENCE} if one.by_difference else {}),
                    **({"carrier": one.carrier} if one.carrier else {}),
                    **_composition(one.ingredient),
                }
                for one in self.additions
            ],
            **({"steps": [one.content() for one in self.steps]} if self.steps else {}),
            **({"product": told} if (told := self.product.content()) else {}),
        }


def _composition(ingredient: Ingredient) -> dict[str, Any]:
    """What it holds, if that is known: part of what a formula is, which its price is not."""
    content = ingredient.facts.content() if ingredient.facts else {}
    return {"composition": content} if content else {}


def plain_id(identity: str) -> str:
    """A formula's id without the revision that it may be listed under: ``plum-ice@0123456789ab``
    is that revision of ``plum-ice``."""
    return identity.partition("@")[0]


def revision_of(content: Mapping[str, Any]) -> str:
    """The first 12 hex digits of the SHA-256 of the canonical content, less the file's name."""
    counted = {key: value for key, value in content.items() if key != "id"}
    return hashlib.sha256(canonical(counted)).hexdigest()[:12]


def from_content(content: Mapping[str, Any]) -> Formula:
    """The formula that :meth:`Formula.content` describes (of a record or a session).

    Raises :class:`FormulaError` when the content does not describe one.
    """
    try:
        additions = tuple(
            Addition(
                Ingredient(
                    one["ingredient"],
                    one["name"],
                    tuple(one["allergens"]),
                    one["caution"],
                    facts_of.from_content(one["composition"]) if "composition" in one else None,
                ),
                mass.parse(one["target_g"]),
                read_tolerance(one["tolerance"]),
                is_by_difference(one.get("method", "")),
                str(one.get("carrier", "")),
            )
            for one in content["additions"]
        )
        return Formula(
            content["id"],
            content["name"],
            additions,
            content["note"],
            content["scenario"],
            tuple(content["cautions"]),
            revision_of(content),
            str(content.get("kind", "")),
            tuple(step_of_content(one) for one in content.get("steps", ())),
            product_of(content.get("product", {})),
        )
    except (KeyError, TypeError, ValueError, AttributeError, ArithmeticError) as error:
        raise FormulaError(
            "bad-formula-content", f"The formula kept with the record cannot be read ({error})."
        ) from error


def is_by_difference(method: str) -> bool:
    """Whether a method of weighing is that; the usual one has no name.

    Raises ``ValueError`` for another.
    """
    if method not in ("", BY_DIFFERENCE):
        raise ValueError(
            f'"{method}" is not a way of weighing; write "{BY_DIFFERENCE}", or leave it out to '
            "weigh into a vessel on the scale"
        )
    return method == BY_DIFFERENCE


def read_amount(text: str) -> Decimal:
    """``"1.2 kg"`` as grams. Raises ``ValueError`` saying what is wrong with it."""
    found = _AMOUNT.fullmatch(text)
    if not found:
        if re.match(r"\s*[-−]", text):
            raise ValueError(f'"{text}" is negative; an amount is above zero')
        raise ValueError(f'"{text}" is not an amount; write a number and a unit, like "120 g"')
    grams = mass.to_grams(Decimal(found[1].replace(",", ".")), _unit(found[2]))
    if not 0 < grams <= LARGEST_G:
        raise ValueError(f'"{text}" is not an amount that can be weighed')
    return grams.normalize()


def read_tolerance(text: str) -> Tolerance:
    """A tolerance from its text.

    ``"2 g"`` or ``"±2 g"``, ``"1 %"``, ``"+1 / -2 g"``, ``"+0.5 % / -2 g"``, and a floor for
    small amounts, the wider of the two on each side: ``"1 %, at least 0.5 g"``.
    Raises ``ValueError`` saying what is wrong with it.
    """
    body, floor = text, None
    if found := _FLOOR.fullmatch(text):
        body, floor = found[1], _limit(found[2], found[3], text)
    if found := _TWO.fullmatch(body):
        over = _limit(found[1], found[2] or found[4], text)
        under = _limit(found[3], found[4], text)
    elif found := _ONE.fullmatch(body):
        over = under = _limit(found[1], found[2], text)
    else:
        raise ValueError(f'"{text}" is not a tolerance; write it like "2 g", "1 %" or "+1 / -2 g"')
    if floor is not None:
        over, under = _wider(over, floor), _wider(under, floor)
    return Tolerance(under, over, text.strip())


def _limit(number: str, unit: str | None, text: str) -> Limit:
    value = Decimal(number.replace(",", "."))
    if unit is None:
        raise ValueError(f'the tolerance "{text}" has no unit; write it like "2 g" or "1 %"')
    if value <= 0:
        raise ValueError(f'the tolerance "{text}" is zero; no scale can weigh that exactly')
    if unit == "%":
        if value >= 100:
            raise ValueError(f'the tolerance "{text}" is 100 % or more')
        return Limit(percent=value)
    return Limit(grams=mass.to_grams(value, _unit(unit)))


def _wider(one: Limit, other: Limit) -> Limit:
    return Limit(max(one.grams, other.grams), max(one.percent, other.percent))


def _unit(symbol: str) -> Unit:
    try:
        return Unit(symbol.lower())
    except ValueError:
        known = ", ".join((Unit.MG, Unit.G, Unit.KG, Unit.OZ, Unit.LB))
        raise ValueError(f'"{symbol}" is not a unit known here; use one of {known}') from None
