"""A mix beside another, drawn: one quantity of both, and how both stand to one limit."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.composition import Amount
from weighd.domain.limits import Finding
from weighd.station.composing import drawn_amount

_MILLI, _CENTI = Decimal("0.001"), Decimal("0.01")
#: Unit and rounding of each quantity; percent where it is not listed.
_UNITS = {
    "mass": ("g", _CENTI),
    "freezing_point": ("°C", _MILLI),
    "frozen": ("% of the water", _CENTI),
    "cost": ("", _MILLI),
    "cost_per_kg": ("a kg", _MILLI),
}


def draw_quantity(
    of: str, at_c: Decimal | None, amounts: Mapping[str, Amount | None]
) -> dict[str, Any]:
    """A quantity as :class:`~weighd.domain.quantities.Quantity` names it, with its ``amounts`` by
    what they are called; ``at_c`` in °C, where it is of one temperature."""
    unit, step = _UNITS.get(of, ("%", _MILLI))
    return {
        "of": of,
        "unit": unit,
        **({} if at_c is None else {"at_c": mass.text(at_c)}),
        **{
            name: None if amount is None else drawn_amount(amount, step)
            for name, amount in amounts.items()
        },
    }


def draw_limit(sides: Mapping[str, Finding]) -> dict[str, Any]:
    """One limit, and how each side stands to it."""
    kind, limit = next((one.kind, one.limit) for one in sides.values())
    return {
        "class": kind,
        "of": list(limit.of),
        "unit": limit.unit,
        "min": None if limit.least is None else mass.text(limit.least),
        "max": None if limit.most is None else mass.text(limit.most),
        "source": limit.source,
        **{
            name: {
                "value": None if one.value is None else drawn_amount(one.value, _MILLI),
                "standing": str(one.standing),
                "why": one.why,
            }
            for name, one in sides.items()
        },
    }
