"""What was solved, as JSON values and told to people.

Numbers are decimal strings: grams to 0.01, percent to 0.001, temperatures to 0.01 °C. Masses and
shares come from the rounded amounts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.conflict import Conflict, End, Tie
from weighd.domain.formula import FINEST, Ingredient
from weighd.domain.limits import SPECIAL
from weighd.domain.mix_lines import FREEZING
from weighd.domain.targets import AmountTarget
from weighd.domain.wishes import BATCH, Wishes
from weighd.station.composing import METHOD, Composed, assumptions
from weighd.station.composing_words import quantity
from weighd.station.solving import Aim, Outcome, Reached

_HUNDRED = Decimal(100)
_MILLI, _CENTI = Decimal("0.001"), Decimal("0.01")
#: Quantities whose values are small are told finer.
_STEPS = {FREEZING: _CENTI, "density": Decimal("0.0001"), "solids_per_litre": Decimal("0.0001")}
AIMS = {
    Aim.NEAREST: "as near to the present amounts as can be, each change in percent of its amount "
    "(of 1 % of the batch where that is more)",
    Aim.CHEAPEST: "at the lowest cost",
    Aim.MIDDLE: "as near to the middle of each range as can be",
}


def draw_solved(one: Outcome) -> dict[str, Any]:
    """All of it as JSON values, but for the composition."""
    ask, present = one.ask, one.ask.present
    return {
        "formula": ask.formula.id if ask.formula else None,
        "name": one.formula.name,
        "met": one.met,
        "aim": str(ask.aim),
        "aim_words": AIMS[ask.aim],
        "batch_g": mass.text(one.formula.batch_g),
        "amounts": [
            {
                "ingredient": name,
                "name": ask.pool[name].name,
                "grams": mass.text(grams),
                "before_g": mass.text(mass.rounded(present[name], FINEST)) if present else None,
                "percent": _text(grams * _HUNDRED / one.formula.batch_g, _MILLI),
                "kept": name in one.kept,
            }
            for name, grams in one.grams.items()
        ],
        "additions": [
            {
                "ingredient": each.ingredient.id,
                "target_g": mass.text(each.target_g),
                "tolerance": each.tolerance.text,
            }
            for each in one.formula.additions
        ],
        "targets": [_reached(each) for each in one.reached],
        "asked_amounts": [
            _asked(each, one) for each in ask.targets if isinstance(each, AmountTarget)
        ],
        "conflict": None if one.fights is None else draw_conflict(one.fights, one.wishes, ask.pool),
        "left_out": [{"of": list(limit.of), "why": why} for limit, why in one.left_out],
    }


def _asked(target: AmountTarget, one: Outcome) -> dict[str, Any]:
    least, most = target.in_grams(one.ask.batch_g)
    got = one.exact[target.ingredient]
    off = max((least or got) - got, got - (got if most is None else most), Decimal(0))
    return {
        "ingredient": target.ingredient,
        "min_g": None if least is None else mass.text(least),
        "max_g": None if most is None else mass.text(most),
        "grams": mass.text(one.grams[target.ingredient]),
        "met": off <= Decimal("1e-6"),
    }


def _reached(one: Reached) -> dict[str, Any]:
    limit, step = one.limit, _STEPS.get(one.limit.of[0], _MILLI)
    out: dict[str, Any] = {
        "of": list(limit.of),
        "unit": limit.unit,
        "min": None if limit.least is None else mass.text(limit.least),
        "max": None if limit.most is None else mass.text(limit.most),
        "value": _text(one.low, step),
        "met": one.met,
        "off_by": None if one.met else _text(one.off, step),
        "source": limit.source,
    }
    if one.high != one.low:
        out["at_most"] = _text(one.high, step)
    return out


def draw_conflict(one: Conflict, wishes: Wishes, pool: Mapping[str, Ingredient]) -> dict[str, Any]:
    """What fights, as JSON values with its sentence."""
    return {
        "ties": [
            {
                "of": list(tie.of) or None,
                "ingredient": None if tie.of or tie.name == BATCH else tie.name,
                "end": str(tie.end),
                "words": phrase(tie, wishes, pool),
            }
            for tie in one.ties
        ],
        "words": sentence(one, wishes, pool),
    }


def sentence(one: Conflict, wishes: Wishes, pool: Mapping[str, Ingredient]) -> str:
    """``Fat at least 12 % and no more than 200 g of Cream cannot both be: the most fat that can be
    had is 10.4 %.``"""
    phrases = [phrase(tie, wishes, pool) for tie in one.ties]
    if not phrases:
        return "Nothing can be made of these ingredients that freezes by the method known here."
    if len(phrases) == 1:
        head = f"{phrases[0]} cannot be had of these ingredients"
    else:
        both = "both be" if len(phrases) == 2 else "all be"
        head = f"{', '.join(phrases[:-1])} and {phrases[-1]} cannot {both}"
    head = head[:1].upper() + head[1:]
    if one.about is None or one.can_be is None:
        return f"{head}."
    where = "with all else as asked " if one.all_else else ""
    return f"{head}: {where}{_best(one.about, one.can_be)}."


def _best(tie: Tie, value: Decimal) -> str:
    step = _STEPS.get(tie.of[0], _CENTI)
    rounding = ROUND_FLOOR if tie.end is End.LEAST else ROUND_CEILING
    told = mass.text(value.quantize(step, rounding=rounding))
    unit = SPECIAL.get(tie.of[0], "%")
    name = quantity(tie.of)
    if tie.of == (FREEZING,):
        word = "highest" if tie.end is End.LEAST else "lowest"
        return f"the {word} freezing point that can be had is {told} °C"
    if len(tie.of) == 1 and unit == "%":
        word = "most" if tie.end is End.LEAST else "least"
        return f"the {word} {name} that can be had is {told} %"
    word = "highest" if tie.end is End.LEAST else "lowest"
    return f"the {word} that can be had is {told} {unit}"


def phrase(tie: Tie, wishes: Wishes, pool: Mapping[str, Ingredient]) -> str:
    """One wish in a cook's words."""
    if tie.name == BATCH and not tie.of:
        return f"a batch of {_grams(wishes.batch_g or Decimal(0))}"
    if tie.of:
        limit = next(one for one in wishes.limits if one.of == tie.of)
        value = limit.least if tie.end is End.LEAST else limit.most
        assert value is not None
        return f"{quantity(tie.of)} {tie.end} {mass.text(value)} {limit.unit}"
    amount = next(one for one in wishes.amounts if one.name == tie.name)
    name = pool[tie.name].name
    if tie.end is End.LEAST:
        return f"at least {_grams(amount.least or Decimal(0))} of {name}"
    if not amount.most:
        return f"no {name}"
    return f"no more than {_grams(amount.most or Decimal(0))} of {name}"


