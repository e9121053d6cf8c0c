"""Countersignatures of a batch, as JSON values and in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any

from weighd.domain.batch import Batch
from weighd.domain.countersigning import later_than


def draw_countersigned(batch: Batch) -> dict[str, Any]:
    """``countersigned``, oldest first, each with ``later``, how many entries it does not cover;
    ``entries``, the number of the newest entry, which is what one looks at before signing."""
    return {
        "batch": batch.id,
        "over": batch.is_over,
        "entries": batch.n,
        "countersigned": [
            {**asdict(one), "later": later_than(batch, one)} for one in batch.countersigned
        ],
    }


def tell_countersigned(drawn: Mapping[str, Any]) -> Iterator[str]:
    """The same for people."""
    if not drawn["countersigned"]:
        yield f"Batch {drawn['batch']} is not countersigned."
    for one in drawn["countersigned"]:
        note = f" {one['note']}" if one["note"] else ""
        yield (
            f"{one['at']}  {one['by']} countersigned batch {drawn['batch']} as far as entry "
            f"{one['upto']}.{note}{_later(one['later'])}"
        )


def _later(entries: int) -> str:
    if not entries:
        return ""
    return f" What came later is not covered: {entries} {'entry' if entries == 1 else 'entries'}."
