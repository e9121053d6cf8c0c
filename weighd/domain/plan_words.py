"""The words of a weighing plan."""

from __future__ import annotations

from enum import StrEnum


class Into(StrEnum):
    """Which vessel a weighing goes into."""

    BOWL = "bowl"
    DISH = "dish"
    PREMIX = "premix"
    #: The ingredient's own vessel stands on the scale, and what leaves it goes into the bowl.
    SOURCE = "source"


class Role(StrEnum):
    """What a weighing is of its amount; ``whole`` for all of it at once."""

    WHOLE = "whole"
    PART = "part"
    PREMIX = "premix ingredient"
    CARRIER = "premix carrier"
    FROM_PREMIX = "from premix"
    REST = "rest of the carrier"
