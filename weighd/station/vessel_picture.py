"""What a page is told of the vessel on the scale, before it is tared, and of the room left."""

from __future__ import annotations

from typing import Any

from weighd.domain import mass
from weighd.domain.addition import Now, Phase
from weighd.domain.batch import Batch
from weighd.domain.headroom import filling
from weighd.domain.vessel_record import compared, contents_of, standing
from weighd.domain.vessels import Fit, far_off
from weighd.station.vessel_shelf import VesselShelf


def draw_vessel(batch: Batch, now: Now, shelf: VesselShelf) -> dict[str, Any]:
    """The vessel of the current addition.

    ``tared``     the name of the one that was tared; empty where none was named.
    ``chosen``    the one that was chosen for the batch.
    ``standing``  before a tare, with the load at rest: of each vessel that may stand there its
                  name, by how much what stands there is heavier, and how much that may be; the
                  nearest first. Nothing of vessels to pour from, which are not empty.
    ``differs``   the same of the chosen one where that cannot be it; else ``None``.
    """
    current = batch.current
    assert current is not None
    told: dict[str, Any] = {
        "tared": batch.standing.get(current.scale, "") if batch.tare else "",
        "chosen": batch.vessel.name if batch.vessel else "",
        "standing": [],
        "differs": None,
    }
    waits = now.phase in (Phase.AWAITING, Phase.READY)
    if now.level is None or not waits or current.by_difference:
        return told
    stands = standing(batch, now.level)
    looks = []
    for one in shelf.vessels():
        chosen = one.name == told["chosen"]
        if stands is None or (far_off(one, stands, contents_of(batch, one.name)) and not chosen):
            continue
        fit = compared(batch, one, stands)
        if fit is not None:
            looks.append(fit)
    looks.sort(key=lambda fit: abs(fit.differs_g))
    told["standing"] = [_row(fit) for fit in looks if fit.fits]
    for fit in looks:
        if not fit.fits and fit.vessel.name == told["chosen"] and not batch.accepted:
            told["differs"] = _row(fit)
    return told


def _row(fit: Fit) -> dict[str, str]:
    return {
        "name": fit.vessel.name,
        "differs_g": mass.text(fit.differs_g),
        "limit_g": mass.text(fit.limit_g),
    }


def draw_room(batch: Batch, now: Now) -> dict[str, Any] | None:
    """The first addition that what stands there leaves no room for; ``None`` where all fit."""
    if now.gross_g is None or batch.tare is None or batch.current is None:
        return None
    net = batch.current.net_g(now.gross_g, batch.tare.level.grams)
    full = filling(batch, now.gross_g, net)
    return None if full is None else full.as_json()
