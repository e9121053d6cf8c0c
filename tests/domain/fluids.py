"""CoolProp, a general-purpose reference library, brought in where it is asked: it takes seconds."""

from __future__ import annotations


def fluid(*asked: str | float) -> float:
    """``PropsSI``: a property of a fluid, in SI units."""
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI(*asked))
