"""Whether a recorded yield follows: the entry is made again from what it keeps, and compared."""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from typing import TYPE_CHECKING, Any

from weighd.domain.batch import Batch, Status, scale_of
from weighd.domain.errors import OperatorError
from weighd.domain.following import check_made, differs, not_recordable
from weighd.domain.metrology import Level
from weighd.domain.record import Entry
from weighd.domain.whose import unbound
from weighd.domain.yield_record import given_of, stands_of, tub_typed, yield_body

if TYPE_CHECKING:
    from weighd.domain.rederive import Rederiver

_SOURCE = "what it keeps gives"
_differs = partial(differs, source=_SOURCE)


def check_yield(batch: Batch, entry: Entry, evidence: Rederiver) -> None:
    """Raises :class:`RecordError` where it does not follow; another error for nonsense."""
    body: dict[str, Any] = dict(entry.body)
    if batch.status not in (Status.IN_PROCESS, Status.CLOSED):
        raise _differs(entry, "batch", batch.status, "a batch that was all weighed")
    gross = Level(Decimal(0), Decimal(0))
    weight = body.get("weight", {})
    if "scale" in weight:
        gross = evidence.level_read(body["evidence"], _interval(weight))
    stands = stands_of(body, gross)
    if stands is not None and stands.tub.typed and tub_typed(stands.tub.typed) != stands.tub:
        raise _differs(entry, "weight.tare", stands.tub.grams, stands.tub.typed)
    corrects = body["corrects"]["draw"] if "corrects" in body else None
    try:
        made = yield_body(
            batch,
            given_of(body),
            str(body["by"]),
            stands=stands,
            corrects=corrects,
            reason=str(body.get("reason", "")),
        )
    except OperatorError as error:
        raise not_recordable(entry, error) from error
    check_made(entry, unbound(body), made, _SOURCE)


def _interval(weight: dict[str, Any]) -> Decimal:
    return scale_of(str(weight["scale"]), weight["figures"]).interval_g
