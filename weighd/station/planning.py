"""The weighing plan of a formula on the scales of the station, and its words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.acts import Act, Handle, acts
from weighd.domain.batch import Planned, Scale
from weighd.domain.errors import OperatorError
from weighd.domain.formula import FINEST, Addition, Formula
from weighd.domain.metrology import Rule
from weighd.domain.plan import Plan, Premix, Shortfall, Vessels, wants
from weighd.domain.plan_search import best_plan
from weighd.domain.plan_words import Into, Role
from weighd.domain.steps import Step
from weighd.station.outlook import as_it_shows, rounded_up
from weighd.station.planning_picture import draw_act

#: Vessels heavier than this are a slip of the keyboard.
_LARGEST_G = Decimal(100_000)


def make_plan(
    formula: Formula,
    scales: Iterable[tuple[Scale, float]],
    rule: Rule,
    vessels: Vessels | None = None,
) -> Plan:
    """The best plan for a scaled formula.

    ``scales``  each with the standard deviation of its display at rest in grams, as learned.
    Raises :class:`OperatorError`: ``no-scale`` without any, ``over-capacity``.
    """
    shown = [as_it_shows(scale, noise) for scale, noise in scales]
    if not shown:
        raise OperatorError(
            "no-scale",
            "No scale can be planned with: none is configured, or none was heard yet.",
            remedy="Switch one on, or configure interval_g.",
        )
    return best_plan(wants(formula), shown, rule, vessels)


def read_vessels(bowl_g: str, dish_g: str, dish_holds_g: str) -> Vessels:
    """Vessels from text, empty for not known. Raises :class:`OperatorError`, ``bad-vessel``."""
    bowl, dish, holds = (
        _grams(name, text)
        for name, text in (("bowl", bowl_g), ("dish", dish_g), ("dish's room", dish_holds_g))
    )
    return Vessels(bowl or Decimal(0), dish or Decimal(0), holds or None)


def _grams(name: str, text: str) -> Decimal | None:
    if not text:
        return None
    try:
        grams = mass.parse(text)
    except ValueError:
        grams = Decimal(-1)
    if not 0 <= grams <= _LARGEST_G:
        raise OperatorError(
            "bad-vessel",
            f'"{text}" is no mass of the {name}.',
            remedy="Give it in grams, like 640, or leave it out.",
        )
    return grams


def as_planned(
    n: int,
    one: Addition,
    scale: str,
    amounts: tuple[Decimal, Decimal, Decimal] | None = None,
    step: Step | None = None,
) -> Planned:
    """Weighing ``n``, of an addition of a scaled formula.

    ``amounts``  target, lower and upper limit in grams; without them all of the addition.
    """
    target, low, high = amounts or (one.target_g, *one.band)
    return Planned(
        n,
        one.ingredient.id,
        one.ingredient.name,
        target,
        low,
        high,
        one.tolerance.text,
        scale,
        one.ingredient.allergens,
        one.ingredient.caution,
        one.by_difference,
        step,
    )


def planned(plan: Plan, formula: Formula) -> tuple[Planned, ...]:
    """The weighings of a plan as a batch has them."""
    out = []
    for n, one in enumerate(plan.weighings, start=1):
        addition = formula.additions[one.of - 1]
        low, high = addition.band
        step = Step(
            one.of,
            one.into,
            one.vessel,
            one.role,
            one.part,
            one.parts,
            one.premix,
            addition.target_g,
            low,
            high,
        )
        amounts = one.target_g, one.low_g, one.high_g
        out.append(as_planned(n, addition, one.scale, amounts, None if plan.plain else step))
    return tuple(out)


# --- for programs and pages -----------------------------------------------------------------------


def draw_plan(plan: Plan, formula: Formula) -> dict[str, Any]:
    """A plan as JSON values, masses as decimal strings in grams."""
    return {
        "formula": formula.id,
        "batch_g": mass.text(formula.batch_g),
        "moves": plan.moves,
        "plain": plan.plain,
        "unfit": plan.cost.unfit,
        "scales": list(plan.scales),
        "vessels": {
            "bowl_g": mass.text(plan.vessels.bowl_g),
            "dish_g": mass.text(plan.vessels.dish_g),
            "dish_holds_g": _text(plan.vessels.dish_holds_g),
        },
        "weighings": [
            {
                "n": n,
                "addition": one.of,
                "name": one.name,
                "scale": one.scale,
                "into": one.into,
                "vessel": one.vessel,
                "role": one.role,
                "part": one.part,
                "parts": one.parts,
                "premix": one.premix,
                "target_g": mass.text(one.target_g),
                "low_g": mass.text(one.low_g),
                "high_g": mass.text(one.high_g),
                "share": str(round(one.share, 3)),
                "fit": one.fit,
            }
            for n, one in enumerate(plan.weighings, start=1)
        ],
        "acts": [draw_act(one) for one in acts(_stepped(plan, formula))],
        "premixes": [one.as_json() for one in plan.premixes],
        "shortfalls": [{**one.as_json(), "text": tell_short(one)} for one in plan.shortfalls],
        "text": list(tell(plan, formula)),
    }


def _stepped(plan: Plan, formula: Formula) -> tuple[Planned, ...]:
    """The weighings with their steps, of a plain plan too."""
    weighings = planned(plan, formula)
    if not plan.plain:
        return weighings
    return tuple(
        replace(
            one,
            step=Step(
                one.n, Into.BOWL, 0, Role.WHOLE, 1, 1, 0, one.target_g, one.low_g, one.high_g
            ),
        )
        for one in weighings
    )


def _text(value: Decimal | None) -> str | None:
    return None if value is None else mass.text(value)


# --- for people -----------------------------------------------------------------------------------


def tell(plan: Plan, formula: Formula) -> Iterator[str]:
    """The plan in a cook's words, a line for each thing to do, and then what to know."""
    weighings = _stepped(plan, formula)
    for n, act in enumerate(acts(weighings), start=1):
        yield f"{n}. {_words(act, weighings)}"
    moves = "1 move" if plan.moves == 1 else f"{plan.moves} moves"
    yield f"{len(weighings)} weighings, {moves} of the hands besides."
    for made in plan.premixes:
        yield tell_premix(made, formula)
    for short in plan.shortfalls:
        yield tell_short(short)


