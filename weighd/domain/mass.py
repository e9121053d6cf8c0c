"""Masses: ``Decimal`` grams, the units they come in, and rounding to a scale interval.

Conversions are exact by definition: the international avoirdupois pound is 0.45359237 kg and
the ounce a sixteenth of it (NIST Handbook 44, Appendix C, from memory); the carat is 200 mg.
Units without one definition (tael, avoirdupois ton) are left out on purpose.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext
from enum import StrEnum

#: Enough digits for any displayed weight times any factor below, so that a product is exact.
EXACT = Context(prec=50)
#: What counts as a number in records: no exponents, no digits but the ten, no room for tricks.
_PLAIN = re.compile(r"-?[0-9]{1,20}(?:\.[0-9]{1,20})?")


class Unit(StrEnum):
    """A unit a scale may display. The value is the symbol used in records and on the page."""

    MG = "mg"
    G = "g"
    KG = "kg"
    T = "t"
    CT = "ct"
    GR = "gr"
    DWT = "dwt"
    OZT = "ozt"
    OZ = "oz"
    LB = "lb"

    @property
    def grams(self) -> Decimal:
        """One of this unit in grams, exactly."""
        return _GRAMS[self]


_GRAMS = {
    Unit.MG: Decimal("0.001"),
    Unit.G: Decimal(1),
    Unit.KG: Decimal(1000),
    Unit.T: Decimal(1_000_000),
    Unit.CT: Decimal("0.2"),
    Unit.GR: Decimal("0.06479891"),
    Unit.DWT: Decimal("1.55517384"),
    Unit.OZT: Decimal("31.1034768"),
    Unit.OZ: Decimal("28.349523125"),
    Unit.LB: Decimal("453.59237"),
}


def to_grams(value: Decimal, unit: Unit) -> Decimal:
    """``value`` in ``unit`` as grams, exactly (no rounding)."""
    return value if unit is Unit.G else EXACT.multiply(value, _GRAMS[unit])


def text(value: Decimal) -> str:
    """A mass as records and frames write it: plain digits, never an exponent, zero unsigned.

    The number of decimals is kept: it says what the value was rounded to.
    """
    out = format(value, "f")
    return out.removeprefix("-") if value == 0 else out


def parse(text: str) -> Decimal:
    """The inverse of :func:`text`. Raises ``ValueError`` for anything but a plain number."""
    if not _PLAIN.fullmatch(text):
        raise ValueError(f"{text[:40]!r} is not a plain number")
    return Decimal(text)


def rounded(grams: Decimal, step: Decimal) -> Decimal:
    """``grams`` to the nearest multiple of ``step`` (> 0), half to even, with its decimals."""
    if step <= 0:
        raise ValueError(f"a rounding step is above zero, not {step}")
    with localcontext(EXACT):
        return ((grams / step).quantize(Decimal(1), rounding=ROUND_HALF_EVEN) * step).quantize(step)


def short(grams: Decimal, step: Decimal) -> Decimal:
    """:func:`rounded`, less the zeros at the end of its decimals."""
    out = rounded(grams, step).normalize()
    return out.quantize(Decimal(1)) if out == out.to_integral_value() else out
