"""The batches in process, as pages and programs are shown them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from weighd.domain import mass
from weighd.domain.batch import Batch

if TYPE_CHECKING:
    from weighd.station.station import Station


def draw_process(station: Station) -> dict[str, Any]:
    """Every batch in process, in the order in which they came off the bench."""
    return {"batches": [_drawn(one) for one in station.off_bench.in_process()]}


def _drawn(batch: Batch) -> dict[str, Any]:
    return {
        "id": batch.id,
        "name": batch.formula["name"],
        "batch_g": mass.text(batch.batch_g),
        "operator": batch.operator,
    }
