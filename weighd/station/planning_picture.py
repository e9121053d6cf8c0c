"""What pages are shown of a plan while it is carried out."""

from __future__ import annotations

from typing import Any

from weighd.domain import mass
from weighd.domain.acts import Act, Handle, acts
from weighd.domain.addition import Now
from weighd.domain.batch import Batch
from weighd.domain.tipping import bowl_is_on, expected


def draw_act(one: Act) -> dict[str, Any]:
    """One thing to do, as JSON values."""
    return {"do": one.do, "vessel": one.vessel, "scale": one.scale, "n": one.n}


def draw_steps(batch: Batch) -> dict[str, Any]:
    """What is done with vessels before each weighing and after the last; nothing without a plan.

    ``n`` of an act is the weighing that it comes before.
    """
    told = [draw_act(one) for one in acts(batch.additions) if one.do is not Handle.WEIGH]
    return {"acts": told} if told else {}


def draw_due(batch: Batch, now: Now) -> dict[str, str | None] | None:
    """What the bowl should weigh when it comes back to a scale, and how far off it is, in grams.

    ``None`` where no bowl is due; ``off_g`` is ``None`` while it agrees or is not at rest. Where it
    still stands in the place of a dish, ``due_g`` is ``None`` and ``off_g`` what it weighs.
    """
    if now.level is not None and bowl_is_on(batch, now.level):
        return {"due_g": None, "off_g": mass.text(now.level.grams)}
    due = expected(batch)
    if due is None:
        return None
    off = None
    if now.level is not None and not due.agrees(now.level):
        off = mass.text(mass.rounded(due.off_g(now.level), due.interval_g))
    return {"due_g": mass.text(mass.rounded(due.level.grams, due.interval_g)), "off_g": off}
