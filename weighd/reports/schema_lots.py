"""What the bodies of entries of lots hold: they are of no batch, each of one lot."""

from __future__ import annotations

from collections.abc import Mapping

from weighd.domain.lot_record import (
    ADJUSTED,
    BLOCKED,
    OPENED,
    OVERDRAWN,
    RECEIVED,
    RELEASED,
    SHARED,
    USED_UP,
)
from weighd.reports.schema_parts import (
    ANYTHING,
    COUNT,
    HASH,
    KEY,
    MASS,
    NAMED,
    POSITIVE,
    TEXT,
    TIME,
    Fields,
    Schema,
    about,
    by_name,
    listed,
    thing,
)

_DAY: Schema = {"type": "string", "format": "date", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}
_LOT: Fields = {"lot": about(TEXT, "our code of the lot"), "by": TEXT}
_REASON: Fields = {"reason": TEXT}


_OF: Fields = {
    "of": thing(
        {"station": TEXT, "lot": TEXT}, {}, "where the lot was received, and its code there"
    )
}
_ELSEWHERE: Fields = {
    "elsewhere_g": about(MASS, "what other stations had drawn, as far as it was known")
}


def _of_lot(must: Fields, may: Fields, words: str) -> Schema:
    return thing({**_LOT, **must}, {**KEY, **NAMED, **_OF, **may}, words)


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
            "drawn_before": thing(
                {"g": MASS, "u2": MASS, "uses": COUNT}, {}, "drawn from it before it was received"
            ),
            **_REASON,
        },
        "A lot comes to be.",
    ),
    OPENED: _of_lot({}, {"keeps_days": COUNT}, "A lot was opened."),
    BLOCKED: _of_lot(_REASON, {}, "A lot is not to be used."),
    RELEASED: _of_lot(
        _REASON,
        {"lifts": about(listed(HASH), "the blocks that it lifts, where others made some")},
        "A lot that was blocked may be used.",
    ),
    ADJUSTED: _of_lot(
        {**_REASON, "change_g": MASS},
        {
            "count_g": POSITIVE,
            "waste_g": POSITIVE,
            "corrects": about(HASH, "hash of the adjustment that it stands in the place of"),
            **_ELSEWHERE,
        },
        "What is left of a lot was counted, or some of it thrown away.",
    ),
    USED_UP: _of_lot({"left_g": MASS}, _ELSEWHERE, "Nothing is left of a lot."),
    SHARED: thing(
        {
            "lot": about(TEXT, "its code here"),
            "entry": thing(
                {
                    "seq": COUNT,
                    "station": TEXT,
                    "kind": TEXT,
                    "at": TIME,
                    "body": ANYTHING,
                    "prev": HASH,
                    "hash": HASH,
                },
                {},
                "the entry as that station has it",
            ),
        },
        {},
        "What another station did to a lot was learned here.",
    ),
    OVERDRAWN: thing(
        {
            "lot": about(TEXT, "its code here"),
            "over_g": about(POSITIVE, "how much more was drawn than there was"),
            "u_g": about(POSITIVE, "standard uncertainty of all that was drawn"),
            "had_g": about(MASS, "what there was to draw from"),
            "drawn": by_name(thing({"g": MASS, "u2": MASS, "uses": COUNT}, {})),
            "known_at": about(TEXT, "when the others were heard of last"),
        },
        _OF,
        "Stations together drew more of a lot than there was.",
    ),
}
