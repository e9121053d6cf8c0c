"""What a record says of the vessel that was tared, where its empty mass is known."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Batch, Planned
from weighd.domain.metrology import Level, combined
from weighd.domain.plan_words import Into
from weighd.domain.vessels import NOTHING, Fit, Vessel, beside, gross
from weighd.domain.zero import nothing_g


def contents_of(batch: Batch, vessel: str) -> Level:
    """What is in this vessel so far in this batch.

    What was weighed by difference, or in a dish, went into the vessel that is weighed into; where
    there was more than one, it is taken to be in none of them.
    """
    if not batch.accepted:
        return NOTHING
    done = list(zip(batch.additions, batch.accepted, strict=False))
    elsewhere = {it.vessel for _, it in done if it.vessel} - {vessel}
    inside = [
        it
        for one, it in done
        if it.vessel == vessel or (not it.vessel and not elsewhere and _is_tipped_in(batch, one))
    ]
    total = sum((it.net_g for it in inside), Decimal(0))
    known = (Level(it.net_g, it.budget.u_g, spread_g=it.budget.u_g) for it in inside)
    return combined(total, *known)


def _is_tipped_in(batch: Batch, one: Planned) -> bool:
    """Whether it was weighed elsewhere and goes into what stands on the current scale."""
    current = batch.current
    if current is None or (current.step and current.step.into is not Into.BOWL):
        return False
    return one.by_difference if one.step is None else one.step.goes_in


def standing(batch: Batch, shown: Level) -> Level | None:
    """What stands on the current addition's scale; ``None`` where that shows nothing, since it was
    tared with its own key."""
    scale = batch.scale
    if scale is None or shown.grams <= nothing_g(scale.interval_g):
        return None
    return gross(shown, scale.interval_g, scale.accuracy)


def compared(batch: Batch, vessel: Vessel, stands: Level | None) -> Fit | None:
    """A vessel beside what stands there (:func:`standing`)."""
    if stands is None or batch.current is None:
        return None
    # What a vessel to pour from holds is not known.
    inside = None if batch.current.by_difference else contents_of(batch, vessel.name)
    return beside(vessel, stands, inside)


def fits(batch: Batch, fit: Fit | None) -> bool | None:
    """Whether it may be this vessel; ``None`` where that could not be seen."""
    if fit is None or batch.current is None:
        return None
    return not fit.too_light if batch.current.by_difference else fit.fits


def as_body(batch: Batch, vessel: Vessel, shown: Level) -> dict[str, Any]:
    """The vessel as the entry of a tare has it."""
    fit = compared(batch, vessel, standing(batch, shown))
    body: dict[str, Any] = {**vessel.as_json(), "fits": fits(batch, fit)}
    if fit is None or batch.current is None:
        return body
    if batch.current.by_difference:
        return {**body, "holds_g": mass.text(fit.differs_g), "limit_g": mass.text(fit.limit_g)}
    inside = contents_of(batch, vessel.name)
    if inside.grams:
        body["contents_g"] = mass.text(inside.grams)
    return {**body, "differs_g": mass.text(fit.differs_g), "limit_g": mass.text(fit.limit_g)}
