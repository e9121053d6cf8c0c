"""One ingredient for another, and the rest brought back to the same composition.

How much of the new one goes in: by the ratio that was given, else by the rule that the old one has
for it (or the new one for the old, read backwards); such an amount is about strength and stays.
Where nobody says how much, it is gram for gram, and moved like the rest unless it is a flavour.

What is taken for a flavour (:mod:`weighd.domain.flavours`) keeps its amount, and so
does what is there for its salt or its alcohol.

The rest is brought back to the old values exactly if that can be, else to within :data:`ROOM` of
each value if that can be, else as near as it can be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from weighd.domain import mass
from weighd.domain.composition import Composition, of_formula
from weighd.domain.contents import row_of
from weighd.domain.errors import OperatorError
from weighd.domain.facts_text import number
from weighd.domain.flavours import is_flavour
from weighd.domain.formula import FINEST, Addition, Formula, Ingredient, read_tolerance
from weighd.domain.freezing import freezing
from weighd.domain.limits import Limit, value_of
from weighd.domain.problem import Solver
from weighd.domain.substitutes import LEAST, MOST
from weighd.domain.targets import AmountTarget, Target
from weighd.station.solving import NEW_TOLERANCE, Aim, Ask, Outcome, solve

_NONE, _ONE = Decimal(0), Decimal(1)
#: What is brought back to the old values, in this order.
SAME = ("fat", "msnf", "sugars", "total_solids", "stabiliser", "freezing_point")
AS_BEFORE = "as before"
#: Of a value, what counts as the same where the very same cannot be had: 0.06 of 11.36 % fat.
ROOM = Decimal("0.005")
#: Old values are taken to this: below what a kitchen can tell, and short enough to be told.
_STEP = Decimal("0.001")


class By(StrEnum):
    """Where the amount of the new ingredient is from; only the last may be moved."""

    GIVEN = "given"
    RULE = "rule"
    BACKWARDS = "rule read backwards"
    NOBODY = "gram for gram"


class Same(StrEnum):
    """How near the mix was brought back to what it was."""

    EXACTLY = "exactly"
    NEARLY = "nearly"
    NO = "no"


@dataclass(frozen=True, slots=True)
class Ratio:
    """Grams of the new ingredient for a gram of the old; ``by`` says where it is from."""

    value: Decimal
    by: By
    note: str = ""
    source: str = ""

    @property
    def fixed(self) -> bool:
        """Whether the amount that it gives is about strength, and stays."""
        return self.by is not By.NOBODY


@dataclass(frozen=True, slots=True)
class Value:
    """A quantity before, with the ingredient swapped and nothing else, and in the end.

    ``None`` for what is not known; a range where facts are missing, lower end first.
    """

    of: str
    unit: str
    before: tuple[Decimal, Decimal] | None
    swapped: tuple[Decimal, Decimal] | None
    after: tuple[Decimal, Decimal] | None


@dataclass(frozen=True, slots=True)
class Swap:
    """What came out.

    ``swapped``   the formula with the one ingredient swapped; ``formula``, with the rest rebalanced
                  (the same where that was not asked for, and then ``outcome`` is ``None``);
    ``same``      how near it was brought back, ``None`` where that was not asked for;
    ``unknown``   quantities whose old values are not known, and could not be brought back.
    """

    old: Ingredient
    new: Ingredient
    ratio: Ratio
    old_g: Decimal
    before: Formula
    swapped: Formula
    formula: Formula
    outcome: Outcome | None
    values: tuple[Value, ...]
    unknown: tuple[str, ...]
    same: Same | None = None

    @property
    def new_missing(self) -> tuple[str, ...]:
        """Facts of the new ingredient that are missing, and make values ranges."""
        facts = self.new.facts
        return ("composition",) if facts is None or not facts.parts_g else facts.missing

    @property
    def moved(self) -> bool:
        """Whether the amount of the new ingredient was found with the rest."""
        return not self.ratio.fixed and not is_flavour(self.new)

    @property
    def new_g(self) -> Decimal:
        """How much of the new ingredient there is in the end."""
        return _grams_of(self.formula, self.new.id)

    @property
    def new_allergens(self) -> tuple[str, ...]:
        """What was not in the old formula: it has to be told."""
        return tuple(sorted(set(self.formula.allergens) - set(self.before.allergens)))

    @property
    def gone_allergens(self) -> tuple[str, ...]:
        """What is in no ingredient any more."""
        return tuple(sorted(set(self.before.allergens) - set(self.formula.allergens)))

    @property
    def water_g(self) -> tuple[tuple[Decimal, Decimal], tuple[Decimal, Decimal]]:
        """Water that came with the old ingredient, and that comes with the new: ranges in grams."""
        return _water(self.old, self.old_g), _water(self.new, self.new_g)


def read_ratio(text: str) -> Decimal | None:
    """A ratio, ``None`` for none given. Raises :class:`OperatorError`, ``bad-ratio``."""
    if not text.strip():
        return None
    try:
        value = number(text)
    except ValueError:
        value = _NONE
    if not LEAST <= value <= MOST:
        raise OperatorError(
            "bad-ratio",
            f'"{text[:40]}" is no ratio.',
            where="ratio",
            remedy=f"Give grams of the new for a gram of the old, from {LEAST} to {MOST}.",
        )
    return value


def ratio_of(old: Ingredient, new: Ingredient, given: Decimal | None) -> Ratio:
    """How much of the new ingredient stands in for a gram of the old."""
    if given is not None:
        return Ratio(given, By.GIVEN)
    for rule in old.instead:
        if rule.ingredient == new.id:
            return Ratio(rule.ratio, By.RULE, rule.note, rule.source)
    for rule in new.instead:
        if rule.ingredient == old.id:
            return Ratio(_ONE / rule.ratio, By.BACKWARDS, rule.note, rule.source)
    return Ratio(_ONE, By.NOBODY)


def swap(
    formula: Formula,
    old: str,
    new: Ingredient,
    solver: Solver,
    *,
    ratio: Decimal | None = None,
    rebalance: bool = True,
) -> Swap:
    """Put ``new`` in place of the ingredient ``old``.

    Raises :class:`OperatorError`: ``unknown-ingredient``, ``same-ingredient``, ``bad-swap``; and
    what the solver raises.
    """
    pool = {one.ingredient.id: one.ingredient for one in formula.additions}
    if old not in pool:
        raise OperatorError(
            "unknown-ingredient",
            f'The formula has no "{old[:60]}".',
            where="old",
            remedy=f"It has: {', '.join(pool)}.",
        )
    if old == new.id:
        raise OperatorError(
            "same-ingredient", f"{new.name} is what it is made with already.", where="new"
        )
    how = ratio_of(pool[old], new, ratio)
    swapped = _swapped(formula, old, new, how.value)
    before = of_formula(formula)
    out: Outcome | None = None
    unknown: tuple[str, ...] = ()
    made: Formula = swapped
    same: Same | None = None
    if rebalance:
        as_before, unknown = _old_values(before)
        amount = _grams_of(swapped, new.id)
        stays = how.fixed or is_flavour(new)
        fixed = [AmountTarget(new.id, amount, amount)] if stays else []
        out = solve(_ask(swapped, formula.batch_g, [*as_before, *fixed], new), solver)
        same = Same.EXACTLY if out.met else Same.NEARLY if _is_near(out) else Same.NO
        if same is Same.NO:
            near = [_about(one) for one in as_before]
            other = solve(_ask(swapped, formula.batch_g, [*near, *fixed], new), solver)
            out, same = (other, Same.NEARLY) if other.met else (out, same)
        made = out.formula
    values = tuple(
        Value(
            one,
            Limit((one,), None, None, "").unit,
            *(_range(one, of_formula(each)) for each in (formula, swapped, made)),
        )
        for one in (*SAME, "water", "sweetness", "alcohol")
        if any(_is_there(one, of_formula(each)) for each in (formula, swapped, made))
    )
    return Swap(
        pool[old],
        new,
        how,
        _grams_of(formula, old),
        formula,
        swapped,
        made,
        out,
        values,
        unknown,
        same,
    )


def _swapped(formula: Formula, old: str, new: Ingredient, ratio: Decimal) -> Formula:
    additions = []
    for one in formula.additions:
        if one.ingredient.id == old:
            grams = mass.rounded(mass.EXACT.multiply(one.target_g, ratio), FINEST)
            if not grams:
                raise OperatorError(
                    "bad-swap",
                    f"Of {new.name} there would be nothing at that ratio.",
                    where="ratio",
                )
            one = _with(one, new, grams)
        if one.carrier == old:
            one = replace(one, carrier=new.id)
        if one.carrier == one.ingredient.id:
            one = replace(one, carrier="")
        additions.append(one)
    return replace(formula, additions=tuple(additions), revision="")


def _with(one: Addition, new: Ingredient, grams: Decimal) -> Addition:
    tolerance = one.tolerance
    if tolerance.band(grams)[0] <= 0:
        tolerance = read_tolerance(NEW_TOLERANCE)
    return replace(one, ingredient=new, target_g=grams, tolerance=tolerance)


def _is_near(out: Outcome) -> bool:
    """Whether every value is missed by no more than counts as the same, and no amount is."""
    ends = {one.name: one for one in out.wishes.amounts}
    kept = all(
        (ends[name].least or _NONE) - _STEP <= grams <= (ends[name].most or grams) + _STEP
        for name, grams in out.exact.items()
    )
    return kept and all(
        one.off is not None and one.off <= abs(one.limit.least or _NONE) * ROOM
        for one in out.reached
    )


def _about(one: Limit) -> Limit:
    assert one.least is not None
    room = abs(one.least) * ROOM
    return replace(one, least=one.least - room, most=one.least + room)


def _old_values(before: Composition) -> tuple[list[Limit], tuple[str, ...]]:
    targets: list[Limit] = []
    unknown = []
    for one in SAME:
        value, _ = value_of((one,), before, freezing(before), None)
        if value is None or not value.known:
            unknown.append(one)
            continue
        exact = mass.short(value.low, _STEP)
        targets.append(Limit((one,), exact, exact, AS_BEFORE))
    return targets, tuple(unknown)


def _ask(
    swapped: Formula,
    batch_g: Decimal,
    targets: Sequence[Target],
    new: Ingredient,
) -> Ask:
    pool = {one.ingredient.id: one.ingredient for one in swapped.additions}
    present: dict[str, Decimal] = {}
    for one in swapped.additions:
        present[one.ingredient.id] = present.get(one.ingredient.id, _NONE) + one.target_g
    free = () if is_flavour(new) else (new.id,)
    return Ask(
        swapped,
        pool,
        tuple(targets),
        batch_g,
        Aim.NEAREST,
        free=free,
        present_g=present,
    )


def _grams_of(formula: Formula, name: str) -> Decimal:
    return sum((one.target_g for one in formula.additions if one.ingredient.id == name), _NONE)


def _water(one: Ingredient, grams: Decimal) -> tuple[Decimal, Decimal]:
    row = row_of(one.facts)
    low = dict(row.low).get("water", _NONE)
    return low * grams, (low + dict(row.spread).get("water", _NONE)) * grams


def _range(of: str, mix: Composition) -> tuple[Decimal, Decimal] | None:
    value, _ = value_of((of,), mix, freezing(mix), None)
    return None if value is None else (value.low, value.high)


def _is_there(of: str, mix: Composition) -> bool:
    found = _range(of, mix)
    return found is not None and found != (_NONE, _NONE)