def tell(one: Outcome) -> Iterator[str]:
    """The whole of it, a line each."""
    ask = one.ask
    yield f"{one.formula.name}, {_grams(one.formula.batch_g)}"
    yield f"Taken {AIMS[ask.aim]}."
    yield ""
    present = ask.present
    for name, grams in one.grams.items():
        before = present.get(name) if present else None
        if not grams and not before:
            continue
        told = f"{ask.pool[name].name:<36} {mass.text(grams):>10} g"
        if before is not None:
            change = grams - mass.rounded(before, FINEST)
            told += f"   was {mass.text(mass.rounded(before, FINEST)):>9} g"
            told += f"  {'+' if change > 0 else ''}{mass.text(change)} g" if change else ""
        yield told + ("   kept" if name in one.kept else "")
    yield ""
    for each in one.reached:
        yield _row(each)
    for target in ask.targets:
        if isinstance(target, AmountTarget):
            drawn = _asked(target, one)
            if not drawn["met"]:
                yield f"Not met: {ask.pool[target.ingredient].name}, {drawn['grams']} g"
    for limit, why in one.left_out:
        yield f"Left out: {quantity(limit.of)}; {why}."
    if one.fights is not None:
        yield ""
        yield sentence(one.fights, one.wishes, ask.pool)
        yield "What stands above misses the targets by the least."
        if one.kept:
            first = one.kept[0]
            yield f'Kept ingredients may move once they are named, like "{first}>=0 g".'


def notes(one: Composed) -> Iterator[str]:
    """What the values rest on: what is missing, what was taken for granted, and the method."""
    names = {each.ingredient.id: each.ingredient.name for each in one.formula.additions}
    for ingredient, facts in one.mix.missing.items():
        yield f"Missing of {names[ingredient]}: {', '.join(facts)}."
    yield from assumptions(one)
    yield f"Freezing points by {METHOD}: good to a tenth of a degree or two."


def _row(one: Reached) -> str:
    drawn = _reached(one)
    low, high, unit = drawn["min"], drawn["max"], drawn["unit"]
    wanted = (
        low
        if low == high
        else f"{low} to {high}"
        if low and high
        else f"{low} or more"
        if low
        else f"{high} or less"
    )
    value = drawn["value"] or "not known"
    if drawn.get("at_most"):
        value = f"{value} to {drawn['at_most']}"
    head = "  " if one.met else "! "
    tail = "" if one.met or not drawn["off_by"] else f", off by {drawn['off_by']}"
    source = "" if one.limit.source == "asked for" else f"  [{one.limit.source}]"
    return f"{head}{quantity(one.limit.of):<34} {value:>10} {unit}; {wanted}{tail}{source}"


def _grams(value: Decimal) -> str:
    return f"{mass.text(mass.short(value, FINEST))} g"


def _text(value: Decimal | None, step: Decimal) -> str | None:
    return None if value is None or not value.is_finite() else mass.text(mass.rounded(value, step))
