"""What the detector says after a reading."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from weighd.domain.metrology import Level


class Phase(StrEnum):
    """What the load on the scale is doing."""

    EMPTY = "empty"
    POURING = "pouring"
    SETTLING = "settling"
    SETTLED = "settled"
    DISTURBED = "disturbed"


@dataclass(frozen=True, slots=True)
class Finding:
    """What is known after a reading.

    ``level``    the settled display in grams with its uncertainty, only when ``SETTLED``.
    ``firm``     whether the level may enter a record.
    ``why``      only when ``DISTURBED``: ``"lift"``, ``"touch"``, ``"shaking"``, ``"tare key"``,
                 ``"asleep"``, ``"overload"``, or the scale's fault.
    ``rising``   whether the load is growing.
    ``shift_g``  how far the display's zero has jumped since the start with the load on, in grams
                 (tare key, sleep): the load is ``level.grams - shift_g`` on the first zero.
    ``drift_g_s``  grams a second by which a load settled for long creeps or wastes away.
    """

    t: float
    phase: Phase
    level: Level | None = None
    firm: bool = False
    why: str = ""
    rising: bool = False
    shift_g: Decimal = Decimal(0)
    drift_g_s: float = 0.0
