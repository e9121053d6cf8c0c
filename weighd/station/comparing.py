"""A batch as weighed beside its plan, as JSON values; ``comparing_words`` tells it to people.

Numbers are decimal strings as in :mod:`weighd.station.composing`, kept finer, since differences are
small: percent, °C and money to 0.001, grams to 0.01, shares of ice to 0.01 %. Prices are of today:
a record keeps none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.against_plan import SERVED_C, Compared, Difference, K, Prices, compared
from weighd.domain.as_weighed import Part, parts_of, planned_formula
from weighd.domain.batch import Batch, Status
from weighd.domain.composition import Composition
from weighd.domain.errors import FormulaError, OperatorError, RecordError
from weighd.domain.formula import Formula
from weighd.domain.freezing import Freezing
from weighd.domain.limits import Finding, ProductClass, judged
from weighd.domain.yields import reckoned
from weighd.station.composing import METHOD, text_of
from weighd.station.two_sides import draw_limit, draw_quantity

_CENTI = Decimal("0.01")
_U = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class Weighed:
    """A batch, composed on both sides, held to the limits of a class."""

    batch: Batch
    formula: Formula
    it: Compared
    kind: str
    planned_findings: Sequence[Finding]
    findings: Sequence[Finding]
    prices: Prices
    overrun_percent: Decimal | None


def weighed(
    batch: Batch,
    kinds: Mapping[str, ProductClass],
    *,
    kind: str = "",
    at_c: Sequence[Decimal] = SERVED_C,
    overrun_percent: Decimal | None = None,
    prices: Prices | None = None,
) -> Weighed:
    """Compose a batch as planned and as weighed; limits are those of its formula's class, or
    ``kind``.

    ``overrun_percent`` is for limits of density; that of the draws recorded where it is not given.

    Raises :class:`ConfigError` where there is no such class, :class:`OperatorError` where nothing
    is in and nothing is to come, :class:`RecordError` where the record's formula cannot be read.
    """
    parts = parts_or_error(batch)
    known = prices or Prices()
    formula = planned_formula(batch)
    it = compared(parts, at_c=at_c, prices=known.per_kg or None)
    kind = kind or formula.kind

    air = overrun_percent if overrun_percent is not None else _recorded(parts, batch)

    def held(mix: Composition, frozen: Freezing) -> list[Finding]:
        return judged(kinds, kind, mix, frozen, air)

    return Weighed(
        batch,
        formula,
        it,
        kind,
        held(it.planned, it.planned_frozen),
        held(it.weighed, it.weighed_frozen),
        known,
        air,
    )


def _recorded(parts: Sequence[Part], batch: Batch) -> Decimal | None:
    """The overrun of all that was drawn; ``None`` where that was not recorded of every draw."""
    if not batch.draws.standing or not any(one.in_g > 0 for one in parts):
        return None
    found = reckoned(parts, batch.draws.standing).overrun
    return None if found is None else found.value


def parts_or_error(batch: Batch, *, inside: bool = False) -> tuple[Part, ...]:
    """The amounts of a batch, something of which is in or to come; or in, where ``inside``.

    Raises as :func:`weighed`.
    """
    try:
        parts = parts_of(batch)
    except (FormulaError, KeyError, TypeError, ArithmeticError) as error:
        raise RecordError(
            "no-formula-kept",
            f"The formula kept with the batch cannot be read: {error}.",
            where=f"batch {batch.id}",
            remedy="Verify the record; what it holds can still be exported.",
        ) from error
    if all((one.in_g if inside else one.mass_g) <= 0 for one in parts):
        raise OperatorError(
            "nothing-weighed",
            f"Nothing was weighed in batch {batch.id}.",
            remedy="What its formula would make is told by weighd compose FORMULA.",
        )
    return parts


def draw_weighed(one: Weighed) -> dict[str, Any]:
    """Everything about it, as JSON values."""
    batch, it = one.batch, one.it
    to_come = sum((part.to_come_g for part in it.parts), Decimal(0))
    return {
        "batch": batch.id,
        "status": str(batch.status),
        "formula": one.formula.id,
        "name": one.formula.name,
        "revision": one.formula.revision,
        "class": one.kind,
        "in_g": text_of(sum((part.in_g for part in it.parts), Decimal(0)), _CENTI),
        "in_u_g": text_of(it.u_g, _U),
        "to_come_g": text_of(to_come, _CENTI),
        "whole": not to_come and batch.status is not Status.ABANDONED,
        "amounts": [_part(part) for part in it.parts],
        "k": mass.text(K),
        "overrun_percent": None
        if one.overrun_percent is None
        else text_of(one.overrun_percent, Decimal("0.1")),
        "differences": [_difference(each) for each in it.differences],
        "limits": [
            draw_limit({"planned": before, "weighed": after})
            for before, after in zip(one.planned_findings, one.findings, strict=True)
        ],
        "prices": {"known": bool(one.prices.per_kg), "date": one.prices.date},
        "missing": {name: list(facts) for name, facts in it.missing.items()},
        "method": METHOD,
    }


def _part(one: Part) -> dict[str, Any]:
    return {
        "of": one.of,
        "ingredient": one.ingredient.id,
        "name": one.ingredient.name,
        "planned_g": mass.text(one.planned_g),
        "in_g": mass.text(one.in_g),
        "u_g": mass.text(one.u_g),
        "to_come_g": mass.text(one.to_come_g),
    }


def _difference(one: Difference) -> dict[str, Any]:
    sides = {"planned": one.planned, "weighed": one.weighed, "change": one.change}
    return {
        **draw_quantity(one.of, one.at_c, sides),
        "u": None if one.u is None else text_of(one.u, _U),
        "told": str(one.told),
    }
