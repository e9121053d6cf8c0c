"""What takes up heat in a mix: its parts by heat capacity, and what is known of them.

Heat capacities in kJ/(kg K) over °C, Y. Choi & M. R. Okos, *Effects of temperature and composition
on the thermal properties of foods* (1986). The slope for fat is printed as 1.4373 in the copy that
was read and as 1.4733 in the form that handbooks and reference libraries use, which stands here; at
5 % fat the two differ by less than 0.00001 kJ/(kg K). Alcohol is a straight line through 2.257 at
0 °C and 2.290 at 5 °C (CoolProp 8.0.0); the book has none.

What is not stated of the solids: 38 % of milk solids-not-fat are protein and 8 % ash (H. D. Goff,
*Ice Cream Technology e-Book*, Univ. of Guelph, ch. 16), 13.5 and 8.7 % of whey solids (USDA SR
01115). All other solids count as carbohydrate, glycerol too.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from weighd.domain.composition import Composition
from weighd.domain.facts import SUGARS
from weighd.domain.formula import Ingredient
from weighd.domain.freezing import Solution, freezing

_NONE = Decimal(0)
#: kJ/(kg K): constant, by °C, by °C².
Polynomial = tuple[Decimal, Decimal, Decimal]


def _made(*terms: str) -> Polynomial:
    first, second, third = (Decimal(one) for one in (*terms, "0", "0")[:3])
    return first, second, third


DRY: dict[str, Polynomial] = {
    "fat": _made("1.9842", "0.0014733", "-0.0000048008"),
    "protein": _made("2.0082", "0.0012089", "-0.0000013129"),
    "carbohydrate": _made("1.5488", "0.0019625", "-0.0000059399"),
    "ash": _made("1.0926", "0.0018896", "-0.0000036817"),
    "alcohol": _made("2.257", "0.0066"),
}
WATER_WARM = _made("4.1762", "-0.000090864", "0.0000054731")
WATER_COLD = _made("4.0817", "-0.0053062", "0.00099516")
ICE = _made("2.0623", "0.0060769")

#: Shares of protein and ash where an ingredient does not state them.
_OF_MILK = {"protein": Decimal("0.38"), "ash": Decimal("0.08")}
_OF_WHEY = {"protein": Decimal("0.135"), "ash": Decimal("0.087")}
_HOSTS = ("msnf", "whey_solids", "stabiliser", "other_solids")


@dataclass(frozen=True, slots=True)
class Body:
    """What is cooled, in grams: its water with what is dissolved in it, and the dry parts by the
    names of :data:`DRY`."""

    water_g: Decimal
    solution: Solution | None
    dry_g: dict[str, Decimal] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Bodies:
    """A mix that takes up no less than ``least`` and no more than ``most``.

    They are one where nothing is missing. ``recalled`` tells whether shares of protein and ash
    stand in for what the ingredients do not state.
    """

    least: Body
    most: Body
    recalled: bool


def bodies(amounts: Iterable[tuple[Ingredient, Decimal]], mix: Composition) -> Bodies:
    """The parts of a mix, ``amounts`` of each ingredient in grams.

    Where facts are missing, ``most`` has all the water there may be, with the least dissolved in
    it, and of what else is unknown it takes the greatest heat capacity; ``least`` the opposite.
    """
    known, recalled = _known(amounts, mix)
    frozen = freezing(mix)
    water = mix.of("water")
    gaps = any(mix.of(key).missing for key in ("water", "fat", "alcohol", SUGARS, "total_solids"))
    light, heavy = ("ash", "protein") if gaps else ("carbohydrate", "carbohydrate")
    if mix.of("alcohol").missing:
        heavy = "alcohol"
    whole = mix.mass_g - sum(known.values(), _NONE)

    def body(water_g: Decimal, solution: Solution | None, rest: str) -> Body:
        more = max(whole - water_g, _NONE)
        return Body(water_g, solution, {**known, rest: known.get(rest, _NONE) + more})

    return Bodies(
        body(water.low, frozen.thick, light), body(water.high, frozen.thin, heavy), recalled
    )


def _known(
    amounts: Iterable[tuple[Ingredient, Decimal]], mix: Composition
) -> tuple[dict[str, Decimal], bool]:
    """Grams of each dry part that are there for sure; whether shares stood in for some."""
    protein = ash = hosts = _NONE
    recalled = False
    for ingredient, grams in amounts:
        stated = dict(ingredient.facts.stated) if ingredient.facts else {}
        milk, whey = stated.get("msnf", _NONE), stated.get("whey_solids", _NONE)
        solids = sum((stated.get(key, _NONE) for key in _HOSTS), _NONE)
        inside = {}
        for key in ("protein", "ash"):
            recalled = recalled or bool(key not in stated and (milk or whey))
            guess = milk * _OF_MILK[key] + whey * _OF_WHEY[key]
            inside[key] = min(stated.get(key, guess), solids)
        each = grams / 100
        protein += inside["protein"] * each
        ash += min(inside["ash"], solids - inside["protein"]) * each
        hosts += solids * each
    out = {
        "fat": mix.of("fat").low,
        "protein": protein,
        "carbohydrate": mix.of(SUGARS).low + hosts - protein - ash,
        "ash": ash + mix.of("salt").low,
        "alcohol": mix.of("alcohol").low,
    }
    return {key: max(value, _NONE) for key, value in out.items() if value}, recalled
