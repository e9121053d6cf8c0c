"""What a mix makes once it is frozen, as JSON values: with pieces in it, and by the cup.

A cup is how overrun is watched at the freezer: the same cup, filled with mix and then with what is
drawn. Formulas: :mod:`weighd.domain.overrun`.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.composition import Composition
from weighd.domain.draws import bad, density, entered
from weighd.domain.overrun import in_a_cup, product_ml
from weighd.station.composing import text_of

_TENTH, _DENSITY = Decimal("0.1"), Decimal("0.0001")
_NONE = Decimal(0)
#: Percent of overrun for which a cup is told.
CUPS = tuple(Decimal(one) for one in range(0, 155, 5))


def read_pieces(text: str) -> tuple[Decimal, Decimal]:
    """Mass in grams and density in g/mL, like ``120g/0.748``.

    Raises :class:`OperatorError`, ``bad-draw``.
    """
    grams, parted, light = text.partition("/")
    if not parted:
        raise bad("pieces", f'"{text[:40]}" has no density.', "Write it like 120g/0.748.")
    return entered(grams, "pieces").value, density(light)


def read_cup(text: str) -> tuple[Decimal, Decimal]:
    """What a cup holds of mix and, after a stroke, what it weighs empty, in grams: ``110g/30g``.

    Raises :class:`OperatorError`, ``bad-draw``.
    """
    grams, parted, empty = text.partition("/")
    tare = entered(empty, "tare").value if parted else _NONE
    return entered(grams, "cup_mix").value, tare


def draw_with_pieces(
    mix: Composition, overrun_percent: Decimal, pieces: tuple[Decimal, Decimal]
) -> dict[str, Any]:
    """Volume and density of the product with so many pieces; ``None`` where facts are missing."""
    grams, light = pieces
    known = mix.density_g_ml
    volume: Decimal | None = None
    if known.known and known.low:
        volume = product_ml(mix.mass_g, known.low, overrun_percent, grams, light)
    heavy = None if volume is None else (mix.mass_g + grams) / volume
    return {
        "grams": mass.text(grams),
        "g_ml": mass.text(light),
        "volume_ml": None if volume is None else text_of(volume, _TENTH),
        "density_g_ml": None if heavy is None else text_of(heavy, _DENSITY),
    }


def draw_cup(cup: tuple[Decimal, Decimal]) -> dict[str, Any]:
    """What the cup weighs with product in it, at each overrun."""
    mix_g, tare_g = cup
    return {
        "mix_g": mass.text(mix_g),
        "tare_g": mass.text(tare_g),
        "gross_g": [
            {
                "overrun_percent": mass.text(one),
                "grams": text_of(tare_g + in_a_cup(mix_g, one), _TENTH),
            }
            for one in CUPS
        ],
    }


def tell_product(drawn: Mapping[str, Any]) -> list[str]:
    """Both, where they are there, in lines of text."""
    out = []
    pieces, cup = drawn.get("with_pieces"), drawn.get("cup")
    if pieces:
        told = (
            f"{pieces['volume_ml']} mL, {pieces['density_g_ml']} g/mL"
            if pieces["volume_ml"]
            else "not known, for want of facts"
        )
        out.append(
            f"With {pieces['grams']} g of pieces put in after freezing "
            f"({pieces['g_ml']} g/mL): {told}."
        )
    if cup:
        rows = [f"{one['overrun_percent']:>3} % {one['grams']:>7} g" for one in cup["gross_g"]]
        out.append(
            f"A cup that holds {cup['mix_g']} g of mix and weighs {cup['tare_g']} g empty weighs, "
            "with product, at an overrun of"
        )
        out += ["  " + "   ".join(rows[n : n + 4]) for n in range(0, len(rows), 4)]
    return out
