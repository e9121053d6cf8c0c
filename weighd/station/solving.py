"""From targets to amounts: what is asked, solved, rounded, and composed again from what came out.

The answer holds all that was asked where that can be had. Where it cannot, it says which wishes
fight, and gives the mix that misses them by the least. Amounts are rounded to 0.01 g, and every
value beside a target is reckoned anew, in ``Decimal``, from the rounded amounts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from weighd.domain import mass
from weighd.domain.composition import Composition, compose, of_formula
from weighd.domain.conflict import Conflict, conflict
from weighd.domain.contents import row_of
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.flavours import stays
from weighd.domain.formula import FINEST, LARGEST_G, Addition, Formula, Ingredient, read_tolerance
from weighd.domain.freezing import freezing
from weighd.domain.limits import EVERY, Limit, ProductClass, value_of
from weighd.domain.mix_lines import FREEZING, upper
from weighd.domain.mix_search import Mixing, solve_mix
from weighd.domain.problem import Line, NoSolution, Solved, Solver, Unknown
from weighd.domain.targets import MOST_TARGETS, AmountTarget, Target
from weighd.domain.wishes import Wishes, hard, least_change, nearest

_NONE, _ONE, _HUNDRED = Decimal(0), Decimal(1), Decimal(100)
_NEEDS_AIR = ("density", "solids_per_litre")
#: A value is at its target if it is off by no more than this: the float's share, not the cook's.
_ROUNDING = Decimal("1e-6")
#: What a new ingredient is weighed within, and one whose own tolerance its new amount outgrew.
NEW_TOLERANCE = "1 %"


class Aim(StrEnum):
    """What is best among all the mixes that are as asked."""

    NEAREST = "nearest"
    CHEAPEST = "cheapest"
    MIDDLE = "middle"


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked for.

    ``formula``  the present one, if there is one; ``pool``, the ingredients that may be used;
    ``limits``   of a class of product, beside the targets; a target of the same goes first.
    ``free``     ingredients that are up for change whatever they are there for;
    ``present_g``  the present grams, where they are not the formula's at the size asked for.
    """

    formula: Formula | None
    pool: Mapping[str, Ingredient]
    targets: tuple[Target, ...]
    batch_g: Decimal
    aim: Aim
    limits: tuple[Limit, ...] = ()
    overrun_percent: Decimal | None = None
    free: tuple[str, ...] = ()
    present_g: Mapping[str, Decimal] | None = None

    @property
    def present(self) -> dict[str, Decimal]:
        """The present grams of each ingredient at the size asked for; empty without a formula."""
        if self.formula is None:
            return {}
        if self.present_g is not None:
            return {**dict.fromkeys(self.pool, _NONE), **self.present_g}
        out = dict.fromkeys(self.pool, _NONE)
        for one in self.formula.additions:
            grams = mass.EXACT.multiply(one.target_g, self.batch_g) / self.formula.batch_g
            out[one.ingredient.id] = out.get(one.ingredient.id, _NONE) + grams
        return out


