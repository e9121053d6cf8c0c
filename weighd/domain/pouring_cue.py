"""The words of pour guidance: what is aimed at, and what is told after a reading."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

#: A target above this is no mass in grams on any scale.
MOST_G = Decimal(10) ** 9


class Cue(StrEnum):
    """What the cook is told."""

    POUR = "pour"
    SLOW = "slow"
    STOP = "stop"


@dataclass(frozen=True, slots=True)
class Aim:
    """What an addition is to come to. Masses in grams; less than ``low_g`` is short.

    Raises ``ValueError`` for an interval or a target that is none.
    """

    target_g: Decimal
    low_g: Decimal
    interval_g: Decimal
    ingredient: str = ""
    cook: str = ""

    def __post_init__(self) -> None:
        if self.interval_g <= 0:
            raise ValueError(f"a scale interval is above zero, not {self.interval_g}")
        if not 0 < self.target_g < MOST_G:
            raise ValueError(
                f"a target is above zero (and no more than any scale takes), not {self.target_g}"
            )


@dataclass(frozen=True, slots=True)
class Guidance:
    """The cue after a reading.

    ``landing_g``  grams of the addition if the cook is told to stop now (was told, after
                   ``stop``), with its standard uncertainty ``sigma_g``; both to a tenth of an
                   interval, ``None`` without a number.
    """

    t: float
    cue: Cue
    landing_g: Decimal | None = None
    sigma_g: Decimal | None = None
