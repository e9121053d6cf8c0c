"""What pages are shown of what was put right in a batch."""

from __future__ import annotations

from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Batch
from weighd.domain.put_right import PutRight


def draw_recovery(batch: Batch) -> dict[str, Any]:
    """What was put right, and how many amounts the formula calls for; nothing where nothing was."""
    if not batch.put_right:
        return {}
    return {
        "called": len(batch.formula["content"]["additions"]),
        "put_right": [_drawn(one) for one in batch.put_right],
    }


def _drawn(one: PutRight) -> dict[str, Any]:
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
