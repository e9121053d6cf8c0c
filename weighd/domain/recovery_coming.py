"""What is weighed from now on, once a pour is put right: it follows from change and batch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from weighd.domain.batch import Planned
from weighd.domain.plan_words import Into
from weighd.domain.recovery import (
    Change,
    State,
    Stuff,
    Trouble,
    Way,
    extra_tolerance,
    to_finest,
)

_NONE = Decimal(0)


def with_others(state: State, change: Change) -> State:
    """The state with the amounts that a change brings in."""
    stuffs = dict(state.stuffs)
    for of, one in change.others.items():
        if of not in stuffs:
            tolerance = extra_tolerance(state.batch, state.current)
            stuffs[of] = Stuff(of, one, tolerance, _NONE, _NONE, _NONE)
    return replace(state, stuffs=stuffs)


def coming(state: State, change: Change) -> tuple[Planned, ...]:
    """The weighings from the current one on, once a change is made.

    Raises ``ValueError`` for a change that names no amount, or leaves one out.
    """
    state = with_others(state, change)
    done = len(state.batch.accepted)
    if change.way is Way.START_AGAIN:
        return state.batch.additions[done:]
    if set(change.wholes) != set(state.stuffs):
        raise ValueError("the amounts are not those of the batch")
    pieces = tuple(_dishes_apart(state, tuple(_pieces(state, change))))
    return tuple(replace(one, n=n, of=_of(one, n)) for n, one in enumerate(pieces, start=done + 1))


def _of(one: Planned, n: int) -> int | None:
    amount = one.amount
    return None if amount == (one.step.of if one.step else n) else amount


def _pieces(state: State, change: Change) -> Iterator[Planned]:
    hand, current = state.stuffs[state.hand], state.stuffs[state.current.amount]
    rest_of_hand = hand.coming or state.trouble is not Trouble.OVER
    if hand.hand_g:
        whole, poured = change.wholes[hand.of], replace(hand, like=state.current)
        if rest_of_hand:
            yield _at_hand(state, poured, whole)
        else:
            yield _rest(state, replace(poured, hand_g=_NONE), whole)
    order = [one.amount for one in state.batch.additions[len(state.batch.accepted) + 1 :]]
    called = [of for of in order if state.stuffs[of].plan_g]
    first = [current.of] if current.of not in called else []
    last: list[int] = []
    if change.way is Way.LATER:
        first, last = last, first
    elif change.way is Way.ANOTHER_LOT:
        first = [current.of]
    for of in dict.fromkeys((*first, *called, *last, *sorted(state.stuffs))):
        one = state.stuffs[of]
        if one is hand and hand.hand_g and not rest_of_hand:
            continue
        if change.wholes[of] > one.there_g and one.lacks(change.wholes[of]):
            yield _rest(state, one, change.wholes[of])


def _at_hand(state: State, one: Stuff, whole_g: Decimal) -> Planned:
    """What was poured, as a weighing of its own that is just what it was to be."""
    low, high = one.tolerance.band(whole_g)
    target = to_finest(one.hand_g)
    least = max(target - (whole_g - low), _NONE)
    return _piece(state, one, target, least, target + high - whole_g, whole_g)


def _rest(state: State, one: Stuff, whole_g: Decimal) -> Planned:
    low, high = one.tolerance.band(whole_g)
    there = one.there_g
    return _piece(state, one, whole_g - there, max(low - there, _NONE), high - there, whole_g)


def _piece(
    state: State, one: Stuff, target: Decimal, low: Decimal, high: Decimal, whole_g: Decimal
) -> Planned:
    like = one.like or _bowl_like(state)
    step = like.step
    if step is not None:
        fresh = step.into is Into.DISH and like is not state.current and not one.coming
        low_all, high_all = one.tolerance.band(whole_g)
        step = replace(
            step,
            of=one.of,
            vessel=_next_dish(state.batch.additions) if fresh else step.vessel,
            whole_g=whole_g,
            low_g=low_all,
            high_g=high_all,
        )
    return Planned(
        like.n,
        one.ingredient.id,
        one.ingredient.name,
        target,
        low,
        high,
        one.tolerance.text,
        like.scale,
        one.ingredient.allergens,
        one.ingredient.caution,
        like.by_difference,
        step,
        one.of,
    )


def _dishes_apart(state: State, pieces: Sequence[Planned]) -> Iterator[Planned]:
    """A dish is tipped in before another vessel is poured into. What would come back to it then
    goes into one of its own: as the same dish its tare would be that of before it was emptied."""
    done = state.batch.additions[: len(state.batch.accepted)]
    used = [one.step.place for one in done if one.step]
    fresh = _next_dish((*state.batch.additions, *pieces))
    before = used[-1:]
    for one in pieces:
        step = one.step
        if step is None:
            yield one
            continue
        place, vessel = step.place, step.vessel
        if [place] == before:
            vessel = used[-1][1]
        elif step.into is Into.DISH and place in used:
            vessel, fresh = fresh, fresh + 1
        before = [place]
        used.append((step.into, vessel))
        yield replace(one, step=replace(step, vessel=vessel))


def _bowl_like(state: State) -> Planned:
    """How to weigh what was never weighed: as the last amount that goes straight into the bowl."""
    for one in reversed(state.batch.additions):
        if one.step is None or one.step.into is Into.BOWL:
            return replace(one, by_difference=state.current.by_difference)
    return state.current


def _next_dish(additions: Sequence[Planned]) -> int:
    return 1 + max((one.step.vessel for one in additions if one.step), default=0)


def becomes(state: State, change: Change) -> dict[int, Decimal]:
    """What is in of each amount once all of it is weighed at its target, in grams."""
    state = with_others(state, change)
    if change.way is Way.START_AGAIN:
        state = replace(
            state,
            stuffs={of: replace(one, hand_g=_NONE) for of, one in state.stuffs.items()},
        )
        wholes = {of: one.goal_g for of, one in state.stuffs.items()}
    else:
        wholes = dict(change.wholes)
    return {
        of: wholes[of] if wholes[of] > one.there_g and one.lacks(wholes[of]) else one.there_g
        for of, one in state.stuffs.items()
    }
