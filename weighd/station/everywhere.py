"""A trace that looks at every station, or says of which it could not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from weighd.domain.lots import LotBook
from weighd.domain.trace import Trace
from weighd.station.ports import BatchRow


@dataclass(frozen=True, slots=True)
class Traced:
    """A trace across stations: which were looked at, where lots of that code were received, and the
    lines of the batches."""

    found: Trace
    stations: Sequence[str]
    owners: Sequence[str]
    rows: Mapping[str, BatchRow]


def known_stations(book: LotBook, own: str) -> list[str]:
    """The other stations that are known of here, by their lots and what they drew."""
    names = {*book.known, *(one.station for one in book)}
    names |= {name for one in book for name, _ in one.elsewhere}
    return sorted(names - {own, ""})


def draw_everywhere(traced: Traced) -> dict[str, Any]:
    """As JSON values: what a trace across stations has beside others."""
    return {"everywhere": True, "stations": list(traced.stations), "owners": list(traced.owners)}


def draw_cut_off(own: str, unseen: Sequence[str], since: str, why: str) -> dict[str, Any]:
    """As JSON values: only this station was looked at.

    ``unseen``  the others that are known of; ``since``: when they were heard of last (UTC).
    """
    others = ", ".join(unseen) if unseen else "any other station"
    heard = f"; what is known of them is from {since[:16].replace('T', ' ')} UTC" if since else ""
    return {
        "everywhere": False,
        "stations": [own],
        "unseen": list(unseen),
        "said": f"The shared store cannot be reached, so this is what station {own} recorded. "
        f"It does not show what was done at {others}{heard}.",
        "why": why,
    }
