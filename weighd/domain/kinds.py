"""The kinds of journal entry, how a batch stands, and which entries it may have then."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum


class Kind(StrEnum):
    """The kinds of journal entry."""

    OPENED = "batch opened"
    TARED = "tared"
    HELD = "held"
    DECIDED = "decided"
    RESUMED = "resumed"
    ZERO_MOVED = "zero moved"
    LOT_NAMED = "lot named"
    ACCEPTED = "addition accepted"
    WEIGHED = "all weighed"
    STEP_BEGUN = "step begun"
    VALUE_ENTERED = "temperature entered"
    VALUE_STRUCK = "temperature struck out"
    STEP_ENDED = "step ended"
    STEP_DECIDED = "step decided"
    STEP_NOTED = "step noted"
    CLOCK_SET = "clock set"
    YIELD = "yield recorded"
    CLOSED = "batch closed"
    ABANDONED = "batch abandoned"
    SCALE_CHANGED = "scale changed"
    PUT_RIGHT = "put right"
    RESTARTED = "restarted"
    CORRECTED = "corrected"
    COUNTERSIGNED = "countersigned"


class Status(StrEnum):
    """Whether a batch is still being weighed, or made of what was weighed."""

    OPEN = "open"
    IN_PROCESS = "in process"
    CLOSED = "closed"
    ABANDONED = "abandoned"


#: What ends a batch.
ENDS: frozenset[str] = frozenset({Kind.CLOSED, Kind.ABANDONED})
#: What may still be recorded of a batch that is off the bench, in process or over.
AFTER_WEIGHING: frozenset[Kind] = frozenset({Kind.YIELD, Kind.CORRECTED})
#: What is recorded of a batch only once it is over.
OVER = AFTER_WEIGHING | {Kind.COUNTERSIGNED}
#: What is recorded of a batch only while it is in process.
IN_PROCESS = frozenset(
    {
        Kind.STEP_BEGUN,
        Kind.VALUE_ENTERED,
        Kind.VALUE_STRUCK,
        Kind.STEP_ENDED,
        Kind.STEP_DECIDED,
        Kind.STEP_NOTED,
        Kind.CLOCK_SET,
    }
)
#: Which entries a batch may have next, by how it stands.
MAY_COME: Mapping[Status, frozenset[Kind]] = {
    Status.OPEN: frozenset(Kind) - {Kind.OPENED, Kind.YIELD, Kind.COUNTERSIGNED} - IN_PROCESS,
    Status.IN_PROCESS: IN_PROCESS | {Kind.CLOSED, Kind.ABANDONED} | AFTER_WEIGHING,
    Status.CLOSED: OVER,
    Status.ABANDONED: OVER,
}
