"""Overrun and density of a frozen mix: the published arithmetic, and nothing else.

Overrun is the air in percent of the mix. Formulas and worked numbers: H. D. Goff, *Overrun
Calculations*, Univ. of Guelph, Dairy Education Series. Volumes in mL, masses in g, densities in
g/mL, overruns in percent. All raise ``ValueError`` for what is not above zero where it must be.
"""

from __future__ import annotations

from decimal import Decimal

HUNDRED = Decimal(100)
_NONE = Decimal(0)
#: Of what is typed or shown, no product is lighter or heavier: foam, and metal.
LIGHTEST, HEAVIEST = Decimal("0.01"), Decimal(23)


def by_volume(mix_ml: Decimal, product_ml: Decimal) -> Decimal:
    """(volume of product - volume of mix) / volume of mix: 1 L to 1.5 L is 50 %."""
    _above(mix_ml, product_ml)
    return (product_ml - mix_ml) / mix_ml * HUNDRED


def by_weight(mix_g: Decimal, product_g: Decimal) -> Decimal:
    """(mass of mix - mass of product) / mass of product, of one and the same volume."""
    _above(mix_g, product_g)
    return (mix_g - product_g) / product_g * HUNDRED


def in_a_cup(mix_g: Decimal, overrun: Decimal) -> Decimal:
    """What a cup holds of product that holds ``mix_g`` of mix."""
    _above(mix_g, HUNDRED + overrun)
    return mix_g / (1 + overrun / HUNDRED)


def product_ml(
    mix_g: Decimal,
    density_g_ml: Decimal,
    overrun: Decimal,
    pieces_g: Decimal = _NONE,
    pieces_g_ml: Decimal | None = None,
) -> Decimal:
    """Volume of a product of mix with its air, and of pieces put in after freezing, without any."""
    _above(density_g_ml, HUNDRED + overrun)
    volume = mix_g / density_g_ml * (1 + overrun / HUNDRED)
    if pieces_g:
        _above(pieces_g_ml or _NONE)
        volume += pieces_g / (pieces_g_ml or _NONE)
    return volume


def ceiling(mix_g_ml: Decimal, least_g_ml: Decimal) -> Decimal:
    """The most overrun at which the product still has a density."""
    _above(mix_g_ml, least_g_ml)
    return (mix_g_ml / least_g_ml - 1) * HUNDRED


def _above(*values: Decimal) -> None:
    for one in values:
        if not (one.is_finite() and one > 0):
            raise ValueError(f"{one} must be above zero")