def _words(act: Act, weighings: Sequence[Planned]) -> str:
    match act.do:
        case Handle.SET:
            return f"Set {_set(act, weighings)} on {act.scale} and tare it."
        case Handle.CLEAR:
            off = "the bowl" if act.vessel == Into.BOWL else "that vessel"
            return f"Take {off} off {act.scale}."
        case Handle.TIP:
            return "Tip the dish into the bowl and scrape it out."
        case Handle.STIR:
            return f"Stir {act.vessel} until it is even."
        case Handle.WEIGH:
            return _weigh(weighings[act.n - 1])


def _weigh(one: Planned) -> str:
    step = one.step
    assert step is not None
    into = f"into the {step.into} on {one.scale}"
    target = mass.text(one.target_g)
    within = f"({_short(one.low_g)} to {_short(one.high_g)} g)"
    if step.into is Into.SOURCE:
        return f"Take {target} g of {one.name} out of it into the bowl {within}."
    match step.role:
        case Role.PART if step.part < step.parts:
            return f"Weigh about {_about(one.target_g)} g of {one.name} {into} {within}."
        case Role.PART:
            return f"Weigh the rest of {one.name}, about {_about(one.target_g)} g, {into}."
        case Role.PREMIX | Role.CARRIER:
            return f"Weigh about {target} g of {one.name} {into} {within}."
        case Role.FROM_PREMIX:
            return f"Weigh about {target} g of premix {step.premix} {into}, for the {one.name}."
        case Role.REST:
            return f"Weigh the rest of {one.name}, about {target} g, {into}."
        case _:
            return f"Weigh {target} g of {one.name} {into} {within}."


def _set(act: Act, weighings: Sequence[Planned]) -> str:
    vessel = act.vessel
    if vessel == Into.BOWL:
        return "the bowl"
    if vessel.startswith(Into.SOURCE):
        return f"the {weighings[act.n - 1].name}'s own vessel"
    premix = vessel if vessel.startswith(Into.PREMIX) else ""
    return f"an empty dish for {premix}" if premix else "an empty dish"


def tell_premix(made: Premix, formula: Formula) -> str:
    """The arithmetic of a premix, and what it is worth."""
    small = formula.additions[made.of - 1].ingredient.name
    carrier = formula.additions[made.carrier_of - 1].ingredient.name
    return (
        f"Premix {made.n}: {_short(made.part_g)} g of {small} in {_short(made.carrier_g)} g of "
        f"{carrier} are {_short(made.mass_g)} g, of which {_short(made.taken_g)} g hold "
        f"{_short(made.taken_g * made.part_g / made.mass_g)} g of {small} and "
        f"{_short(made.shared_g)} g of {carrier}; {_short(made.left_g)} g are left over. "
        f"Known to {_up(made.u_g)} g (one standard uncertainty) if it is stirred even; weighed "
        f"straight in, to {_up(made.alone_g)} g."
    )


def tell_short(short: Shortfall) -> str:
    """What an amount lacks, and what would do."""
    what = f"{short.name}, {mass.text(short.target_g)} g within {short.tolerance}"
    if short.below_min_g is not None:
        why = f"less than {short.scale} should be used for (Min {mass.text(short.below_min_g)} g)"
    else:
        why = (
            f"the best here, {short.scale}, can judge ± {_short(short.finest_g)} g of it and no "
            "finer"
        )
    ways = []
    if short.interval_g is not None:
        ways.append(
            f"a scale with an interval of {short.interval_g:f} g that holds "
            f"{_short(short.holds_g)} g and its dish"
        )
    ways.append(f"a tolerance of {_short(short.finest_g)} g or wider")
    ways.append("a larger batch")
    text = f"No scale here can judge {what}: {why}. What would do: {', '.join(ways)}."
    if short.premix is not None:
        text += (
            f" Or a premix, if it mixes evenly with addition {short.premix.carrier_of}: "
            f"{_short(short.premix.part_g)} g of it in {_short(short.premix.carrier_g)} g; the "
            "formula has to name that ingredient as its carrier."
        )
    return text


def _short(grams: Decimal) -> str:
    """To 0.01 g, without zeros at the end."""
    return mass.text(mass.short(grams, FINEST))


def _about(grams: Decimal) -> str:
    """To three digits."""
    return mass.text(mass.short(grams, Decimal(1).scaleb(grams.adjusted() - 2)))


def _up(grams: Decimal) -> str:
    """Rounded up to two digits."""
    return f"{rounded_up(grams, 2, Decimal(0)).normalize():f}"