@dataclass(frozen=True, slots=True)
class Reached:
    """A target and what came out: ``off`` is how far the value is from it, in its own unit."""

    limit: Limit
    low: Decimal | None
    high: Decimal | None
    met: bool
    off: Decimal | None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came out.

    ``exact``   grams as they were solved, and ``grams``, rounded to 0.01 g;
    ``formula`` the formula that they make, nothing of what is zero;
    ``kept``    ingredients whose amount was not up for change, by id;
    ``left_out`` limits that could not be asked for, with why.
    """

    ask: Ask
    wishes: Wishes
    exact: Mapping[str, Decimal]
    grams: Mapping[str, Decimal]
    formula: Formula
    mix: Composition
    reached: tuple[Reached, ...]
    fights: Conflict | None
    kept: tuple[str, ...]
    left_out: tuple[tuple[Limit, str], ...]

    @property
    def met(self) -> bool:
        """Whether everything that was asked for came out."""
        return self.fights is None


def asked(
    formula: Formula | None,
    pool: Mapping[str, Ingredient],
    targets: Iterable[Target],
    *,
    batch_g: Decimal | None = None,
    aim: str = "",
    kinds: Mapping[str, ProductClass] | None = None,
    kind: str = "",
    overrun_percent: Decimal | None = None,
) -> Ask:
    """A request, checked.

    ``kind``  whose limits count as targets too, beside those of ``every`` class; empty for none.
    Raises :class:`OperatorError` or :class:`FormulaError` naming what is wrong with it.
    """
    pool = {**_of(formula), **pool}
    if not pool:
        raise OperatorError(
            "no-ingredients", "There is nothing to make it of.", remedy="Name ingredients."
        )
    wanted = list(targets)
    if len(wanted) > MOST_TARGETS:
        raise OperatorError(
            "bad-target", f"{len(wanted)} targets are too many; {MOST_TARGETS} at most."
        )
    size = batch_g if batch_g is not None else formula.batch_g if formula else Decimal(1000)
    if not 0 < size <= LARGEST_G:
        raise FormulaError(
            "bad-batch-size",
            f"A batch of {size} g cannot be made.",
            remedy=f"Give a size above 0 g and up to {LARGEST_G} g.",
        )
    limits = [one for one in wanted if isinstance(one, Limit)]
    seen = set()
    for one in wanted:
        key = one.of if isinstance(one, Limit) else one.ingredient
        if key in seen:
            name = " + ".join(key) if isinstance(key, tuple) else key
            raise OperatorError(
                "bad-target", f"There are two targets for {name}.", remedy="Give a range instead."
            )
        seen.add(key)
    return Ask(
        formula,
        pool,
        tuple(wanted),
        size,
        _aim(aim, formula, pool),
        tuple(_of_class(kinds or {}, kind, limits)) if kind else (),
        overrun_percent,
    )


def _of(formula: Formula | None) -> dict[str, Ingredient]:
    return {one.ingredient.id: one.ingredient for one in formula.additions} if formula else {}


def _aim(text: str, formula: Formula | None, pool: Mapping[str, Ingredient]) -> Aim:
    if not text:
        if formula is not None:
            return Aim.NEAREST
        priced = all(one.facts and one.facts.cost_per_kg is not None for one in pool.values())
        return Aim.CHEAPEST if priced else Aim.MIDDLE
    try:
        aim = Aim(text)
    except ValueError:
        raise OperatorError(
            "bad-aim",
            f'"{text[:40]}" is no aim.',
            where="aim",
            remedy=f"Choose one of {', '.join(Aim)}.",
        ) from None
    if aim is Aim.NEAREST and formula is None:
        raise OperatorError(
            "bad-aim",
            "Without a formula there is nothing to be near to.",
            where="aim",
            remedy="Name a formula, or choose cheapest or middle.",
        )
    return aim


def _of_class(
    kinds: Mapping[str, ProductClass], kind: str, before: Iterable[Limit]
) -> Iterable[Limit]:
    if kind not in kinds:
        raise OperatorError(
            "unknown-class",
            f'No class of product is called "{kind[:60]}".',
            remedy=f"There are: {', '.join(sorted(set(kinds) - {EVERY}))}.",
        )
    given = {one.of for one in before}
    both: dict[tuple[str, ...], Limit] = {}
    for named in dict.fromkeys((EVERY, kind)):
        for one in kinds[named].limits if named in kinds else ():
            if one.of in given:
                continue
            other = both.get(one.of)
            both[one.of] = one if other is None else _tighter(one, other)
    return both.values()


def _tighter(one: Limit, other: Limit) -> Limit:
    lows = [end for end in (one.least, other.least) if end is not None]
    highs = [end for end in (one.most, other.most) if end is not None]
    source = "; ".join(dict.fromkeys((other.source, one.source)))
    return Limit(one.of, max(lows, default=None), min(highs, default=None), source)


def solve(ask: Ask, solver: Solver) -> Outcome:
    """Solve it. Raises :class:`OperatorError` (``facts-missing``) and what the solver raises."""
    limits, left_out = [], []
    for limit in (*(one for one in ask.targets if isinstance(one, Limit)), *ask.limits):
        if limit.of[0] in _NEEDS_AIR and ask.overrun_percent is None and limit in ask.limits:
            left_out.append((limit, "it needs the overrun"))
        else:
            limits.append(limit)
    amounts, kept = _amounts(ask, limits)
    rows = {name: row_of(one.facts) for name, one in ask.pool.items()}
    wishes = Wishes(rows, amounts, tuple(limits), ask.batch_g, ask.overrun_percent)
    if ask.aim is Aim.CHEAPEST:
        upper(rows, "cost")  # says whose price is missing
    best = _best(ask, wishes, solver)
    fights = None
    if best is None:
        fights = conflict(solver, wishes)
        best = _near(ask, wishes, solver)
    grams = {name: mass.rounded(best[name], FINEST) for name in ask.pool}
    if not any(grams.values()):
        raise OperatorError(
            "no-mix", "Nothing can be made of these ingredients that comes near the targets."
        )
    made = _formula(ask, grams)
    mix = of_formula(made)
    exact = compose((ask.pool[name], best[name]) for name in ask.pool if best[name] > _ROUNDING)
    reached = tuple(
        _reached(one, mix, exact, ask.overrun_percent, holds=fights is None) for one in limits
    )
    return Outcome(ask, wishes, best, grams, made, mix, reached, fights, kept, tuple(left_out))


def _amounts(ask: Ask, limits: list[Limit]) -> tuple[tuple[Unknown, ...], tuple[str, ...]]:
    """The ends of each ingredient's grams, and which are kept as they are."""
    named = {one.ingredient: one for one in ask.targets if isinstance(one, AmountTarget)}
    parts = {part for one in limits for part in one.of}
    present, out, kept = ask.present, [], []
    for name, ingredient in ask.pool.items():
        if name in named:
            least, most = named[name].in_grams(ask.batch_g)
            out.append(Unknown(name, least or _NONE, most))
        elif name not in ask.free and stays(ingredient, present.get(name, _NONE), parts):
            kept.append(name)
            grams = present.get(name, _NONE)
            out.append(Unknown(name, grams, grams))
        else:
            out.append(Unknown(name, _NONE, ask.batch_g))
    return tuple(out), tuple(kept)


