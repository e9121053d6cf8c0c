"""What pages are shown of what was put right in a batch."""

from __future__ import annotations

from typing import Any

from weighd.domain import mass
from weighd.domain.put_right import PutRight


def draw_put_right(one: PutRight) -> dict[str, Any]:
    """What was done about a pour that went wrong, as JSON values."""
    return {
        "addition": one.n,
        "cause": one.cause,
        "way": one.way,
        "mass_g": mass.text(one.mass_g),
        "reason": one.reason,
        "by": one.by,
        "at": one.at,
    }
