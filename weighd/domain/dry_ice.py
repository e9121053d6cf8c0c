"""Freezing with dry ice: what is asked, read from text, and reckoned for a mix."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from weighd.domain import mass, refrigerant
from weighd.domain.composition import Composition, compose
from weighd.domain.errors import OperatorError
from weighd.domain.facts_text import number
from weighd.domain.formula import Formula, Ingredient
from weighd.domain.freezing import Solution
from weighd.domain.heat import Heat, heat
from weighd.domain.heat_parts import Bodies, bodies
from weighd.domain.refrigerant import MATERIALS, Charge
from weighd.domain.room_air import BACKGROUND_PPM, Room

TENTH, HUNDREDTH = Decimal("0.1"), Decimal("0.01")
_NONE, SIXTY = Decimal(0), Decimal(60)
#: More portions than this are a slip of the keyboard.
MOST_PORTIONS = 200
#: Each field: its name for people, the least and the most, what it is where it is left out.
_FIELDS: dict[str, tuple[str, str, str, str]] = {
    "from_c": ("the temperature of the mix in °C", "-60", "40", "5"),
    "to_c": ("the draw temperature in °C", "-60", "40", "-6"),
    "efficiency_percent": (
        "the share of the cold that ends in the mix, in percent",
        "1",
        "100",
        str(refrigerant.EFFICIENCY.value),
    ),
    "room_m3": ("the volume of the room in m³", "0.1", "1000000", ""),
    "air_changes": ("air changes an hour", "0", "1000", "0"),
    "release_min": ("minutes over which the gas comes", "0", "480", "0"),
    "background_ppm": ("CO2 in the air beforehand, in ppm", "0", "4999", str(BACKGROUND_PPM)),
    "charge_g": ("a charge of dry ice in grams", "0.1", "1000000", ""),
    "powder_kg_l": (
        "the bulk density of the powder in kg/L",
        "0.1",
        "1.6",
        str(refrigerant.POWDER.value),
    ),
    "every_s": ("seconds from portion to portion", "5", "3600", str(refrigerant.PORTION_EVERY_S)),
    "over_min": ("minutes over which it is added", "0", "240", "5"),
    "vessel_g": ("the mass of the vessel in grams", "0", "100000", "0"),
    "vessel_cp": ("the heat capacity of the vessel in kJ/(kg K)", "0.05", "5", ""),
    "vessel_from_c": ("the temperature of the vessel in °C", "-60", "100", "20"),
}
FIELDS = (*_FIELDS, "vessel_of")


@dataclass(frozen=True, slots=True)
class Asked:
    """What a reckoning is asked with; ``None`` is left out."""

    from_c: Decimal
    to_c: Decimal
    efficiency_percent: Decimal
    room_m3: Decimal
    air_changes: Decimal
    release_min: Decimal
    background_ppm: Decimal
    charge_g: Decimal | None
    powder_kg_l: Decimal
    every_s: Decimal
    over_min: Decimal
    vessel_g: Decimal
    vessel_cp: Decimal
    vessel_from_c: Decimal
    vessel_of: str = "steel"
    #: Whether air changes were given; else they are none.
    ventilation_known: bool = False


def read_asked(given: Mapping[str, str], usual: Mapping[str, str] | None = None) -> Asked:
    """The fields of :data:`FIELDS` from text; empty for left out, then ``usual`` counts.

    Raises :class:`OperatorError` naming the field: ``bad-number``, ``unknown-material``,
    ``no-room`` where there is no room: without one no charge is told.
    """
    text = {key: (given.get(key) or "").strip() for key in FIELDS}
    text = {key: value or (usual or {}).get(key, "") for key, value in text.items()}
    known = bool(text["air_changes"])
    values = {key: _number(key, value) for key, value in text.items() if key in _FIELDS}
    material = text["vessel_of"] or "steel"
    if material not in MATERIALS:
        raise OperatorError(
            "unknown-material",
            f'"{material[:40]}" is no material of a vessel known here.',
            where="vessel_of",
            remedy=f"There are: {', '.join(MATERIALS)}; or give vessel_cp.",
        )
    values["vessel_cp"] = values["vessel_cp"] or MATERIALS[material]
    if values["room_m3"] is None:
        raise OperatorError(
            "no-room",
            "The volume of the room was not given, and without it no charge is told: what turns "
            "to gas has to go somewhere.",
            where="room_m3",
            remedy="Give length times width times height in metres.",
        )
    asked = Asked(**values, vessel_of=material, ventilation_known=known)  # type: ignore[arg-type]
    if not asked.to_c < asked.from_c:
        raise OperatorError(
            "bad-number",
            f"The draw temperature, {asked.to_c} °C, is not below that of the mix, "
            f"{asked.from_c} °C.",
            where="to_c",
        )
    count = asked.over_min * SIXTY / asked.every_s
    if count > MOST_PORTIONS:
        raise OperatorError(
            "bad-number",
            f"{int(count)} portions are too many.",
            where="every_s",
            remedy=f"{MOST_PORTIONS} at most: add them at longer intervals.",
        )
    return asked


def _number(key: str, text: str) -> Decimal | None:
    what, low, high, usual = _FIELDS[key]
    if not (text or usual):
        return None
    try:
        value = number((text or usual).replace("−", "-"))
    except ValueError as error:
        raise OperatorError(
            "bad-number",
            f'"{text[:40]}" is not {what}.',
            where=key,
            remedy=f"Give a plain number from {low} to {high}.",
        ) from error
    if not Decimal(low) <= value <= Decimal(high):
        more = " Cool it in a refrigerator first." if key == "from_c" and value > 40 else ""
        raise OperatorError(
            "bad-number",
            f'"{text[:40]}" cannot be {what}.{more}',
            where=key,
            remedy=f"Give one from {low} to {high}.",
        )
    return value


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A mix, and what it takes to freeze it with dry ice."""

    mix: Composition
    asked: Asked
    parts: Bodies
    least: Heat
    most: Heat
    vessel_kj: Decimal
    charge: Charge
    #: What is portioned and what the room is reckoned with: as asked, else the most.
    counted_g: Decimal
    room: Room


