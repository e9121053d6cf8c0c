"""The smallest additions that bring a mix back into its limits; an optimisation.

Unknown is the whole amount of each ingredient: of what is in, no less than is in; of what is still
to come, no less than its tolerance asks, or with ``less`` no less than :data:`LEAST_SHARE` of what
was wanted. The sum of grams by which amounts differ from what they would be is kept least; then a
weighing is saved where that costs no more than :data:`SPARE` of the batch. Limits of the mix, and
its freezing point piece by piece of its table, are lines (``mix_lines``, ``mix_search``).

Amounts are rounded to 0.01 g, and what comes out is held against every limit again, exactly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from weighd.domain import mass
from weighd.domain.conflict import Conflict, conflict
from weighd.domain.contents import row_of
from weighd.domain.formula import FINEST, Ingredient
from weighd.domain.freezing import LAST_G, PIECES
from weighd.domain.limits import Limit
from weighd.domain.mix_lines import FREEZING, thawings
from weighd.domain.mix_search import Mixing, solve_mix
from weighd.domain.problem import Line, Solved, Solver, Unknown, total
from weighd.domain.recovery import (
    Change,
    State,
    Stuff,
    Trouble,
    Way,
    extra_tolerance,
    next_number,
    to_finest,
)
from weighd.domain.recovery_coming import becomes
from weighd.domain.recovery_ranges import Mix, as_json, is_known, keeps, mix_of
from weighd.domain.recovery_ways import change
from weighd.domain.wishes import UP, Wishes, hard, least_change, nearest

_NONE, _ONE, _HUNDRED = Decimal(0), Decimal(1), Decimal(100)
#: How much of what was wanted has to remain of what is still to come (our own choice, no source):
#: a mix with a quarter less of what gives it its taste is another one.
LEAST_SHARE = Decimal("0.75")
#: Amounts below this share of the batch (stabiliser, salt, flavour) are not lessened.
MINOR = Decimal("0.01")
#: What a weighing saved may cost, in shares of the batch (our own choice, no source).
SPARE = Decimal("0.0005")
#: Limits are drawn in by so many times what rounding can shift, at first and where that failed.
_MARGINS = (2, 20)
_BETTER = Decimal("0.001")
ROOM = "room"


@dataclass(frozen=True, slots=True)
class Allowed:
    """What may be done.

    ``extras``   what may be put in though the formula does not call for it;
    ``on_hand``  grams that are left of an ingredient, by id; of any other there is enough;
    ``room_g``   how much more the bowl and its scale take, ``None`` where that is not known;
    ``less``     whether what is still to come may be lessened below its tolerance.
    """

    extras: tuple[Ingredient, ...] = ()
    on_hand: Mapping[str, Decimal] = field(default_factory=dict)
    room_g: Decimal | None = None
    less: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """A change that keeps all limits, and what the batch becomes by it, in grams."""

    change: Change
    grams: Mapping[int, Decimal]


@dataclass(frozen=True, slots=True)
class Fight:
    """Wishes that cannot all hold; ``pool`` says what each unknown amount is."""

    conflict: Conflict
    wishes: Wishes
    pool: Mapping[str, Ingredient]


@dataclass(frozen=True, slots=True)
class Missed:
    """No change keeps all limits: what comes nearest, and wishes that fight.

    ``broken``  the limits that the nearest does not keep;
    ``fight``   ``None`` where all but the freezing point can be had, or where nobody asked;
    ``near``    ``None`` where there is no room even for what is still to come.
    """

    near: Found | None
    broken: tuple[Limit, ...]
    fight: Fight | None


def search(
    state: State,
    way: Way,
    limits: Sequence[Limit],
    allowed: Allowed,
    solver: Solver,
    *,
    explain: bool = True,
) -> Found | Missed:
    """The smallest change that keeps the limits, or what comes nearest and why none does.

    ``explain``  whether that is wanted: it takes many times as long.
    Raises :class:`OperatorError`, ``facts-missing``, and what the solver raises.
    """
    plan = _Amounts.of(state, allowed)
    for times in _MARGINS:
        wishes = plan.wishes(limits, times)
        best = _least(plan, wishes, solver)
        if best is None:
            break
        found = _rounded(plan, state, way, best)
        mix = plan.mix(found)
        if all(keeps(one, mix) for one in limits):
            return replace(found, change=replace(found.change, keeps=as_json(limits)))
    if not explain:
        return Missed(None, tuple(limits), None)
    return _nearest(plan, state, way, limits, solver)


@dataclass(frozen=True, slots=True)
class _Amounts:
    """The unknowns: by number what each is, its ends, and what it would be with nothing changed.

    ``steps``  of what would be one weighing more, the least of it that is a weighing at all.
    """

    state: State
    allowed: Allowed
    stuffs: Mapping[int, Stuff]
    new: Mapping[int, Ingredient]
    ends: Mapping[int, tuple[Decimal, Decimal | None]]
    present: Mapping[int, Decimal]
    steps: Mapping[int, Decimal]

    @classmethod
    def of(cls, state: State, allowed: Allowed) -> _Amounts:
        stuffs, new = dict(state.stuffs), dict[int, Ingredient]()
        known = {one.ingredient.id for one in stuffs.values()}
        tolerance = extra_tolerance(state.batch, state.current)
        for extra in allowed.extras:
            if extra.id not in known and is_known(extra):
                of = next_number(stuffs)
                stuffs[of], new[of] = Stuff(of, extra, tolerance, _NONE, _NONE, _NONE), extra
                known.add(extra.id)
        ends: dict[int, tuple[Decimal, Decimal | None]] = {}
        present, steps = dict[int, Decimal](), dict[int, Decimal]()
        goals = state.goals
        size = sum((one.plan_g for one in state.called), _NONE)
        for of, one in stuffs.items():
            to_come = one.coming or of == state.current.amount
            if of == state.hand and not (one.coming and state.trouble is not Trouble.RAN_OUT):
                ends[of], present[of] = (one.there_g, one.there_g), one.there_g
                continue
            stock = allowed.on_hand.get(one.ingredient.id)
            most = None if stock is None else one.there_g + stock
            present[of] = one.there_g
            least = one.there_g
            if to_come and one.lacks(goals[of]):
                present[of] = goals[of]
                least = max(least, one.tolerance.band(goals[of])[0])
                if allowed.less and goals[of] >= MINOR * size:
                    least = max(one.there_g, min(least, LEAST_SHARE * goals[of]))
            else:
                steps[of] = _step(one)
            if one.plan_g and goals[of] < MINOR * size:
                # No more stabiliser to make up for solids that are missing.
                full = max(goals[of], one.there_g)
                most = full if most is None else min(most, full)
            ends[of] = (min(least, most) if most is not None else least, most)
        return cls(state, allowed, stuffs, new, ends, present, steps)

    @property
    def mass_g(self) -> Decimal:
        return sum(self.present.values(), _NONE)

    def wishes(self, limits: Sequence[Limit], times: int) -> Wishes:
        """Everything as wishes, with limits drawn in by what rounding may shift."""
        rows = {str(of): row_of(one.ingredient.facts) for of, one in self.stuffs.items()}
        amounts = tuple(Unknown(str(of), *ends) for of, ends in self.ends.items())
        shift = times * FINEST / max(self.mass_g, _ONE)
        drawn = [_drawn_in(one, shift) for one in _together(limits)]
        return Wishes(rows, amounts, tuple(drawn))

    def room(self) -> list[Line]:
        if self.allowed.room_g is None:
            return []
        there = sum((one.there_g for one in self.stuffs.values()), _NONE)
        names = dict.fromkeys((str(of) for of in self.stuffs), _ONE)
        return [Line(ROOM, names, None, there + self.allowed.room_g)]

    def mix(self, found: Found) -> Mix:
        return mix_of(self.state, found.change, found.grams)


def _step(one: Stuff) -> Decimal:
    """The least that can be added to an amount so that it is not within its tolerance anyhow."""
    under = one.tolerance.under
    relative = under.percent / _HUNDRED
    wide = max(under.grams, one.there_g * relative / (_ONE - relative))
    return mass.rounded(wide, FINEST) + 2 * FINEST


def _together(limits: Sequence[Limit]) -> list[Limit]:
    """Each quantity once, within all its limits."""
    out: dict[tuple[str, ...], Limit] = {}
    for one in limits:
        was = out.get(one.of)
        if was is None:
            out[one.of] = one
            continue
        lows = [it for it in (was.least, one.least) if it is not None]
        highs = [it for it in (was.most, one.most) if it is not None]
        out[one.of] = replace(was, least=max(lows, default=None), most=min(highs, default=None))
    return list(out.values())


def _drawn_in(limit: Limit, shift: Decimal) -> Limit:
    by = shift * (_ONE if limit.of == (FREEZING,) else _HUNDRED)
    least, most = limit.least, limit.most
    if least is not None and most is not None and most - least <= 4 * by:
        return limit
    return replace(
        limit,
        least=None if least is None else least + by,
        most=None if most is None else most - by,
    )


def _least(plan: _Amounts, wishes: Wishes, solver: Solver) -> dict[int, Decimal] | None:
    """The smallest change, then with as few weighings as that allows; ``None`` for none."""
    mixing = _stated(plan, wishes)
    found = solve_mix(solver, mixing)
    if not isinstance(found, Solved):
        return None
    pinned = pinned_at(mixing, found)
    best, price = found, found.price
    spare = SPARE * plan.mass_g
    kept: set[int] = set()
    while True:
        used = [of for of in plan.steps if of not in kept and _more(best, of) > _BETTER]
        if not used:
            return {of: best.values[str(of)] for of in plan.stuffs}
        of = min(used, key=lambda it: _more(best, it))
        kept.add(of)
        without = solver.solve(pinned.problem.also(_no_more(of)))
        small = _more(best, of) < plan.steps[of]
        if isinstance(without, Solved) and without.price <= price + spare:
            best, pinned = without, replace(pinned, problem=pinned.problem.also(_no_more(of)))
            continue
        if not small:
            continue
        # Of the amount itself: more of it and less of it again would be a weighing of nothing.
        line = Line(f"at least {of}", {str(of): _ONE}, plan.present[of] + plan.steps[of], None)
        more = solver.solve(pinned.problem.also(line))
        choices = [it for it in (without, more) if isinstance(it, Solved)]
        if not choices:
            continue
        best = min(choices, key=lambda it: it.price)
        lines = _no_more(of) if best is without else line
        pinned = replace(pinned, problem=pinned.problem.also(lines))


def stated(state: State, limits: Sequence[Limit], allowed: Allowed) -> Mixing:
    """The smallest change as a problem, before weighings are saved and amounts are rounded."""
    plan = _Amounts.of(state, allowed)
    return _stated(plan, plan.wishes(limits, _MARGINS[0]))


def _stated(plan: _Amounts, wishes: Wishes) -> Mixing:
    mixing = hard(wishes)
    present = {str(of): grams for of, grams in plan.present.items()}
    problem = least_change(mixing.problem.also(*plan.room()), present, {})
    return replace(mixing, problem=problem)


def _more(found: Solved, of: int) -> Decimal:
    return found.values[UP + str(of)]


def _no_more(of: int) -> Line:
    return Line(f"no more of {of}", {UP + str(of): _ONE}, _NONE, _NONE)


def pinned_at(mixing: Mixing, found: Solved) -> Mixing:
    """The same with its freezing point on the piece of the table where the answer has it: a plain
    linear problem, from which weighings are then saved."""
    if mixing.band is None:
        return mixing
    ends, wet = thawings(mixing.band, mixing.rows, short=mixing.short, past=mixing.past)
    lines = list(wet)
    for one in ends:
        water = total(one.water, found.values)
        grams = total(one.sucrose, found.values) * _HUNDRED / water
        lines += one.lines(PIECES[min(int(grams / (LAST_G / len(PIECES))), len(PIECES) - 1)])
    return replace(mixing, problem=mixing.problem.also(*lines))


def _rounded(plan: _Amounts, state: State, way: Way, values: Mapping[int, Decimal]) -> Found:
    """The change of these amounts, to 0.01 g; what does not change is not touched."""
    wholes: dict[int, Decimal] = {}
    for of, grams in values.items():
        was, (least, most) = plan.present[of], plan.ends[of]
        if abs(grams - was) <= FINEST / 2:
            wholes[of] = was
        else:
            near = to_finest(grams)
            near = near + FINEST if near < least else near
            wholes[of] = near if most is None else min(near, most)
    new = {of: one for of, one in plan.new.items() if wholes[of] > 0}
    wholes = {of: one for of, one in wholes.items() if of in state.stuffs or of in new}
    # Numbers follow each other, whichever of what was allowed is used.
    numbers = {of: next_number(state.stuffs) + n for n, of in enumerate(sorted(new))}
    wholes = {numbers.get(of, of): one for of, one in wholes.items()}
    found = change(state, way, wholes)
    others = {**found.others, **{numbers[of]: one for of, one in new.items()}}
    found = replace(found, others=others)
    return Found(found, becomes(state, found))


def _nearest(
    plan: _Amounts, state: State, way: Way, limits: Sequence[Limit], solver: Solver
) -> Missed:
    """What comes nearest. The freezing point is held to the piece of its table on which the mix
    lies that comes nearest in everything else."""
    wishes = plan.wishes(limits, _MARGINS[0])
    fight = _fight(plan, wishes, solver)
    found = _missing_least(plan, _without_freezing(wishes), None, solver)
    if found is not None and wishes.band is not None:
        found = _missing_least(plan, wishes, found, solver) or found
    if found is None:
        return Missed(None, tuple(limits), fight)
    near = _rounded(plan, state, way, {of: found.values[str(of)] for of in plan.stuffs})
    mix = plan.mix(near)
    broken = tuple(one for one in limits if not keeps(one, mix))
    held = as_json([one for one in limits if one not in broken])
    return Missed(replace(near, change=replace(near.change, keeps=held)), broken, fight)


def _missing_least(
    plan: _Amounts, wishes: Wishes, about: Solved | None, solver: Solver
) -> Solved | None:
    """The least that limits are missed by, then the least change; ``None`` where nothing can be.

    ``about``  the mix on whose piece of the table the freezing point is held.
    """
    present = {str(of): grams for of, grams in plan.present.items()}
    mixing = nearest(wishes, {name: grams for name, grams in present.items() if grams})
    weights = dict.fromkeys(present, _BETTER / plan.mass_g)
    priced = least_change(mixing.problem.also(*plan.room()), present, weights)
    problem = priced.priced({**priced.price, **mixing.problem.price})
    if about is not None:
        problem = pinned_at(replace(mixing, problem=problem), about).problem
    while True:  # what is too little to be a weighing is none
        found = solver.solve(problem)
        if not isinstance(found, Solved):
            return None
        small = [of for of in plan.steps if _BETTER < _more(found, of) < plan.steps[of]]
        if not small:
            return found
        problem = problem.also(*(_no_more(of) for of in small))


def _without_freezing(wishes: Wishes) -> Wishes:
    return replace(wishes, limits=tuple(one for one in wishes.limits if one.of != (FREEZING,)))


def _fight(plan: _Amounts, wishes: Wishes, solver: Solver) -> Fight | None:
    roomy = _with_room(plan, wishes)
    # With the freezing point it would take many times as long; where all else can be had, it is it.
    found = conflict(solver, _without_freezing(roomy))
    pool = {str(of): one.ingredient for of, one in plan.stuffs.items()}
    return None if found is None else Fight(found, roomy, pool)


def _with_room(plan: _Amounts, wishes: Wishes) -> Wishes:
    """Room as ends of the amounts, which is less than it is, so that it can be named in a fight."""
    if plan.allowed.room_g is None:
        return wishes
    amounts = []
    for one in wishes.amounts:
        there = plan.stuffs[int(one.name)].there_g
        most = there + plan.allowed.room_g
        least = one.least or _NONE
        high = most if one.most is None else min(one.most, most)
        amounts.append(replace(one, most=max(high, least)))
    return replace(wishes, amounts=tuple(amounts))
