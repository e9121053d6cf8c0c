"""Of entries about the keeping of the record, what their bodies hold."""

from __future__ import annotations

from collections.abc import Mapping

from weighd.domain.away import PUT_AWAY
from weighd.domain.keeping import KEY_CHANGED
from weighd.reports.schema_parts import HASH, TEXT, Schema, about, by_name, thing

KEEPING: Mapping[str, Schema] = {
    KEY_CHANGED: thing(
        {
            "before": about(HASH, "the public key that signed last"),
            "key": about(HASH, "the public key that signs from now on"),
            "weighd": TEXT,
        },
        about="The station signs with another key.",
    ),
    PUT_AWAY: thing(
        {
            "archive": about(TEXT, "the name of the archive's file"),
            "sha256": about(HASH, "of that file"),
            "batches": about(by_name(HASH), "each with the digest of what stands for its entries"),
            "by": TEXT,
            "reason": TEXT,
            "weighd": TEXT,
        },
        about="Batches were put away in an archive.",
    ),
}
