"""What goes from dishes into the bowl: whether it is all in, and what each amount came to.

An amount weighed in a dish counts as in the batch once it is tipped into the bowl, which no scale
sees happen. When the bowl is next tared on a scale that weighed it before, it should have grown by
what was in the dishes. If it did not, a dish was forgotten or not scraped out, or another vessel
stands there; whoever tares is told, and goes on only by saying so. A dish too light for the bowl's
scale to notice cannot be missed in this way.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.addition import Bench, Claim
from weighd.domain.batch import Accepted, Batch, Planned
from weighd.domain.errors import OperatorError
from weighd.domain.metrology import Level, root_sum
from weighd.domain.plan_words import Into, Role
from weighd.domain.shares import as_weighed, inside_g
from weighd.domain.vessels import K

_NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Due:
    """What the bowl should weigh when it comes back; ``tipped`` is what went in meanwhile."""

    level: Level
    tipped: tuple[tuple[Planned, Accepted], ...]
    interval_g: Decimal

    @property
    def tipped_g(self) -> Decimal:
        return sum((it.net_g for _, it in self.tipped), _NOTHING)

    def off_g(self, shown: Level) -> Decimal:
        """How much more it weighs than it should, in grams."""
        return shown.grams - self.level.grams

    def agrees(self, shown: Level) -> bool:
        """Whether a bowl that weighs so much may be the one, with all that was tipped in."""
        room = K * root_sum(shown.u_g, self.level.u_g) + self.interval_g
        return abs(self.off_g(shown)) <= room


def expected(batch: Batch) -> Due | None:
    """What the bowl should weigh now on the current scale.

    ``None`` where no bowl is due there, where it was not weighed there before, or where nothing
    went in meanwhile.
    """
    current = batch.current
    if current is None or current.step is None or current.step.into is not Into.BOWL:
        return None
    stood = batch.bowls.get(current.scale)
    if stood is None or batch.tare is not None:
        return None
    tipped: list[tuple[Planned, Accepted]] = []
    for one, done in reversed(list(zip(batch.additions, batch.accepted, strict=False))):
        if one.step is None:
            return None
        if one.scale == current.scale and one.step.into is Into.BOWL:
            break
        if one.step.goes_in:
            tipped.append((one, done))
    if not tipped:
        return None
    tipped.reverse()
    grams = stood.grams + sum((it.net_g for _, it in tipped), _NOTHING)
    u = root_sum(stood.u_g, *(it.budget.u_g for _, it in tipped))
    return Due(Level(grams, u), tuple(tipped), batch.scales[current.scale].interval_g)


def bowl_is_on(batch: Batch, shown: Level) -> bool:
    """Whether the bowl, as it was last weighed there, still stands where a dish belongs."""
    current = batch.current
    if current is None or current.step is None or current.step.into is Into.BOWL:
        return False
    stood = batch.bowls.get(current.scale)
    if stood is None or batch.tare is not None:
        return False
    return Due(stood, (), batch.scales[current.scale].interval_g).agrees(shown)


def as_expected(here: Bench, shown: Level, *, confirmed: bool) -> dict[str, Any]:
    """What a tare entry says of the bowl's return; nothing where nothing was due.

    Raises :class:`OperatorError`: ``not-all-in`` where it does not agree and nobody said so, and
    ``bowl-still-on`` where it stands in the place of a dish.
    """
    if bowl_is_on(here.batch, shown) and not confirmed:
        raise OperatorError(
            "bowl-still-on",
            f"What stands there weighs what the bowl did; {here.planned.name} is to go into a "
            "vessel of its own.",
            remedy="Take the bowl off and set an empty dish down, then press again; or confirm.",
        )
    due = expected(here.batch)
    if due is None:
        return {}
    agrees = due.agrees(shown)
    if not agrees and not confirmed:
        raise _not_all_in(due, shown)
    return {
        "expected_g": mass.text(due.level.grams),
        "expected_u_g": mass.text(due.level.u_g),
        **({} if agrees else {"expected_confirmed": True}),
    }


def _not_all_in(due: Due, shown: Level) -> OperatorError:
    off = due.off_g(shown)
    names = " and ".join(dict.fromkeys(one.name for one, _ in due.tipped))
    by = mass.text(mass.rounded(abs(off), due.interval_g))
    if off < 0:
        return OperatorError(
            "not-all-in",
            f"The bowl is {by} g lighter than it should be. From the dish, "
            f"{mass.text(mass.rounded(due.tipped_g, due.interval_g))} g should have come in: "
            f"{names}.",
            remedy="Tip it in and scrape the dish out, then press again; or confirm to go on "
            "as it is.",
        )
    return OperatorError(
        "not-all-in",
        f"The bowl is {by} g heavier than it should be with {names} in it.",
        remedy="Set the right vessel on the scale with nothing else in or on it, then press "
        "again; or confirm to go on as it is.",
    )


def within_the_whole(here: Bench, claim: Claim) -> None:
    """A part must leave something of its amount for the last one.

    Raises :class:`OperatorError`, ``more-than-the-whole``.
    """
    step = here.planned.step
    if step is None or step.role is not Role.PART or step.part == step.parts:
        return
    before = inside_g(here.planned, here.batch.additions, here.batch.accepted)
    if before + claim.net_g < step.whole_g:
        return
    raise OperatorError(
        "more-than-the-whole",
        f"With this part {mass.text(before + claim.net_g)} g of the {here.planned.name} would be "
        f"in, where {mass.text(step.whole_g)} g are wanted in all.",
        remedy="Take some out.",
    )


def sums_as_json(batch: Batch, *last: Accepted) -> list[dict[str, Any]] | None:
    """What went in of each amount, as the closing entry of a planned batch has it.

    ``last``  the weighing just accepted, where the batch does not have it yet. ``None`` where every
    weighing is all of its amount, and none was put right.
    """
    whole = all(one.step is None or one.step.role is Role.WHOLE for one in batch.additions)
    if whole and not batch.wholes:
        return None
    wholes = {
        one.amount: one
        for one in batch.additions
        if one.step is None or one.step.role is not Role.PREMIX
    }
    return [
        {
            "addition": of,
            "ingredient": wholes[of].ingredient,
            "name": wholes[of].name,
            "target_g": mass.text(batch.wholes.get(of, _whole(wholes[of]))),
            "net_g": mass.text(found.net_g),
            "u_g": mass.text(found.u_g),
        }
        for of, found in sorted(as_weighed(batch.additions, (*batch.accepted, *last)).items())
    ]


def _whole(one: Planned) -> Decimal:
    return one.step.whole_g if one.step else one.target_g
