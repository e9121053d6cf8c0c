"""What differs between two formulas, exactly: amounts, tolerances, order, steps, what is said.

1. Additions are matched by their ingredient; where it is weighed in more than once, in order and so
   that amounts change the least. What is left over was added or removed.
2. *Moved* are as few of the matched ones as can be: the others stand in the same order as before.
3. Everything that makes a revision another one is in the result: nothing differs only where both
   are one revision.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any, Generic, TypeVar

from weighd.domain.facts import SUGARS, Facts
from weighd.domain.formula import BY_DIFFERENCE, Addition, Formula
from weighd.domain.process import ProcessStep, limits_in_words

T = TypeVar("T")
_NONE, _HUNDRED = Decimal(0), Decimal(100)


class How(StrEnum):
    """What became of an addition or a step."""

    SAME = "same"
    CHANGED = "changed"
    ADDED = "added"
    REMOVED = "removed"


@dataclass(frozen=True, slots=True)
class Words:
    """A text of the name ``of`` that is another; empty where there was or is none."""

    of: str
    then: str
    now: str


@dataclass(frozen=True, slots=True)
class FactChange:
    """Grams in 100 g of an ingredient (or its density in g/mL); ``None`` is not known."""

    of: str
    then: Decimal | None
    now: Decimal | None


@dataclass(frozen=True, slots=True)
class Placed(Generic[T]):
    """An addition or a step where it stands, counted from 1."""

    n: int
    it: T


@dataclass(frozen=True, slots=True)
class Pair(Generic[T]):
    """An addition or a step on both sides; ``None`` where it is on one side only."""

    then: Placed[T] | None
    now: Placed[T] | None
    moved: bool
    texts: tuple[Words, ...] = ()
    #: Of the ingredient of an addition.
    facts: tuple[FactChange, ...] = ()
    #: How much more is weighed in, in grams; below zero for less.
    grams: Decimal = _NONE
    #: The same of its share of the batch, in percentage points.
    points: Decimal = _NONE

    @property
    def how(self) -> How:
        """What became of it; where it only moved it is the same."""
        if self.then is None:
            return How.ADDED
        if self.now is None:
            return How.REMOVED
        return How.CHANGED if self.texts or self.facts or self.grams else How.SAME


@dataclass(frozen=True, slots=True)
class Changes:
    """What differs between a formula ``then`` and ``now``, rows in the order of now; what was
    removed stands behind what it followed."""

    then: Formula
    now: Formula
    texts: tuple[Words, ...]
    additions: tuple[Pair[Addition], ...]
    steps: tuple[Pair[ProcessStep], ...]

    @property
    def _rows(self) -> tuple[Pair[Addition] | Pair[ProcessStep], ...]:
        return (*self.additions, *self.steps)

    @property
    def grams(self) -> Decimal:
        """How much larger the batch is, in grams."""
        return self.now.batch_g - self.then.batch_g

    @property
    def nothing(self) -> bool:
        """Whether nothing differs."""
        return not self.texts and all(one.how is How.SAME and not one.moved for one in self._rows)

    @property
    def only_size(self) -> bool:
        """Whether amounts differ, and every share, and all else, is as it was."""
        if self.texts or not self.grams:
            return False
        if any(one.moved or one.texts or one.facts for one in self._rows):
            return False
        whole_then, whole_now = self.then.batch_g, self.now.batch_g
        return all(
            one.then is not None
            and one.now is not None
            and one.then.it.target_g * whole_now == one.now.it.target_g * whole_then
            for one in self.additions
        ) and all(one.then is not None and one.now is not None for one in self.steps)


def share_of(one: Addition, formula: Formula) -> Decimal:
    """Its share of the batch in percent."""
    return one.target_g / formula.batch_g * _HUNDRED


def changes(then: Formula, now: Formula) -> Changes:
    """What differs between two formulas, each at its own size."""
    return Changes(then, now, _texts(then, now), _additions(then, now), _steps(then, now))


# --- additions --------------------------------------------------------------------------------


def _additions(then: Formula, now: Formula) -> tuple[Pair[Addition], ...]:
    def filled(before: Placed[Addition] | None, after: Placed[Addition] | None) -> dict[str, Any]:
        old, new = (None if one is None else one.it for one in (before, after))
        grams = (new.target_g if new else _NONE) - (old.target_g if old else _NONE)
        points = (share_of(new, now) if new else _NONE) - (share_of(old, then) if old else _NONE)
        if old is None or new is None:
            return {"grams": grams, "points": points}
        texts = _differing(_said(old), _said(new))
        facts = _facts(old.ingredient.facts, new.ingredient.facts)
        return {"texts": texts, "facts": facts, "grams": grams, "points": points}

    return _paired(
        then.additions,
        now.additions,
        lambda one: one.ingredient.id,
        lambda old, new: abs(old.target_g - new.target_g),
        filled,
    )


def _said(one: Addition) -> dict[str, str]:
    return {
        "name": one.ingredient.name,
        "tolerance": one.tolerance.text,
        "method": BY_DIFFERENCE if one.by_difference else "",
        "carrier": one.carrier,
        "allergens": ", ".join(one.ingredient.allergens),
        "caution": one.ingredient.caution,
    }


def _facts(then: Facts | None, now: Facts | None) -> tuple[FactChange, ...]:
    before, after = _stated(then), _stated(now)
    keys = dict.fromkeys((*before, *after))
    return tuple(
        FactChange(key, before.get(key), after.get(key))
        for key in keys
        if before.get(key) != after.get(key)
    )


def _stated(facts: Facts | None) -> dict[str, Decimal]:
    """All that counts in a revision: a kind of sugar not named is none where sugars are known."""
    if facts is None:
        return {}
    out = dict(facts.stated)
    if facts.sugars is not None:
        out[SUGARS] = sum((value for _, value in facts.sugars), _NONE)
        out |= {f"{SUGARS}.{kind}": value for kind, value in facts.sugars}
    if facts.density_g_ml is not None:
        out["density_g_ml"] = facts.density_g_ml
    return out


# --- steps and texts --------------------------------------------------------------------------


def _steps(then: Formula, now: Formula) -> tuple[Pair[ProcessStep], ...]:
    def filled(
        before: Placed[ProcessStep] | None, after: Placed[ProcessStep] | None
    ) -> dict[str, Any]:
        if before is None or after is None:
            return {}
        return {"texts": _differing(_step(before.it), _step(after.it))}

    def unlike(old: ProcessStep, new: ProcessStep) -> Decimal:
        return Decimal(len(_differing(_step(old), _step(new))))

    return _paired(then.steps, now.steps, lambda one: str(one.kind), unlike, filled)


def _step(one: ProcessStep) -> dict[str, str]:
    """Each of its fields as a text; a released table is never changed, so its id will do."""
    table = one.table
    return {
        "name": one.name,
        "how": one.how,
        "with": one.means,
        "limits": limits_in_words(one),
        "cautions": "\n".join(f"{it.name}: {it.text}" for it in one.cautions),
        "table": "" if table is None else table.id,
    }


def _texts(then: Formula, now: Formula) -> tuple[Words, ...]:
    return _differing(_head(then), _head(now))


def _head(one: Formula) -> dict[str, str]:
    product = {f"product.{key}": str(value) for key, value in one.product.content().items()}
    return {
        "name": one.name,
        "kind": one.kind,
        "note": one.note,
        "scenario": one.scenario,
        "cautions": "\n".join(one.cautions),
        **product,
    }


def _differing(then: Mapping[str, str], now: Mapping[str, str]) -> tuple[Words, ...]:
    return tuple(
        Words(key, then.get(key, ""), now.get(key, ""))
        for key in dict.fromkeys((*then, *now))
        if then.get(key, "") != now.get(key, "")
    )


# --- matching ---------------------------------------------------------------------------------


def _paired(
    then: Sequence[T],
    now: Sequence[T],
    key: Callable[[T], str],
    unlike: Callable[[T, T], Decimal],
    filled: Callable[[Placed[T] | None, Placed[T] | None], Mapping[str, Any]],
) -> tuple[Pair[T], ...]:
    """Both sides row by row."""
    of_now = _matched(then, now, key, unlike)
    stay = _longest_rising([of_now[at] for at in sorted(of_now)])
    gone: dict[int | None, list[int]] = {}
    follows: int | None = None
    for at in range(len(then)):
        if at in of_now:
            follows = of_now[at]
        else:
            gone.setdefault(follows, []).append(at)
    of_then = {there: here for here, there in of_now.items()}

    def pair(here: int | None, there: int | None) -> Pair[T]:
        before = None if here is None else Placed(here + 1, then[here])
        after = None if there is None else Placed(there + 1, now[there])
        both = before is not None and after is not None
        return Pair(before, after, both and there not in stay, **filled(before, after))

    out = [pair(at, None) for at in gone.get(None, ())]
    for there in range(len(now)):
        out.append(pair(of_then.get(there), there))
        out += [pair(at, None) for at in gone.get(there, ())]
    return tuple(out)


def _matched(
    then: Sequence[T],
    now: Sequence[T],
    key: Callable[[T], str],
    unlike: Callable[[T, T], Decimal],
) -> dict[int, int]:
    """Of each place then that is still there, its place now."""
    places: dict[str, tuple[list[int], list[int]]] = {}
    for side, every in enumerate((then, now)):
        for at, one in enumerate(every):
            places.setdefault(key(one), ([], []))[side].append(at)
    out: dict[int, int] = {}
    for before, after in places.values():
        pairs = _nearest(
            [[unlike(then[a], now[b]) for b in after] for a in before], len(before), len(after)
        )
        out |= {before[a]: after[b] for a, b in pairs}
    return out


def _nearest(cost: Sequence[Sequence[Decimal]], rows: int, columns: int) -> list[tuple[int, int]]:
    """As many pairs in order as can be, of the least cost in all."""
    # best[a][b]: pairs made (as a negative number) and cost, of the rows from a, columns from b on.
    best = [[(0, _NONE)] * (columns + 1) for _ in range(rows + 1)]
    for a in range(rows - 1, -1, -1):
        for b in range(columns - 1, -1, -1):
            made, spent = best[a + 1][b + 1]
            best[a][b] = min((made - 1, spent + cost[a][b]), best[a + 1][b], best[a][b + 1])
    out, a, b = [], 0, 0
    while a < rows and b < columns:
        made, spent = best[a + 1][b + 1]
        if best[a][b] == (made - 1, spent + cost[a][b]):
            out.append((a, b))
            a, b = a + 1, b + 1
        elif best[a][b] == best[a + 1][b]:
            a += 1
        else:
            b += 1
    return out


def _longest_rising(places: Sequence[int]) -> frozenset[int]:
    """As many of these as can stay where they are, while the others move."""
    runs: list[list[int]] = []
    for one in places:
        before: list[int] = max((run for run in runs if run[-1] < one), key=len, default=[])
        runs.append([*before, one])
    longest: list[int] = max(runs, key=len, default=[])
    return frozenset(longest)
