"""Two revisions of a formula side by side, as JSON values; ``revision_words`` tells it to people.

Numbers are decimal strings: grams as they are, shares and percent to 0.001, °C and money to 0.001,
shares of ice to 0.01 %.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.against_plan import Prices
from weighd.domain.formula import Addition, Formula
from weighd.domain.formula_beside import Beside, Shift, Side, beside
from weighd.domain.formula_changes import Changes, Pair, Placed, Words, changes, share_of
from weighd.domain.limits import Finding, ProductClass, judged
from weighd.domain.process import ProcessStep, limits_in_words
from weighd.station.composing import METHOD, draw_freezing, text_of
from weighd.station.two_sides import draw_limit, draw_quantity

_MILLI = Decimal("0.001")
#: Points of both curves, in °C.
CURVE_C = tuple(Decimal(-n) for n in range(1, 21))


@dataclass(frozen=True, slots=True)
class Compared:
    """What differs, what each comes to, and how each stands to the limits of one class.

    ``kind``     that class, empty for none; ``unknown`` where the formula names one that is none
                 any more.
    """

    changes: Changes
    it: Beside
    kind: str
    unknown: str
    findings: tuple[tuple[Finding, Finding], ...]
    prices: Prices


def compared(
    then: Formula,
    now: Formula,
    kinds: Mapping[str, ProductClass],
    *,
    kind: str = "",
    prices: Prices | None = None,
) -> Compared:
    """Compare two formulas, both held to ``kind``, or to the class of now, or of then.

    Raises :class:`ConfigError` where no class is called ``kind``.
    """
    known = prices or Prices()
    it = beside(then, now, prices=known.per_kg or None)
    own = now.kind or then.kind
    unknown = "" if kind or own in kinds else own
    kind = kind or ("" if unknown else own)

    def held(side: Side) -> Sequence[Finding]:
        return judged(kinds, kind, side.mix, side.frozen)

    findings = tuple(zip(held(it.then), held(it.now), strict=True))
    return Compared(changes(then, now), it, kind, unknown, findings, known)


def draw_compared(one: Compared) -> dict[str, Any]:
    """Everything about it, as JSON values."""
    it, what = one.it, one.changes
    missing: dict[str, tuple[str, ...]] = {**it.then.mix.missing, **it.now.mix.missing}
    gone, new = set(what.then.allergens), set(what.now.allergens)
    return {
        "formula": what.now.id,
        "name": what.now.name,
        "then": _side(what.then),
        "now": _side(what.now),
        "nothing": what.nothing,
        "only_size": what.only_size,
        "change_g": mass.text(what.grams.normalize()),
        "texts": [_words(each) for each in what.texts],
        "allergens": {"new": sorted(new - gone), "gone": sorted(gone - new)},
        "additions": [_addition(each, what) for each in what.additions],
        "steps": [_step(each) for each in what.steps],
        "differences": [_difference(each) for each in it.shifts],
        "class": one.kind,
        "unknown_class": one.unknown,
        "limits": [draw_limit({"then": before, "now": after}) for before, after in one.findings],
        "freezing": {
            "then": draw_freezing(it.then.frozen, CURVE_C),
            "now": draw_freezing(it.now.frozen, CURVE_C),
        },
        "prices": {"known": bool(one.prices.per_kg), "date": one.prices.date},
        "missing": {name: list(facts) for name, facts in missing.items()},
        "method": METHOD,
    }


def _side(one: Formula) -> dict[str, Any]:
    return {
        "revision": one.revision,
        "name": one.name,
        "batch_g": mass.text(one.batch_g),
        "allergens": list(one.allergens),
    }


def _words(one: Words) -> dict[str, str]:
    return {"of": one.of, "then": one.then, "now": one.now}


def _addition(one: Pair[Addition], what: Changes) -> dict[str, Any]:
    def side(placed: Placed[Addition] | None, formula: Formula) -> dict[str, Any] | None:
        if placed is None:
            return None
        it = placed.it
        return {
            "n": placed.n,
            "target_g": mass.text(it.target_g),
            "share": text_of(share_of(it, formula), _MILLI),
            "tolerance": it.tolerance.text,
            "low_g": mass.text(it.band[0]),
            "high_g": mass.text(it.band[1]),
        }

    shown = one.now or one.then
    assert shown is not None
    return {
        "ingredient": shown.it.ingredient.id,
        "name": shown.it.ingredient.name,
        "how": str(one.how),
        "moved": one.moved,
        "then": side(one.then, what.then),
        "now": side(one.now, what.now),
        "change_g": mass.text(one.grams.normalize()),
        "points": text_of(one.points, _MILLI),
        "texts": [_words(each) for each in one.texts],
        "facts": [
            {"of": each.of, "then": _number(each.then), "now": _number(each.now)}
            for each in one.facts
        ],
    }


def _number(value: Decimal | None) -> str | None:
    return None if value is None else mass.text(value.normalize())


def _step(one: Pair[ProcessStep]) -> dict[str, Any]:
    def side(placed: Placed[ProcessStep] | None) -> dict[str, Any] | None:
        if placed is None:
            return None
        it = placed.it
        return {"n": placed.n, "name": it.name, "limits": limits_in_words(it), "how": it.how}

    shown = one.now or one.then
    assert shown is not None
    return {
        "kind": str(shown.it.kind),
        "name": shown.it.name,
        "how": str(one.how),
        "moved": one.moved,
        "then": side(one.then),
        "now": side(one.now),
        "texts": [_words(each) for each in one.texts],
    }


def _difference(one: Shift) -> dict[str, Any]:
    sides = {"then": one.then, "now": one.now, "change": one.change}
    return {**draw_quantity(one.of, one.at_c, sides), "told": str(one.told)}
