"""A trace that looks at every station, or says of which it could not."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from weighd.domain.errors import JournalError
from weighd.domain.lots import Lot, LotBook
from weighd.domain.trace import Trace, trace
from weighd.station.ports import BatchRow, Journal
from weighd.station.recalling import rows_of


@dataclass(frozen=True, slots=True)
class Traced:
    """A trace across stations: which were looked at, where lots of that code were received, and the
    lines of the batches."""

    found: Trace
    stations: Sequence[str]
    owners: Sequence[str]
    rows: Mapping[str, BatchRow]


def trace_lot(
    journal: Journal,
    own: str,
    lot: str,
    known: Lot | None,
    ask: Callable[[str, str], Traced] | None,
    *,
    cut_off: str = "",
    must: bool = False,
    unseen: Sequence[str] = (),
    heard_at: str = "",
) -> tuple[Trace, Mapping[str, BatchRow], dict[str, Any]]:
    """The trace of a lot, the lines of its batches, and what is said of the stations it shows.

    ``own``      this station, whose ``journal`` it is; ``known``: the lot as it knows it.
    ``ask``      traces across stations by code and by the station that received it (empty:
                 wherever); ``None`` looks at this station only.
    ``cut_off``  why not to try that; ``must`` has it tried all the same, and refused where it
                 cannot be done.
    ``unseen``   the other stations that are known of, and when they were ``heard_at`` last (UTC).
    Raises :class:`JournalError`.
    """
    beside = dict[str, Any]()
    if ask is not None:
        why = "" if must else cut_off
        if not why:
            code, origin = (known.there or known.code, known.station or own) if known else (lot, "")
            try:
                it = ask(code, origin)
            except JournalError as error:
                if must:
                    raise
                why = str(error)
            else:
                return it.found, it.rows, draw_everywhere(it)
        beside = draw_cut_off(own, unseen, heard_at, why)
    code = known.code if known else lot
    found = trace(code, journal.uses_of_lots, journal.uses_in_batches, journal.masses_of_batches)
    return found, rows_of(journal, found), beside


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
