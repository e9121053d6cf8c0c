"""What the bodies of entries of lots hold: they are of no batch, each of one lot."""

from __future__ import annotations

from collections.abc import Mapping

from weighd.domain.lot_record import ADJUSTED, BLOCKED, OPENED, RECEIVED, RELEASED, USED_UP
from weighd.reports.schema_parts import (
    COUNT,
    HASH,
    KEY,
    MASS,
    NAMED,
    POSITIVE,
    TEXT,
    Fields,
    Schema,
    about,
    thing,
)

_DAY: Schema = {"type": "string", "format": "date", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}
_LOT: Fields = {"lot": about(TEXT, "our code of the lot"), "by": TEXT}
_REASON: Fields = {"reason": TEXT}


def _of_lot(must: Fields, may: Fields, words: str) -> Schema:
    return thing({**_LOT, **must}, {**KEY, **NAMED, **may}, words)


#: The bodies, by kind of entry.
LOTS: Mapping[str, Schema] = {
    RECEIVED: _of_lot(
        {"ingredient": TEXT, "name": TEXT, "quantity_g": POSITIVE},
        {
            "supplier": TEXT,
            "supplier_lot": TEXT,
            "gtin": {"type": "string", "pattern": "^[0-9]{14}$"},
            "use_by": _DAY,
            "best_before": _DAY,
            "temperature_c": MASS,
            "document": TEXT,
            "note": TEXT,
            "made_in": about(TEXT, "the batch it was made in here"),
            "corrects": about(HASH, "hash of the receipt that it stands in the place of"),
            **_REASON,
        },
        "A lot comes to be.",
    ),
    OPENED: _of_lot({}, {"keeps_days": COUNT}, "A lot was opened."),
    BLOCKED: _of_lot(_REASON, {}, "A lot is not to be used."),
    RELEASED: _of_lot(_REASON, {}, "A lot that was blocked may be used."),
    ADJUSTED: _of_lot(
        {**_REASON, "change_g": MASS},
        {
            "count_g": POSITIVE,
            "waste_g": POSITIVE,
            "corrects": about(HASH, "hash of the adjustment that it stands in the place of"),
        },
        "What is left of a lot was counted, or some of it thrown away.",
    ),
    USED_UP: _of_lot({"left_g": MASS}, {}, "Nothing is left of a lot."),
}
