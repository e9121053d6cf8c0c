"""A batch as it is weighed beside its plan: what it holds, how it freezes, and in what doubt.

1. A difference comes with the standard uncertainty that weighing adds. Each net is moved by its own
   ``u`` up and down, everything else kept; half of what a quantity moves by is that net's part in
   it, and parts add by root sum of squares (GUM, JCGM 100:2008, 5.1.2 with note 2 of 5.1.3; clauses
   from memory). What the composition of the ingredients is uncertain by is not in it: it is the
   same on both sides. Amounts are taken as independent of each other.
2. A difference of no more than 2 ``u`` is told as none. Where facts of an ingredient are missing, a
   difference of sums lies between the two ends that they leave; for freezing nothing is said then.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Context, Decimal
from enum import StrEnum

from weighd.domain.as_weighed import Part
from weighd.domain.composition import Amount, Composition, compose
from weighd.domain.contents import row_of
from weighd.domain.facts import Facts
from weighd.domain.formula import Ingredient
from weighd.domain.freezing import Freezing, freezing
from weighd.domain.quantities import FINEST, SHARES, Quantity, between, quantities_of

_NONE = Decimal(0)
_CONTEXT = Context(prec=28)
#: Half the width of what is told as no difference, in standard uncertainties.
K = Decimal(2)
#: Where nothing else is asked for: a display cabinet (common practice, no source).
SERVED_C = (Decimal(-12),)


@dataclass(frozen=True, slots=True)
class Prices:
    """What a kilogram of each ingredient costs, in the user's own currency.

    ``date``  the day since which that was said (``YYYY-MM-DD``); empty where it is not known.
    """

    per_kg: Mapping[str, Decimal] = field(default_factory=dict)
    date: str = ""


class Told(StrEnum):
    """How a batch as weighed stands to the plan in one quantity."""

    SAME = "no difference"
    MORE = "more"
    LESS = "less"
    UNKNOWN = "cannot be told"


@dataclass(frozen=True, slots=True)
class Difference:
    """One quantity on both sides; ``None`` where it is not known.

    ``of``      one of :data:`SHARES` (percent), ``mass`` (g), ``freezing_point`` (°C), ``frozen``
                (percent of the water at ``at_c``), ``cost`` and ``cost_per_kg``.
    ``change``  as weighed less as planned; ``u`` its standard uncertainty from weighing.
    """

    of: str
    planned: Amount | None
    weighed: Amount | None
    change: Amount | None
    u: Decimal | None
    at_c: Decimal | None = None

    @property
    def told(self) -> Told:
        """What may be said of it."""
        if self.change is None or self.u is None:
            return Told.UNKNOWN
        room = K * self.u
        if self.change.low > room:
            return Told.MORE
        if self.change.high < -room:
            return Told.LESS
        inside = -room <= self.change.low and self.change.high <= room
        return Told.SAME if inside else Told.UNKNOWN


@dataclass(frozen=True, slots=True)
class Compared:
    """A batch as planned and as weighed."""

    parts: tuple[Part, ...]
    planned: Composition
    weighed: Composition
    planned_frozen: Freezing
    weighed_frozen: Freezing
    differences: tuple[Difference, ...]

    @property
    def u_g(self) -> Decimal:
        """Standard uncertainty in grams of all that is in."""
        return _root(one.u_g for one in self.parts)

    @property
    def missing(self) -> dict[str, tuple[str, ...]]:
        """What is missing for one of the differences, by ingredient, each fact once."""
        keys = [*SHARES, "water", "sucrose_equivalent", "milk_salts_c", "salt_c", "alcohol_c"]
        if any(one.of == "cost" for one in self.differences):
            keys.append("cost")
        out: dict[str, dict[str, None]] = {}
        for key in keys:
            for ingredient, fact in (*self.weighed.of(key).missing, *self.planned.of(key).missing):
                out.setdefault(ingredient, {})[fact] = None
        return {ingredient: tuple(facts) for ingredient, facts in out.items()}

    def of(self, key: str) -> Difference:
        """One of the differences; the first where there are several. Raises ``KeyError``."""
        for one in self.differences:
            if one.of == key:
                return one
        raise KeyError(key)


def compared(
    parts: Sequence[Part],
    *,
    at_c: Sequence[Decimal] = SERVED_C,
    prices: Mapping[str, Decimal] | None = None,
) -> Compared:
    """The batch that these parts make, beside its plan.

    ``at_c``    temperatures at which the share of ice is compared, in °C.
    ``prices``  of a kilogram, by ingredient; a record keeps none. Without them there is no cost.
    Raises ``ValueError`` where nothing is planned or nothing is in or to come.
    """
    if prices is not None:
        parts = [replace(one, ingredient=priced(one.ingredient, prices)) for one in parts]
    planned = compose((one.ingredient, one.planned_g) for one in parts if one.planned_g > 0)
    weighed = compose((one.ingredient, one.mass_g) for one in parts if one.mass_g > 0)
    quantities = quantities_of((planned, weighed), at_c, priced=prices is not None)
    moved = _moved(parts)
    differences = tuple(_difference(one, parts, planned, weighed, moved) for one in quantities)
    return Compared(
        tuple(parts), planned, weighed, freezing(planned), freezing(weighed), differences
    )


def priced(one: Ingredient, prices: Mapping[str, Decimal]) -> Ingredient:
    """An ingredient with what a kilogram of it costs today; missing where that is not known."""
    facts = one.facts or Facts()
    return replace(one, facts=replace(facts, cost_per_kg=prices.get(one.id)))


def _difference(
    quantity: Quantity,
    parts: Sequence[Part],
    planned: Composition,
    weighed: Composition,
    moved: Sequence[_Moved] | None,
) -> Difference:
    before, after = quantity.value(planned), quantity.value(weighed)
    change: Amount | None = None
    if before is not None and after is not None:
        if before.known and after.known:
            least = (after.low - before.low).quantize(FINEST)
            change = Amount(least, least)
        elif quantity.key:
            change = _between(quantity, parts)
    u = None if change is None else _u(quantity, moved)
    return Difference(quantity.of, before, after, change, u, quantity.at_c)


def _between(quantity: Quantity, parts: Sequence[Part]) -> Amount | None:
    """The difference of sums where facts are missing."""
    before = sum((one.planned_g for one in parts), _NONE)
    after = sum((one.mass_g for one in parts), _NONE)
    counted = (
        (one.ingredient, quantity.count(one.mass_g, after) - quantity.count(one.planned_g, before))
        for one in parts
    )
    return between(quantity, counted)


# --- uncertainty ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Moved:
    """A mix with one amount moved up and down, and the share of its ``u`` that this is."""

    up: Composition
    down: Composition
    share: Decimal


def _moved(parts: Sequence[Part]) -> tuple[_Moved, ...] | None:
    """The mix with each amount moved by its uncertainty, everything else kept.

    At the lower ends of what facts leave open. ``None`` where that could be all there is.
    """
    rows = [dict(row_of(one.ingredient.facts).low) for one in parts]
    total = sum((one.mass_g for one in parts), _NONE)
    sums: dict[str, Decimal] = {}
    for one, row in zip(parts, rows, strict=True):
        for key, value in row.items():
            sums[key] = sums.get(key, _NONE) + value * one.mass_g

    def mix(row: Mapping[str, Decimal], by_g: Decimal) -> Composition:
        moved = {key: max(sums[key] + value * by_g, _NONE) for key, value in row.items()}
        amounts = {key: Amount(one, one) for key, one in (sums | moved).items()}
        return Composition(total + by_g, amounts)

    out = []
    for one, row in zip(parts, rows, strict=True):
        if not one.u_g:
            continue
        down = min(one.u_g, one.mass_g)
        if down == total:
            return None
        # Half of the way between them, where both are possible.
        share = one.u_g / (one.u_g + down)
        out.append(_Moved(mix(row, one.u_g), mix(row, -down), share))
    return tuple(out)


def _u(quantity: Quantity, moved: Sequence[_Moved] | None) -> Decimal | None:
    """The standard uncertainty of a quantity from weighing; ``None`` where it cannot be told."""
    if moved is None:
        return None
    out = []
    for one in moved:
        high, low = quantity.value(one.up), quantity.value(one.down)
        if high is None or low is None:
            return None
        out.append((high.low - low.low) * one.share)
    return _root(out)


def _root(parts: Iterable[Decimal]) -> Decimal:
    return _CONTEXT.sqrt(sum((one * one for one in parts), _NONE))