def change_weights(present: Mapping[str, Decimal], batch_g: Decimal) -> dict[str, Decimal]:
    """What a gram of change counts: the larger the amount, the less, down to 1 % of the batch."""
    floor = batch_g / _HUNDRED
    return {name: floor / max(grams, floor) for name, grams in present.items()}


def _best(ask: Ask, wishes: Wishes, solver: Solver) -> dict[str, Decimal] | None:
    """Amounts as asked, the best by the aim; ``None`` where it cannot be met."""
    one = _priced(ask, hard(wishes))
    if ask.aim is Aim.MIDDLE:
        centre = _centred(wishes)
        band = one.band
        if band is not None and band.least is not None and band.most is not None:
            point = (band.least + band.most) / 2
            tight = replace(centre, band=replace(band, least=point, most=point))
            found = solve_mix(solver, tight)
            if isinstance(found, Solved):
                return _only(found, wishes)
        one = centre
    found = solve_mix(solver, one)
    return None if isinstance(found, NoSolution) else _only(found, wishes)


def _priced(ask: Ask, one: Mixing) -> Mixing:
    """The problem with what the aim keeps low for its price; of amounts, for no other reason."""
    if ask.aim is Aim.NEAREST:
        weights = change_weights(ask.present, ask.batch_g)
        return replace(one, problem=least_change(one.problem, ask.present, weights))
    if ask.aim is Aim.CHEAPEST:
        return replace(one, problem=one.problem.priced(upper(one.rows, "cost")))
    return one


