"""What a seed's kitchen is: its scales, its formulas, its habits, and how much goes wrong there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from tests.domain.process_world import tables
from tests.simulation.chance import Chance, chance_of
from tests.simulation.scales import SHAPES, Make
from weighd.domain.formula import Formula
from weighd.domain.formula_text import read_formula

#: Invented names; a name with a blank at its end is the same person.
PEOPLE = ("Ada", "Bo", "Cem", "Dora")
_INGREDIENTS = ("milk", "cream", "sugar", "salt", "gum", "cocoa", "water")
_STEPS = (
    '[[steps]]\nkind = "mix"\ncautions = [{ name = "hot pan", text = "Mind the pan." }]\n',
    '[[steps]]\nkind = "heat-treat"\ntable = "uk-1995"\n',
    '[[steps]]\nkind = "age"\ntemperature = "at most 4 °C"\ntime = "4 h to 24 h"\n',
    '[[steps]]\nkind = "cool"\ntemperature = "at most 4 °C"\ntime = "within 90 min"\n',
    '[[steps]]\nkind = "fill"\n',
)
#: Interval, capacity and reports a second of scales that are found in kitchens.
_COARSE = (("1", 6000, 7), ("0.5", 6000, 6), ("0.1", 6000, 8), ("0.1", 12000, 7), ("2", 15000, 5))
_FINE = (("0.01", 500, 7), ("0.05", 1000, 8), ("0.02", 600, 6))


@dataclass(frozen=True)
class Setting:
    """A kitchen as drawn from its seed.

    ``slips``   the share of turns in which the cook slips; ``faults``, in which something fails.
    ``dirt``    the share of reports that a cable damages.
    ``store``   ``memory``, or ``file`` for a database file.
    """

    seed: int
    makes: tuple[Make, ...]
    formula: Formula
    content: Mapping[str, Any]
    batches: int
    slips: float
    faults: float
    dirt: float
    chunks: str
    store: str
    planned: bool
    rule: str
    recorded: bool
    bowl_g: float
    shelf: bool
    lots: bool
    checks: str
    stated: Mapping[str, str]


def drawn(seed: int) -> Setting:
    """The kitchen of a seed."""
    chance = chance_of(seed, -1)
    makes = _scales(chance)
    planned = len(makes) > 1 and chance.often(0.6)
    formula = read_formula(_formula(chance, makes, planned=planned), "sim.toml", None, tables())
    calm = chance.often(0.25)
    coarse = makes[0]
    stated = {}
    if chance.often(0.15):
        stated = {"repeatability_g": coarse.interval, "creep_g": coarse.interval}
    return Setting(
        seed,
        makes,
        formula,
        formula.content(),
        chance.choice((1, 2, 2, 3, 3, 4)),
        0.0 if calm else chance.choice((0.1, 0.2, 0.35)),
        0.0 if calm and chance.often(0.5) else chance.choice((0.02, 0.06, 0.12)),
        0.0 if chance.often(0.6) else chance.choice((0.01, 0.05)),
        chance.choice(("whole", "whole", "pieces", "bytes", "late", "mixed")),
        "file" if chance.often(0.04) else "memory",
        planned,
        chance.choice(("simple", "simple", "guarded")),
        chance.often(0.2),
        round(chance.uniform(150, 900), 2),
        chance.often(0.3),
        chance.often(0.5),
        chance.choice(("", "", "", "flags", "bars")),
        stated,
    )


def _scales(chance: Chance) -> tuple[Make, ...]:
    count = chance.choice((1, 1, 1, 2, 2, 3))
    makes = []
    for n in range(count):
        interval, most, rate = chance.choice(_FINE if n == 1 else _COARSE)
        shape = chance.choice(SHAPES)
        plain = shape in ("digits", "unit-when-stable")
        # In kg digits are added; what is decoded is the same.
        unit = "kg" if not plain and chance.often(0.15) else "g"
        makes.append(
            Make(
                ("bench", "fine", "floor")[n],
                interval,
                most,
                rate,
                shape,
                unit,
                chance.choice((1.0, 1.0, 0.75, 0.5)),
                chance.choice((0.0, 0.0, 0.3, 0.6)),
            )
        )
    return tuple(makes)


def _formula(chance: Chance, makes: tuple[Make, ...], *, planned: bool) -> str:
    """A formula that the scales can weigh, as a file has it."""
    d = float(makes[0].interval)
    names = chance.sample(_INGREDIENTS, chance.choice((1, 2, 2, 2, 3, 3, 4)))
    out = ['name = "Simulated ice"', 'scenario = "Invented, for the tests."', "[ingredients]"]
    for name in names:
        milk = 'allergens = ["milk"], ' if name in ("milk", "cream") else ""
        out.append(f'{name} = {{ name = "{name.capitalize()}", {milk}caution = "" }}')
    room = makes[0].max_g * 0.75 - 900
    for n, name in enumerate(names):
        most = room / len(names)
        least = 30 * d
        if planned and name in ("salt", "gum") and n:
            target = Decimal(str(round(chance.uniform(1, 40), 1)))
        elif planned and n == 0 and chance.often(0.2):
            target = Decimal(round(makes[0].max_g * chance.uniform(1.05, 1.4)))
        else:
            target = Decimal(str(round(least + (most - least) * chance.random() ** 3, 1)))
        wide = chance.choice((4, 6, 10, 1.5)) * d
        share = float(target) * 0.02
        tolerance = min(max(wide, share if chance.often(0.4) else wide), float(target) * 0.45)
        out += ["[[additions]]", f'ingredient = "{name}"', f'target = "{target} g"']
        if chance.often(0.1):
            out.append(f'tolerance = "+{tolerance:.2f} / -{tolerance * 0.7:.2f} g"')
        else:
            out.append(f'tolerance = "{tolerance:.2f} g"')
        if chance.often(0.15):
            out.append('method = "by difference"')
        if planned and name in ("salt", "gum") and n and chance.often(0.7):
            out.append(f'carrier = "{names[0]}"')
    if chance.often(0.3):
        steps = sorted(chance.sample(range(len(_STEPS)), chance.randint(1, 3)))
        out += [_STEPS[one] for one in steps]
    return "\n".join(out) + "\n"
