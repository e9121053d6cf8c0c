"""The yield of a batch, as pages and programs are shown it: JSON values, decimal strings.

Cost is by today's prices, with their date: a record keeps none.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.against_plan import Prices, priced
from weighd.domain.as_weighed import Part, planned_formula
from weighd.domain.batch import Batch
from weighd.domain.composition import compose
from weighd.domain.draws import Draw, as_body
from weighd.domain.limits import EVERY, ProductClass
from weighd.domain.overrun import ceiling
from weighd.domain.yields import Drawn, Yield, drawn_as_json, found_as_json, reckoned
from weighd.station.comparing import parts_or_error
from weighd.station.composing import drawn_amount, text_of

_MONEY, _GRAM, _PERCENT = Decimal("0.001"), Decimal("0.1"), Decimal("0.1")
_LITRE = Decimal(1000)


def draw_yield(
    batch: Batch, kinds: Mapping[str, ProductClass], prices: Prices | None = None
) -> dict[str, Any]:
    """The yield of a batch by all its draws that stand, those first that were first.

    Raises as :func:`weighd.station.comparing.parts_or_error`; :class:`OperatorError`,
    ``nothing-weighed``, where nothing is in yet.
    """
    parts = parts_or_error(batch, inside=True)
    formula = planned_formula(batch)
    it = reckoned(parts, batch.draws.standing)
    return {
        "batch": batch.id,
        "status": str(batch.status),
        "formula": formula.id,
        "name": formula.name,
        "class": formula.kind,
        "density_g_ml": text_of(it.density.value, Decimal("0.0001")) if it.density.value else None,
        "density": str(it.density.how),
        "draws": [_drawn(one) for one in it.each],
        "total": {
            **found_as_json(it, Draw(0))["batch"],
            "pieces_g": text_of(it.pieces_g, _GRAM),
            "overrun_u_percent": text_of(it.overrun.u, _PERCENT) if it.overrun else None,
            "portion": _portion(it),
        },
        "cost": _cost(parts, it, prices or Prices()),
        "ceilings": _ceilings(it, kinds, formula.kind),
    }


def _drawn(one: Drawn) -> dict[str, Any]:
    draw = one.draw
    weight = draw.weight
    kept = as_body(draw)
    if weight is not None and not weight.typed:
        kept["weight"] = {"g": mass.text(weight.value), "u_g": mass.text(weight.u)}
    return {
        **kept,
        "by": draw.by,
        "at": draw.at,
        **drawn_as_json(one),
        "why": one.why,
        "impossible": one.impossible,
        "disagrees": one.disagrees,
    }


def _portion(it: Yield) -> dict[str, str | None] | None:
    if not it.portions:
        return None

    def each(value: Decimal | None) -> str | None:
        return None if value is None else text_of(value / it.portions, _GRAM)

    return {"g": each(it.product_g), "ml": each(it.product_ml)}


def _cost(parts: tuple[Part, ...], it: Yield, prices: Prices) -> dict[str, Any]:
    """What all that went in cost, shared among what was drawn of it."""
    out: dict[str, Any] = {
        "known": bool(prices.per_kg),
        "date": prices.date,
        "batch": None,
        "per_portion": None,
        "per_litre": None,
        "pieces": it.pieces_g > 0,
    }
    if not prices.per_kg:
        return out
    amounts = ((priced(one.ingredient, prices.per_kg), one.in_g) for one in parts if one.in_g > 0)
    cost = compose(amounts).of("cost")

    def shared(by: Decimal | int | None, times: Decimal = Decimal(1)) -> dict[str, Any] | None:
        if not by:
            return None
        return drawn_amount(cost.times(times / by), _MONEY)

    return out | {
        "batch": drawn_amount(cost, _MONEY),
        "per_portion": shared(it.portions),
        "per_litre": shared(it.product_ml, _LITRE),
    }


def _ceilings(it: Yield, kinds: Mapping[str, ProductClass], kind: str) -> list[dict[str, Any]]:
    """The most air at which the product still has the least density of its class."""
    density = it.density.value
    if density is None:
        return []
    return [
        {
            "class": name,
            "least_g_ml": mass.text(limit.least),
            "overrun_percent": text_of(ceiling(density, limit.least), _PERCENT),
            "source": limit.source,
        }
        for name in dict.fromkeys((EVERY, kind))
        if name in kinds
        for limit in kinds[name].limits
        if limit.of == ("density",) and limit.least
    ]
