"""What the hands do in a plan, besides pouring: vessels set down, tipped in, stirred."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from weighd.domain.batch import Planned
from weighd.domain.plan_words import Into, Role


class Handle(StrEnum):
    """What is done with a vessel."""

    SET = "set down"
    CLEAR = "take off"
    TIP = "tip in"
    STIR = "stir"
    WEIGH = "weigh"


@dataclass(frozen=True, slots=True)
class Act:
    """One thing to do.

    ``vessel``  ``bowl``, ``dish 1``, ``premix 1``...; ``scale`` where it is done.
    ``n``       the weighing it is, or that it comes before; for the last acts of all, one more
                than there are.
    ``moves``   what it counts as in a plan.
    """

    do: Handle
    vessel: str
    scale: str
    n: int
    moves: int = 0


def name_of(into: Into, vessel: int) -> str:
    """What a vessel of a plan is called."""
    return str(into) if into is Into.BOWL else f"{into} {vessel}"


def acts(additions: Sequence[Planned]) -> Iterator[Act]:
    """Everything that is done for these weighings, in order; nothing where they have no plan."""
    bowl_on: str | None = None
    open_on: tuple[str, str] | None = None  # vessel beside the bowl, and its scale
    n = 0
    for one in additions:
        step, n = one.step, one.n
        if step is None:
            return
        vessel = name_of(*step.place)
        if open_on is not None and open_on[0] != vessel:
            yield _emptied(*open_on, n)
            open_on = None
        if step.into is Into.BOWL:
            if bowl_on != one.scale:
                yield Act(Handle.SET, vessel, one.scale, n, 1)
                bowl_on = one.scale
        elif open_on is None:
            if bowl_on == one.scale:
                yield Act(Handle.CLEAR, str(Into.BOWL), one.scale, n)
                bowl_on = None
            yield Act(Handle.SET, vessel, one.scale, n, 1)
            open_on = vessel, one.scale
        again = step.part > 1 or step.role is Role.CARRIER
        yield Act(Handle.WEIGH, vessel, one.scale, n, int(again))
    if open_on is not None:
        yield _emptied(*open_on, n + 1)


def _emptied(vessel: str, scale: str, n: int) -> Act:
    if vessel.startswith(Into.SOURCE):
        return Act(Handle.CLEAR, vessel, scale, n)
    premix = vessel.startswith(Into.PREMIX)
    return Act(Handle.STIR if premix else Handle.TIP, vessel, scale, n, 1)


def before(additions: Sequence[Planned], n: int) -> tuple[Act, ...]:
    """What is done before weighing ``n``, or after the last one."""
    return tuple(one for one in acts(additions) if one.n == n and one.do is not Handle.WEIGH)
