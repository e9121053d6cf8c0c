"""A display whose zero moved with the load on: what is known of it, and what becomes of the tare.

1. A scale's zero moves under a load when its own key is pressed, or when it slept and woke. What
   stood on the display before and after, with nothing put on or taken off in between, says how
   far. The tare moves as far: ``tare + (after - before)``, and nothing weighed so far is lost.
2. Each of the two is a reading of its own, so a net across a moved zero takes four readings
   instead of two, and rounding and spread of all four are in its budget: on a steady display
   one more pair of roundings, ``d / sqrt(12)`` each (GUM, JCGM 100:2008, 5.1.2).
3. A display that was still moving when it went is known no better than it moved in its last
   readings (:func:`~weighd.domain.metrology.moving_level`).
4. Both are kept as evidence: readings as JSON values, with how to decode their bytes again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass
from weighd.domain.metrology import (
    Level,
    combined,
    level,
    level_of,
    moving_level,
    rounded_level,
)

#: Readings that a display before a jump needs, and a new zero: that is set, not weighed, and a
#: key is often followed by a pour.
FEWEST_BEFORE, FEWEST_AFTER = 3, 2
#: What the detector calls a jump.
JUMPS = ("tare key", "asleep")


class Moved(StrEnum):
    """How a zero moved."""

    TARE_KEY = "tare key"
    AT_ZERO = "scale at zero"  # it slept, or was off, and somebody says that nothing was added
    EMPTIED = "zeroed empty"  # back to the zero of the empty pan, with the vessel set on it


@dataclass(frozen=True, slots=True)
class Stood:
    """What a display stood at. ``evidence`` holds ``decoder`` and ``readings``, JSON values.

    ``settled``  whether it was at rest; if not, ``level`` is its last value and known as badly as
                 that was moving.
    """

    level: Level
    settled: bool
    evidence: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Jump:
    """A zero that jumped: ``why`` is ``"tare key"`` or ``"asleep"``.

    ``sure``   whether it can have been nothing else. Between two readings of a slow scale a vessel
               may be lifted, and leave the same zero.
    ``grows``  of one in mid-pour: whether the display grew on from zero as it had before, which
               that of an empty pan does not. ``None`` of one that came while the load was at rest.
    """

    why: str
    before: Stood
    after: Stood
    sure: bool = True
    grows: bool | None = None


@dataclass(frozen=True, slots=True)
class ZeroMove:
    """A move of the zero in an addition, as its entry (number ``n`` of the batch) tells it."""

    n: int
    cause: Moved
    sum_g: Decimal | None
    at: str


def shown_level(displayed: Sequence[Decimal], interval_g: Decimal, *, settled: bool) -> Level:
    """The level of a display that went, from its readings in grams, oldest first."""
    return (level if settled else moving_level)(displayed, interval_g)


def nothing_g(interval_g: Decimal) -> Decimal:
    """A display of up to so many grams shows no vessel."""
    return max(3 * interval_g, Decimal(1))


def near_zero(grams: Decimal, interval_g: Decimal) -> bool:
    """Whether a display may be that of a scale that came back at zero."""
    return abs(grams) <= nothing_g(interval_g)


def far_g(interval_g: Decimal) -> Decimal:
    """A display of more than so many grams cannot be mistaken for nothing."""
    return max(10 * interval_g, Decimal(5))


def far_from_zero(grams: Decimal, interval_g: Decimal) -> bool:
    """Whether a display cannot be mistaken for it."""
    return abs(grams) > far_g(interval_g)


def lost_zero(before_g: Decimal, shown_g: Decimal, interval_g: Decimal) -> bool:
    """Whether a display that was away may have come back with another zero: it shows next to
    nothing, where ``before_g`` stood there. So little as a spoonful is told from that."""
    near = max(3 * interval_g, min(Decimal(1), abs(before_g) / 10))
    return abs(shown_g) <= near and abs(before_g) > max(5 * interval_g, near)


def too_little(
    before_g: Decimal, shown_g: Decimal, interval_g: Decimal, *, falls: bool = False
) -> bool:
    """Whether a display that nobody could see for a while shows so much less than what stood there
    that its zero may be another: one taken in mid-pour, or with a spoon on the pan, shows neither
    nothing nor what is there. ``falls``: it is poured from what stands there."""
    least = -nothing_g(interval_g) if falls else before_g / 2
    return far_from_zero(before_g, interval_g) and shown_g < least


def on_empty_zero(tare: Level, shift: Level | None) -> Level:
    """A tare on the zero that the scale had before it moved by ``shift``."""
    return tare if shift is None else combined(tare.grams - shift.grams, tare, shift)


def together(shift: Level | None, more: Level) -> Level:
    """One move of a zero after another."""
    return more if shift is None else combined(shift.grams + more.grams, shift, more)


def new_tare(
    cause: Moved,
    tare: Level,
    shift: Level | None,
    before: Level | None,
    after: Level,
    change_g: Decimal | None,
    interval_g: Decimal,
) -> tuple[Level, Level]:
    """The tare on the new zero, and by how much the zero moved.

    ``tare``    on the zero before; ``shift`` is how far that had moved since the vessel was tared.
    ``before``  what stood there. Where no reading is left of it, ``change_g``, by how much the
                addition so far had changed the display, may be known from the record, to an
                interval; where not even that is known, a person has said that nothing was added,
                and what shows now is the tare.
    """
    if cause is Moved.EMPTIED:
        if shift is None:
            raise ValueError("the zero has not moved")
        return on_empty_zero(tare, shift), replace(shift, grams=-shift.grams)
    if before is not None:
        by = combined(after.grams - before.grams, after, before)
        return combined(tare.grams + by.grams, tare, by), by
    new = after
    if change_g is not None:
        known = rounded_level(change_g, interval_g)
        new = combined(after.grams - change_g, after, known, tare)
    return new, combined(new.grams - tare.grams, new, tare)


def as_body(before: Stood | None, after: Stood | None) -> dict[str, Any]:
    """What stood before and after, as an entry has it; keys only for what is known."""
    body: dict[str, Any] = {}
    evidence: dict[str, Any] = {}
    for name, stood in (("before", before), ("after", after)):
        if stood is not None:
            body[f"{name}_g"] = mass.text(stood.level.grams)
            body[f"{name}_u_g"] = mass.text(stood.level.u_g)
            body[f"{name}_budget"] = stood.level.budget.as_json()
            evidence[name] = dict(stood.evidence)
    if before is not None:
        body["settled"] = before.settled
    if evidence:
        body["evidence"] = evidence
    return body


def level_of_body(body: Mapping[str, Any], name: str) -> Level:
    """A level as an entry has it: ``NAME_g``, ``NAME_u_g``, ``NAME_budget``."""
    grams, u = mass.parse(body[f"{name}_g"]), mass.parse(body[f"{name}_u_g"])
    return level_of(grams, u, body[f"{name}_budget"])


def of_body(body: Mapping[str, Any], name: str) -> Stood | None:
    """What an entry says stood ``"before"`` or ``"after"``; ``None`` where it says nothing."""
    if f"{name}_g" not in body:
        return None
    known = level_of_body(body, name)
    settled = body["settled"] if name == "before" else True
    if not isinstance(settled, bool):
        raise TypeError("settled is neither true nor false")
    return Stood(known, settled, body["evidence"][name])
