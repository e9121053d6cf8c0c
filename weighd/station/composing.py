"""What a mix is and how it freezes, as JSON values; :mod:`weighd.station.composing_words` tells it.

Numbers are decimal strings, rounded half to even: grams to 0.01, percent to 0.001, temperatures to
0.01 °C, shares of ice to 0.1 %. A value with ``at_most`` is *at least* what it says, and its
``missing`` names ingredient and fact. ``null`` is what nothing limits, or what is not known.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.composition import Amount, Composition, of_formula
from weighd.domain.contents import UNKNOWN
from weighd.domain.errors import OperatorError
from weighd.domain.facts import OF_WHICH, PARTS
from weighd.domain.facts_text import number
from weighd.domain.formula import Formula
from weighd.domain.freezing import Freezing, Solution, freezing
from weighd.domain.limits import Finding, ProductClass, judged
from weighd.domain.sugars import KINDS, MEMORY

GRAM, PERCENT, CELSIUS, ICE = (Decimal(one) for one in ("0.01", "0.001", "0.01", "0.1"))
_MILLI = Decimal("0.0001")
#: From the draw of soft serve down to a household freezer.
USUAL_C = tuple(Decimal(one) for one in ("-4", "-5", "-6", "-8", "-10", "-12", "-14", "-18"))
COLDEST_C, MOST_OVERRUN = Decimal(-60), Decimal(1000)
METHOD = "sucrose equivalents, Goff & Hartel 2013, ch. 6"


@dataclass(frozen=True, slots=True)
class Composed:
    """A formula at its size, composed."""

    formula: Formula
    mix: Composition
    frozen: Freezing
    findings: Sequence[Finding]
    overrun_percent: Decimal | None
    at_c: tuple[Decimal, ...]
    kind: str = ""


def read_overrun(text: str) -> Decimal | None:
    """Overrun in percent, ``None`` for none given. Raises :class:`OperatorError`."""
    return (
        _read(text, "overrun", "an overrun in percent", (Decimal(0), MOST_OVERRUN))
        if text.strip()
        else None
    )


def read_temperature(text: str) -> Decimal:
    """A temperature in °C. Raises :class:`OperatorError`."""
    return _read(text, "at", "a temperature below zero in °C", (COLDEST_C, Decimal(0)))


def _read(text: str, field: str, what: str, limits: tuple[Decimal, Decimal]) -> Decimal:
    try:
        value = number(text.replace("−", "-"))
    except ValueError as error:
        raise OperatorError(
            "bad-number",
            f'"{text[:40]}" is not {what}.',
            where=field,
            remedy=f"Give one from {limits[0]} to {limits[1]}.",
        ) from error
    if not limits[0] <= value <= limits[1]:
        raise OperatorError(
            "bad-number",
            f'"{text[:40]}" is not {what}.',
            where=field,
            remedy=f"Give one from {limits[0]} to {limits[1]}.",
        )
    return value


def composed(
    formula: Formula,
    kinds: Mapping[str, ProductClass],
    *,
    kind: str = "",
    overrun_percent: Decimal | None = None,
    at_c: tuple[Decimal, ...] = USUAL_C,
) -> Composed:
    """Compose a formula; it is held to its own class, or to ``kind``.

    Raises :class:`ConfigError` where there is no such class.
    """
    mix = of_formula(formula)
    frozen = freezing(mix)
    kind = kind or formula.kind
    findings = judged(kinds, kind, mix, frozen, overrun_percent)
    return Composed(formula, mix, frozen, findings, overrun_percent, at_c, kind)


def draw_composition(one: Composed) -> dict[str, Any]:
    """Everything about it, as JSON values."""
    mix, formula = one.mix, one.formula
    sugars = {
        kind: _share(mix, f"sugars.{kind}") for kind in KINDS if mix.of(f"sugars.{kind}").high
    }
    return {
        "formula": formula.id,
        "name": formula.name,
        "revision": formula.revision,
        "class": one.kind,
        "mass_g": mass.text(mix.mass_g),
        "parts": {part: _share(mix, part) for part in PARTS},
        "sugars": {**_share(mix, "sugars"), "kinds": sugars},
        "of_which": {key: _share(mix, key) for key in OF_WHICH},
        "total_solids": _share(mix, "total_solids"),
        "lactose_in_water": drawn_amount(mix.in_water, PERCENT) if mix.of("water").high else None,
        "sweetness": _share(mix, "sweetness"),
        "energy_per_100_g": {unit: drawn_amount(mix.percent(unit), ICE) for unit in ("kcal", "kj")},
        "cost": {
            "batch": drawn_amount(mix.of("cost"), GRAM),
            "per_kg": drawn_amount(mix.of("cost").times(1000 / mix.mass_g), GRAM),
        },
        "mix": _volume(one, Decimal(0)),
        "product": None if one.overrun_percent is None else _volume(one, one.overrun_percent),
        "freezing": draw_freezing(one.frozen, one.at_c),
        "limits": [_finding(finding) for finding in one.findings],
        "allergens": list(formula.allergens),
        "allergen_statement": allergen_statement(formula),
        "missing": {ingredient: list(facts) for ingredient, facts in mix.missing.items()},
        "assumptions": assumptions(one),
        "additions": [_addition(each.ingredient.facts, each) for each in formula.additions],
    }


def allergen_statement(formula: Formula) -> str:
    """A sentence for the label; the labels of the goods come first."""
    if formula.allergens:
        return f"Contains: {', '.join(formula.allergens)}."
    return "No ingredient names an allergen; the labels of the goods decide."


def assumptions(one: Composed) -> list[str]:
    """What was reckoned with beside what is stated, where it matters for this mix."""
    mix = one.mix
    facts = [each.ingredient.facts for each in one.formula.additions if each.ingredient.facts]
    milky = [
        each
        for each in facts
        if any(key in ("msnf", "whey_solids") and value for key, value in each.stated)
    ]
    out = []
    if any("lactose" not in dict(each.stated) for each in milky):
        out.append(
            "Where lactose is not stated it is 54.5 % of milk solids-not-fat and 76.5 % of whey "
            "solids."
        )
    if mix.of("sugars.unspecified").low:
        out.append("Sugars of a kind not known are glucose, fructose, sucrose or maltose.")
    recalled = [
        KINDS[kind].name
        for kind in KINDS
        if KINDS[kind].sweetness_source == MEMORY and mix.of(f"sugars.{kind}").low
    ]
    if recalled:
        out.append(f"How sweet it is stands from memory for: {'; '.join(recalled)}.")
    if mix.of("alcohol_c").high and not mix.of("alcohol_c").missing:
        out.append(
            "Alcohol and glycerol lower the freezing point by their molality; the published method "
            "does not know them."
        )
    if mix.of("other_solids").low or mix.of("stabiliser").low:
        out.append("Fibre counts in the energy like other carbohydrate.")
    if mix.of("other_solids").low:
        out.append(
            "Acids and minerals among other solids are left out of the freezing point; fruit "
            "lowers it a little more."
        )
    return out


def draw_freezing(frozen: Freezing, at_c: Sequence[Decimal]) -> dict[str, Any]:
    """Beginning, curve and end of freezing, as JSON values."""
    thin, thick = frozen.thin, frozen.thick
    start = _point(thin, Decimal(0))
    return {
        "method": METHOD,
        "begins_c": start,
        "begins_at_lowest_c": _point(thick, Decimal(0)),
        "terms_c": None if thin is None or start is None else _terms(thin),
        "sucrose_g_in_100_g_water": None if thin is None else text_of(thin.sucrose_g, GRAM),
        "half_frozen_c": _point(thin, Decimal("0.5")),
        "half_frozen_at_lowest_c": _point(thick, Decimal("0.5")),
        "curve": [_on_curve(frozen, one) for one in at_c],
        "ends": _end(thin),
    }


def _on_curve(frozen: Freezing, at_c: Decimal) -> dict[str, Any]:
    """The thicker end freezes less: it gives the lower share of ice."""
    least = frozen.thick.frozen(at_c) if frozen.thick else None
    most = frozen.thin.frozen(at_c) if frozen.thin else None
    out: dict[str, Any] = {
        "at_c": mass.text(at_c),
        "frozen_percent": _ice(least),
        "at_most_percent": _ice(most),
    }
    if least is None and frozen.thick and frozen.thick.end:
        out["more_than_percent"] = _ice(frozen.thick.end[1])
    return out


def _ice(share: Decimal | None) -> str | None:
    return None if share is None else text_of(share * 100, ICE)


def _point(solution: Solution | None, frozen: Decimal) -> str | None:
    depression = None if solution is None else solution.depression(frozen)
    return None if depression is None else text_of(-depression, CELSIUS)


def _terms(solution: Solution) -> dict[str, str | None]:
    straight = solution.straight_c
    whole = solution.depression() or straight
    return {
        "sugars": text_of(straight - whole, CELSIUS),
        "milk_salts": text_of(-solution.milk_c, CELSIUS),
        "salt": text_of(-solution.salt_c, CELSIUS),
        "alcohol_and_glycerol": text_of(-solution.alcohol_c, CELSIUS),
    }


def _end(solution: Solution | None) -> dict[str, Any] | None:
    if solution is None or solution.end is None:
        return None
    at_c, frozen = solution.end
    return {"at_c": text_of(at_c, CELSIUS), "frozen_percent": _ice(frozen)}


def _volume(one: Composed, overrun: Decimal) -> dict[str, Any]:
    volume = one.mix.of("volume_ml").times(1 + overrun / 100)
    weight = Amount(one.mix.mass_g, one.mix.mass_g)
    return {
        "overrun_percent": mass.text(overrun),
        "volume_ml": drawn_amount(volume, ICE),
        "density_g_ml": drawn_amount(weight.per(volume), _MILLI),
        "cost_per_litre": drawn_amount(one.mix.of("cost").per(volume).times(Decimal(1000)), GRAM),
    }


def _finding(one: Finding) -> dict[str, Any]:
    limit = one.limit
    return {
        "class": one.kind,
        "of": list(limit.of),
        "unit": limit.unit,
        "value": None if one.value is None else drawn_amount(one.value, PERCENT),
        "min": None if limit.least is None else mass.text(limit.least),
        "max": None if limit.most is None else mass.text(limit.most),
        "standing": str(one.standing),
        "why": one.why,
        "source": limit.source,
    }


def _addition(facts: Any, each: Any) -> dict[str, Any]:
    density = facts.density_g_ml if facts else None
    return {
        "ingredient": each.ingredient.id,
        "name": each.ingredient.name,
        "grams": mass.text(each.target_g),
        "volume_ml": None if density is None else text_of(each.target_g / density, ICE),
        "source": facts.source if facts else "",
    }


def _share(mix: Composition, key: str) -> dict[str, Any]:
    whole, share = mix.of(key), mix.percent(key)
    out: dict[str, Any] = {
        "grams": text_of(whole.low, GRAM),
        "percent": text_of(share.low, PERCENT),
    }
    if not whole.known:
        out["at_most"] = {
            "grams": text_of(whole.high, GRAM),
            "percent": text_of(share.high, PERCENT),
        }
        out["missing"] = named(whole)
    return out


def drawn_amount(amount: Amount, step: Decimal) -> dict[str, Any]:
    """An amount as JSON values, rounded; ``at_most`` and ``missing`` where it is not one number."""
    out: dict[str, Any] = {"value": text_of(amount.low, step)}
    if not amount.known:
        out["at_most"] = text_of(amount.high, step)
        out["missing"] = named(amount)
    return out


def named(amount: Amount) -> list[str]:
    """What is missing for an amount, like ``lemon-zest: sugars``."""
    return [f"{ingredient}: {fact}" for ingredient, fact in amount.missing]


def text_of(value: Decimal, step: Decimal) -> str | None:
    """A number rounded to a step; ``None`` for what nothing limits."""
    return None if value == UNKNOWN else mass.text(mass.rounded(value, step))
