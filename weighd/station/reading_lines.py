"""Readings as JSON lines, as programs write them: ``{"t", "grams", "stable", "over"}``.

A line ``{"reset": true, "interval_g": ...}`` among them begins an addition.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.reading import Reading

#: A number above this is no mass in grams on any scale.
_LARGEST_G = 1e9


def reading_of(row: Mapping[str, Any]) -> Reading:
    """A line as a reading. Raises ``KeyError``, ``TypeError`` or ``ValueError`` for no reading."""
    grams = row.get("grams")
    value: Decimal | None = None
    if isinstance(grams, float) and abs(grams) < _LARGEST_G:
        value = Decimal(str(grams))  # a program may write a small number with an exponent
    elif grams is not None:
        value = mass.parse(str(grams))
    stable, t = row.get("stable"), float(row["t"])
    if not math.isfinite(t):
        raise ValueError("t is no time")
    over = bool(row.get("over", False))
    return Reading(
        t,
        None if over else value,
        mass.Unit.G,
        None if stable is None else bool(stable),
        over,
    )


def grams_of(told: str | float) -> Decimal:
    """A mass written as text, or as a JSON number (whose small ones may have an exponent).

    Raises ``ValueError`` for anything else.
    """
    if isinstance(told, float):
        return mass.parse(format(Decimal(str(told)), "f"))
    return mass.parse(str(told))
