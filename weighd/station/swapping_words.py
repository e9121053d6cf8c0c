"""A swap as JSON values, and told to people. Numbers as in :mod:`weighd.station.solving_words`."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.formula import FINEST
from weighd.station.composing_words import quantity
from weighd.station.solving_words import draw_solved, sentence
from weighd.station.swapping import By, Same, Swap, Value

_MILLI, _CENTI, _RATIO = Decimal("0.001"), Decimal("0.01"), Decimal("0.0001")
_MOVED = "gram for gram at first, since no rule says how much, and then moved like the rest"
READ_LABELS = "Read every label, and tell whoever eats it."
_HOW = {
    By.GIVEN: "as given",
    By.RULE: "by the rule of the ingredient it stands in for",
    By.BACKWARDS: "by its own rule, read backwards",
    By.NOBODY: "gram for gram, since no rule says how much: taste it",
}


def draw_swap(one: Swap) -> dict[str, Any]:
    """All of it, but for the composition."""
    old_water, new_water = one.water_g
    out = one.outcome
    return {
        "formula": one.before.id,
        "old": {"ingredient": one.old.id, "name": one.old.name, "grams": _grams(one.old_g)},
        "new": {
            "ingredient": one.new.id,
            "name": one.new.name,
            "grams": _grams(one.new_g),
            "caution": one.new.caution,
        },
        "ratio": {
            "value": mass.text(mass.short(one.ratio.value, _RATIO)),
            "by": str(one.ratio.by),
            "words": _MOVED if one.moved else _HOW[one.ratio.by],
            "note": one.ratio.note,
            "source": one.ratio.source,
        },
        "water": {"old_g": _span(old_water, _CENTI), "new_g": _span(new_water, _CENTI)},
        "allergens": {
            "before": list(one.before.allergens),
            "after": list(one.formula.allergens),
            "new": list(one.new_allergens),
            "gone": list(one.gone_allergens),
        },
        "values": [_value(each) for each in one.values],
        "unknown": list(one.unknown),
        "new_missing": list(one.new_missing),
        "same": None if one.same is None else str(one.same),
        "same_words": _SAME[one.same],
        "additions": [
            {
                "ingredient": each.ingredient.id,
                "target_g": mass.text(each.target_g),
                "tolerance": each.tolerance.text,
            }
            for each in one.formula.additions
        ],
        "balance": None if out is None else draw_solved(out),
    }


_SAME = {
    None: "Nothing else was changed.",
    Same.EXACTLY: "The mix is what it was before.",
    Same.NEARLY: "The mix is what it was before, each value to within half a percent of itself.",
    Same.NO: "It cannot be the same in all; this is as near as it can be had.",
}


def _value(one: Value) -> dict[str, Any]:
    step = _CENTI if one.of == "freezing_point" else _MILLI
    return {
        "of": one.of,
        "name": quantity((one.of,)),
        "unit": one.unit,
        "before": _span(one.before, step),
        "swapped": _span(one.swapped, step),
        "after": _span(one.after, step),
    }


def _span(ends: tuple[Decimal, Decimal] | None, step: Decimal) -> str | None:
    """``12.3``, or ``12.3 to 14.5`` where facts are missing; ``None`` for not known."""
    if ends is None or not all(end.is_finite() for end in ends):
        return None
    low, high = (mass.text(mass.rounded(end, step)) for end in ends)
    return low if low == high else f"{low} to {high}"


def tell(one: Swap) -> Iterator[str]:
    """The whole of it, a line each; what is new to somebody who cannot eat it comes first."""
    drawn = draw_swap(one)
    if one.new_allergens:
        yield f"NEW ALLERGEN: {', '.join(one.new_allergens)}. {READ_LABELS}"
        yield ""
    ratio = drawn["ratio"]
    yield f"{drawn['new']['name']} instead of {drawn['old']['name']}, in {one.before.name}"
    told = f"{drawn['old']['grams']} g become {drawn['new']['grams']} g: {ratio['words']}"
    yield f"{told} ({ratio['value']} g for each gram)." if one.ratio.fixed else f"{told}."
    if ratio["note"] or ratio["source"]:
        yield "  " + " ".join(
            filter(None, (ratio["note"], ratio["source"] and f"[{ratio['source']}]"))
        )
    if drawn["new"]["caution"]:
        yield f"  {drawn['new']['caution']}"
    water = drawn["water"]
    yield (
        f"Water that comes with it: {water['new_g'] or 'not known'} g; "
        f"with the old {water['old_g'] or 'not known'} g."
    )
    if one.gone_allergens:
        yield (
            f"No ingredient names {', '.join(one.gone_allergens)} any more; "
            "the labels of the goods decide."
        )
    yield ""
    yield from _amounts(one)
    yield ""
    yield f"{'':<30} {'before':>18} {'swapped':>18} {'rebalanced':>18}"
    for each in drawn["values"]:
        row = [each[key] or "not known" for key in ("before", "swapped", "after")]
        yield f"{each['name'] + ', ' + each['unit']:<30} " + " ".join(f"{x:>18}" for x in row)
    out = one.outcome
    if one.unknown:
        yield ""
        yield (
            f"Not known before, and so not brought back: "
            f"{', '.join(quantity((each,)) for each in one.unknown)}."
        )
    if one.new_missing:
        yield ""
        yield (
            f"Of {one.new.name} is missing: {', '.join(one.new_missing)}. State it, and the ranges "
            "above become values."
        )
    yield ""
    yield drawn["same_words"]
    if out is not None and out.fights is not None and one.same is Same.NO:
        yield sentence(out.fights, out.wishes, out.ask.pool)


def _amounts(one: Swap) -> Iterator[str]:
    before: dict[str, Decimal] = {}
    after: dict[str, Decimal] = {}
    names: dict[str, str] = {}
    for grams, formula in ((before, one.before), (after, one.formula)):
        for each in formula.additions:
            name = each.ingredient.id
            names[name] = each.ingredient.name
            grams[name] = grams.get(name, Decimal(0)) + each.target_g
    for name, called in names.items():
        was, now = before.get(name, Decimal(0)), after.get(name, Decimal(0))
        change = now - was
        sign = "+" if change > 0 else ""
        line = f"{called:<36} {_grams(now):>10} g   was {_grams(was):>9} g"
        yield f"{line}  {sign}{_grams(change)} g" if change else line


def _grams(value: Decimal) -> str:
    return mass.text(mass.rounded(value, FINEST))
