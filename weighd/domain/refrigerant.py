"""Dry ice as a refrigerant: how much of it takes up a heat, how it is handled, what it is like.

1. A kilogram takes up its heat of sublimation, and more if the gas warms before it leaves. The two
   ends, gas that leaves as cold as the solid and gas that leaves at the mix's own temperature,
   bound what an ideal use needs.
2. Real use needs more: gas leaves as fog, the vessel and the air are cooled too. ``efficiency`` is
   the share of the cold that ends in the mix. No source was found for it: it is the user's, kept
   with the batch, and known only from batches that were logged.
3. Every constant says where it comes from; what is a guess or from memory says so wherever shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal

from weighd.domain.heat import FAT_KJ_KG, FUSION_KJ_KG

_NONE, _HUNDRED, _THOUSAND = Decimal(0), Decimal(100), Decimal(1000)


@dataclass(frozen=True, slots=True)
class Constant:
    """A value that is reckoned with, its source, and how it is known."""

    name: str
    value: Decimal
    unit: str
    source: str
    status: str


GUESS = "a guess, no source"
PRACTICE = "common practice, no source"
MEMORY = "from memory"

SUBLIMATION = Constant(
    "heat of sublimation of dry ice at -78.5 °C",
    Decimal(571),
    "kJ/kg",
    "widely tabulated; 574.3 by the slope of the sublimation line (Span & Wagner 1996), 573.3 by "
    "Giauque & Egan 1937; the lowest asks for most dry ice",
    "seen on secondary pages only",
)
FUSION = Constant(
    "heat of fusion of ice at 0 °C", FUSION_KJ_KG, "kJ/kg", "IAPWS-95 and IAPWS-06", "derived"
)
SUBLIMES_C = Constant(
    "temperature of dry ice at 1 atm",
    Decimal("-78.465"),
    "°C",
    "Span & Wagner 1996, sublimation line",
    "derived; coefficients from memory",
)
GAS_M3_KG = Constant(
    "gas from dry ice at 20 °C and 1 atm",
    Decimal("0.546589"),
    "m³/kg",
    "R T / (p M); a real gas takes 0.5437",
    "derived",
)
EFFICIENCY = Constant(
    "share of the cold that ends in the mix",
    Decimal(60),
    "%",
    "none found; 50 to 70 is said, without a source",
    GUESS,
)
POWDER = Constant(
    "bulk density of powdered dry ice",
    Decimal("0.8"),
    "kg/L",
    "none found for powder; 1.56 for the solid, about 1 in bulk on a supplier's page",
    GUESS,
)
FAT = Constant(
    "heat of fat that crystallises, left out", FAT_KJ_KG, "kJ/kg of fat", "none at hand", MEMORY
)
CONSTANTS = (SUBLIMATION, FUSION, SUBLIMES_C, GAS_M3_KG, EFFICIENCY, POWDER, FAT)

#: Heat capacity of gaseous CO2 at 1 atm in kJ/(kg K) by °C: fitted to CoolProp 8.0.0 from -56.5 to
#: 27 °C, within 0.1 %, and carried on down to the sublimation line (JANAF and a virial correction
#: give 57.1 kJ/kg from there to -6 °C, this gives 57.2).
_GAS_CP = (Decimal("0.826521"), Decimal("0.00095134"), Decimal("0.0000016262"))
#: Materials of vessels: heat capacity in kJ/(kg K), all from memory.
MATERIALS = {
    "steel": Decimal("0.50"),
    "aluminium": Decimal("0.90"),
    "copper": Decimal("0.385"),
    "glass": Decimal("0.84"),
    "ceramic": Decimal("0.9"),
    "plastic": Decimal("1.9"),
}
#: Common practice, no source: a portion every half minute over about five minutes, pieces no larger
#: than a pea, then 5 to 10 minutes in the freezer.
PORTION_EVERY_S, ADDED_OVER_S = 30, 300
REST_S = (300, 600)
_PORTION_STEP = Decimal("0.1")


def gas_heat_kj_kg(to_c: Decimal) -> Decimal:
    """Heat that a kilogram of the gas takes up from the sublimation line to a temperature."""

    def up_to(at_c: Decimal) -> Decimal:
        first, second, third = _GAS_CP
        return at_c * (first + at_c * (second / 2 + at_c * third / 3))

    return up_to(to_c) - up_to(SUBLIMES_C.value)


def vessel_heat_kj(
    mass_g: Decimal, capacity_kj_kg_k: Decimal, from_c: Decimal, to_c: Decimal
) -> Decimal:
    """Heat of cooling a vessel; none where it is the colder one."""
    return max(mass_g * capacity_kj_kg_k * (from_c - to_c) / _THOUSAND, _NONE)


@dataclass(frozen=True, slots=True)
class Charge:
    """Dry ice in grams that takes up a heat, at an efficiency.

    ``least_g``  where its gas leaves at the temperature of the mix.
    ``most_g``   where its gas leaves as cold as the solid.
    """

    least_g: Decimal
    most_g: Decimal


def charge(
    least_kj: Decimal, most_kj: Decimal, to_c: Decimal, efficiency_percent: Decimal
) -> Charge:
    """The charge for a heat between two ends, with the gas leaving at ``to_c`` at the warmest.

    Raises ``ValueError`` for an efficiency that is not above 0 and up to 100 %.
    """
    if not 0 < efficiency_percent <= _HUNDRED:
        raise ValueError(f"{efficiency_percent} % is not an efficiency")
    share = efficiency_percent / _HUNDRED
    warm = SUBLIMATION.value + gas_heat_kj_kg(to_c)
    return Charge(
        least_kj / warm / share * _THOUSAND, most_kj / SUBLIMATION.value / share * _THOUSAND
    )


@dataclass(frozen=True, slots=True)
class Portion:
    """A portion in grams and when it goes in, seconds after the first."""

    n: int
    at_s: int
    grams: Decimal


def portions(grams: Decimal, every_s: int, over_s: int) -> tuple[Portion, ...]:
    """A charge in equal portions to a tenth of a gram; the last takes what rounding leaves.

    Raises ``ValueError`` where there is nothing to portion, or no time.
    """
    if grams <= 0 or every_s <= 0 or over_s < 0:
        raise ValueError("a charge, an interval and a time above zero are needed")
    count = max(1, over_s // every_s)
    each = (grams / count).quantize(_PORTION_STEP, rounding=ROUND_DOWN)
    last = grams - each * (count - 1)
    return tuple(
        Portion(n, (n - 1) * every_s, each if n < count else last) for n in range(1, count + 1)
    )


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """The same heat taken out by other means: electricity is not reckoned, only the cold."""

    freezer_kwh: Decimal
    melted_ice_kg: Decimal


def elsewhere(heat_kj: Decimal) -> Elsewhere:
    """The duty of a freezer in kWh of cold, and the ice that melts for the same heat (with salt:
    without it ice gets no colder than 0 °C)."""
    return Elsewhere(heat_kj / 3600, heat_kj / FUSION_KJ_KG)
