"""Of entries about the keeping of the record, what their bodies hold."""

from __future__ import annotations

from collections.abc import Mapping

from weighd.domain.keeping import KEY_CHANGED
from weighd.reports.schema_parts import HASH, TEXT, Schema, about, thing

KEEPING: Mapping[str, Schema] = {
    KEY_CHANGED: thing(
        {
            "before": about(HASH, "the public key that signed last"),
            "key": about(HASH, "the public key that signs from now on"),
            "weighd": TEXT,
        },
        about="The station signs with another key.",
    ),
}
