"""What was done about a pour that went wrong, as a batch remembers it (``recovery_record``)."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class PutRight:
    """An entry that put something right, for people to look at.

    ``mass_g``  what the batch comes to by it, in grams.
    """

    seq: int
    n: int
    cause: str
    way: str
    mass_g: Decimal
    reason: str
    by: str
    at: str