def _centred(wishes: Wishes) -> Mixing:
    """Every wish holds, and those with two ends are as near to their middle as can be."""
    middles = tuple(
        replace(one, least=(one.least + one.most) / 2, most=(one.least + one.most) / 2)
        for one in wishes.limits
        if one.least is not None and one.most is not None and one.of != (FREEZING,)
    )
    soft = nearest(replace(wishes, limits=middles))
    own = hard(wishes)
    lines = tuple(line for line in own.problem.lines if line not in soft.problem.lines)
    return replace(own, problem=soft.problem.also(*lines))


def _near(ask: Ask, wishes: Wishes, solver: Solver) -> dict[str, Decimal]:
    """Amounts that miss by the least, and of those, the best by the aim."""
    about = ask.present if any(ask.present.values()) else None
    for loose in (False, True):
        one = nearest(wishes, about, amounts=loose)
        found = solve_mix(solver, one)
        if isinstance(found, Solved):
            break
    else:
        raise OperatorError(
            "no-mix",
            "Nothing can be made of these ingredients that freezes by the method known here.",
            remedy="Give fewer targets, or other ingredients.",
        )
    no_worse = Line("misses", one.problem.price, None, found.price * (1 + _ROUNDING) + _ROUNDING)
    again = replace(one, problem=one.problem.also(no_worse))
    better = solve_mix(solver, _priced(ask, again)) if ask.aim is not Aim.MIDDLE else found
    return _only(better if isinstance(better, Solved) else found, wishes)


def _only(found: Solved, wishes: Wishes) -> dict[str, Decimal]:
    return {one.name: found.values[one.name] for one in wishes.amounts}


def _reached(
    limit: Limit, mix: Composition, exact: Composition, air: Decimal | None, *, holds: bool
) -> Reached:
    """How a target came out: told of the rounded amounts, judged of those that were solved.

    ``holds``  whether every line does; so does a share of nothing, which has no value.
    """
    shown, _ = value_of(limit.of, mix, freezing(mix), air)
    solved, _ = value_of(limit.of, exact, freezing(exact), air)
    if shown is None or solved is None:
        return Reached(limit, None, None, met=holds, off=None)
    below = _NONE if limit.least is None else max(limit.least - solved.low, _NONE)
    above = _NONE if limit.most is None else max(solved.high - limit.most, _NONE)
    off = max(below, above)
    return Reached(limit, shown.low, shown.high, off <= _ROUNDING, off)


def _formula(ask: Ask, grams: Mapping[str, Decimal]) -> Formula:
    """The formula of these amounts: the present additions in their order, then what is new."""
    left = {name: value for name, value in grams.items() if value}
    additions = []
    if ask.formula is not None:
        for one in ask.formula.additions:
            name = one.ingredient.id
            if name not in left:
                continue
            share = one.target_g / sum(
                each.target_g for each in ask.formula.additions if each.ingredient.id == name
            )
            if part := mass.rounded(left[name] * share, FINEST):
                additions.append(_addition(one, part))
    there = {one.ingredient.id for one in additions}
    additions += [
        Addition(ask.pool[name], value, read_tolerance(NEW_TOLERANCE))
        for name, value in left.items()
        if name not in there
    ]
    kept = {one.ingredient.id for one in additions}
    additions = [one if one.carrier in kept else replace(one, carrier="") for one in additions]
    if ask.formula is None:
        return Formula("solved", "Solved mix", tuple(additions))
    return replace(ask.formula, additions=tuple(additions), revision="")


def _addition(one: Addition, grams: Decimal) -> Addition:
    tolerance = one.tolerance
    if tolerance.band(grams)[0] <= 0:
        tolerance = read_tolerance(NEW_TOLERANCE)
    return replace(one, target_g=grams, tolerance=tolerance)