Amounts = Sequence[tuple[Ingredient, Decimal]]


def amounts_of(formula: Formula) -> Amounts:
    """What a formula weighs in, in grams."""
    return [(one.ingredient, one.target_g) for one in formula.additions]


def reckon(amounts: Amounts, asked: Asked) -> Reckoned:
    """Heat, charge and room for so many grams of each ingredient.

    Raises :class:`OperatorError`: ``not-enough-known`` where its composition does not tell how it
    freezes, ``beyond-method`` for a draw temperature that the method does not reach.
    """
    if not amounts:
        raise OperatorError("not-enough-known", "Nothing was weighed in.", where="composition")
    mix = compose(amounts)
    parts = bodies(amounts, mix)
    least = heat(parts.least, asked.from_c, asked.to_c)
    most = heat(parts.most, asked.from_c, asked.to_c)
    whether = mix.of("water")
    if least is None or most is None or (whether.high and not whether.low):
        raise _beyond(mix, parts, asked.to_c)
    vessel = refrigerant.vessel_heat_kj(
        asked.vessel_g, asked.vessel_cp, asked.vessel_from_c, asked.to_c
    )
    charge = refrigerant.charge(
        min(least.total_kj, most.total_kj) + vessel,
        max(least.total_kj, most.total_kj) + vessel,
        asked.to_c,
        asked.efficiency_percent,
    )
    counted = mass.rounded(asked.charge_g or charge.most_g, TENTH)
    room = room_for(asked, counted)
    return Reckoned(mix, asked, parts, least, most, vessel, charge, counted, room)


def room_for(asked: Asked, charge_g: Decimal) -> Room:
    """The room that was asked with, and the gas of a charge in it."""
    gas = refrigerant.GAS_M3_KG.value * charge_g / 1000
    return Room(
        asked.room_m3, gas, asked.release_min / SIXTY, asked.air_changes, asked.background_ppm
    )


#: The sums of a composition that heat and freezing hang on.
_COUNT = ("water", "fat", "sugars", "alcohol", "total_solids", "sucrose_equivalent", "milk_salts_c")


def missing_for(mix: Composition) -> dict[str, list[str]]:
    """What is missing for the heat of a mix, by ingredient, each fact once."""
    out: dict[str, dict[str, None]] = {}
    for key in (*_COUNT, "salt_c"):
        for ingredient, fact in mix.of(key).missing:
            out.setdefault(ingredient, {})[fact] = None
    return {ingredient: list(facts) for ingredient, facts in out.items()}


def _beyond(mix: Composition, parts: Bodies, to_c: Decimal) -> OperatorError:
    """Why there is no answer, and what would give one."""
    missing = [f"{who}: {', '.join(what)}" for who, what in missing_for(mix).items()]
    ends = [_end(one.solution) for one in (parts.least, parts.most)]
    if any(end is None for end in ends):
        return OperatorError(
            "not-enough-known",
            "How the mix freezes is not known"
            + (f"; missing is {'; '.join(missing[:5])}." if missing else ": no water in it."),
            where="composition",
            remedy="State the composition of its ingredients.",
        )
    coldest = max(end for end in ends if end is not None)
    least = (coldest / TENTH).to_integral_value(ROUND_CEILING) * TENTH
    return OperatorError(
        "beyond-method",
        f"The freezing method does not reach {to_c} °C for this mix; it ends at "
        f"{mass.text(mass.rounded(coldest, HUNDREDTH))} °C, and nothing is guessed beyond.",
        where="to_c",
        remedy=f"Give {least} °C or warmer.",
    )


def _end(solution: Solution | None) -> Decimal | None:
    if solution is None or solution.depression() is None:
        return None
    return _NONE if solution.end is None else solution.end[0]
