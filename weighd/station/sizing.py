"""A batch at a size, its targets at the steps of the scales that judge them, and what that does.

Numbers are decimal strings: grams, percent to 0.001, temperatures to 0.01 °C.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Scale
from weighd.domain.composition import Composition, of_formula
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import Formula
from weighd.domain.freezing import freezing
from weighd.domain.limits import value_of
from weighd.domain.plan import Plan
from weighd.domain.plan_words import Role
from weighd.domain.scale_steps import Rounded, to_steps
from weighd.domain.sizing import Size, read_size
from weighd.station.composing_words import quantity

#: What is compared before and after, where the mix has any of it.
_COMPARED = ("fat", "msnf", "sugars", "stabiliser", "salt", "alcohol", "total_solids", "water")
_POINT = ("freezing_point",)
_MILLI, _CENTI = Decimal("0.001"), Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Sized:
    """A formula at a size: ``exact``, and ``formula``, its targets at the steps of their scales
    where that was asked for (else the same); ``rounded`` tells of each such addition."""

    size: Size
    exact: Formula
    formula: Formula
    rounded: tuple[Rounded, ...] = ()


def chosen_size(batch_g: str, size: str, formula: Formula) -> tuple[Decimal, Size | None]:
    """The size in grams, and how it came about where it was asked for in words.

    Raises :class:`OperatorError`, ``bad-size``, and :class:`FormulaError`, ``bad-batch-size``.
    """
    if batch_g and size:
        raise OperatorError(
            "bad-size", "A mass and a size are both given.", where="size", remedy="Give one."
        )
    if size:
        asked = read_size(size, formula)
        return asked.batch_g, asked
    if not batch_g:
        return formula.batch_g, None
    try:
        return mass.parse(batch_g), None
    except ValueError:
        raise FormulaError(
            "bad-batch-size",
            f'"{batch_g[:40]}" is not a batch size.',
            remedy="Give it in grams, like 2400.",
        ) from None


def judged_on(plan: Plan) -> dict[int, str]:
    """The scale that judges each whole amount, by its number.

    An amount that comes by way of a premix has no display of its own, and its carrier's rest
    follows from what came along: both stay as they are.
    """
    out: dict[int, str] = {}
    for one in plan.weighings:
        if one.role is Role.WHOLE or (one.role is Role.PART and one.part == one.parts):
            out[one.of] = one.scale
    return out


def at_steps(
    formula: Formula, scales: Mapping[int, str], known: Iterable[Scale]
) -> tuple[Formula, tuple[Rounded, ...]]:
    """A scaled formula with its targets at the steps of the scales that judge them."""
    intervals = {one.name: one.interval_g for one in known}
    made, told = to_steps(formula, scales, intervals)
    return made, tuple(told)


def as_planned(size: Size, exact: Formula, plan: Plan, known: Iterable[Scale]) -> Sized:
    """At the steps of the scales that the plan of the exact targets assigns."""
    made, told = at_steps(exact, judged_on(plan), known)
    return Sized(size, exact, made, told)


def on_one_scale(size: Size, exact: Formula, scale: Scale) -> Sized:
    """At the steps of one scale."""
    made, told = at_steps(exact, every_on(exact, scale), (scale,))
    return Sized(size, exact, made, told)


def every_on(formula: Formula, scale: Scale) -> dict[int, str]:
    """Every addition on one scale."""
    return dict.fromkeys(range(1, len(formula.additions) + 1), scale.name)


def draw_size(size: Size, rounded: Sequence[Rounded]) -> dict[str, Any]:
    """How a batch's size was chosen, as its record keeps it."""
    out: dict[str, Any] = dict(size.as_json())
    if rounded:
        out["rounded"] = [one.as_json() for one in rounded]
    return out


def draw_sized(one: Sized) -> dict[str, Any]:
    """All of it as JSON values."""
    told = {each.n: each for each in one.rounded}
    return {
        "formula": one.formula.id,
        "name": one.formula.name,
        "size": dict(one.size.as_json()),
        "batch_g": mass.text(one.formula.batch_g),
        "amounts": [
            {
                "n": n,
                "ingredient": after.ingredient.id,
                "name": after.ingredient.name,
                "exact_g": mass.text(before.target_g),
                "target_g": mass.text(after.target_g),
                "low_g": mass.text(after.band[0]),
                "high_g": mass.text(after.band[1]),
                "scale": told[n].scale if n in told else None,
                "interval_g": mass.text(told[n].interval_g) if n in told else None,
                "kept": told[n].kept if n in told else True,
            }
            for n, (before, after) in enumerate(
                zip(one.exact.additions, one.formula.additions, strict=True), start=1
            )
        ],
        "composition": list(_differences(of_formula(one.exact), of_formula(one.formula))),
    }


def _differences(before: Composition, after: Composition) -> Iterator[dict[str, Any]]:
    for of in (*((key,) for key in _COMPARED), _POINT):
        was, _ = value_of(of, before, freezing(before), None)
        now, _ = value_of(of, after, freezing(after), None)
        if was is None or now is None or not (was.known and now.known) or not was.low:
            continue
        step, unit = (_CENTI, "°C") if of == _POINT else (_MILLI, "%")
        low, high = mass.rounded(was.low, step), mass.rounded(now.low, step)
        yield {
            "of": of[0],
            "name": quantity(of),
            "unit": unit,
            "exact": mass.text(low),
            "rounded": mass.text(high),
            "difference": mass.text(high - low),
        }


def tell(one: Sized) -> Iterator[str]:
    """The whole of it, a line each."""
    drawn = draw_sized(one)
    yield f"{one.formula.name}, {drawn['size']['batch_g']} g by {drawn['size']['by']}"
    yield f"({drawn['size']['words']})"
    yield ""
    for each in drawn["amounts"]:
        line = f"{each['n']:3}. {each['name']:<36} {each['target_g']:>10} g"
        if each["scale"] is not None:
            line += f"   on {each['scale']}, steps of {each['interval_g']} g"
            if each["kept"]:
                line += ": too coarse for its tolerance, not rounded"
            elif Decimal(each["exact_g"]) != Decimal(each["target_g"]):
                line += f", exactly {each['exact_g']} g"
        elif one.rounded:
            line += "   by way of a premix, not rounded"
        yield line
    if one.rounded:
        yield ""
        yield f"Rounded, the batch is {drawn['batch_g']} g, and the mix:"
        for each in drawn["composition"]:
            change = each["difference"]
            sign = "+" if Decimal(change) > 0 else ""
            yield (
                f"  {each['name']:<28} {each['rounded']:>8} {each['unit']}   "
                f"exactly {each['exact']:>8}  {sign}{change}"
            )
