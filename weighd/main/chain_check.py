"""Whether a journal in a database is whole and unchanged, on all processors.

The journal is cut into stretches, each checked by a process of its own; that they follow one
another is checked here.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from heapq import merge
from itertools import chain
from multiprocessing import get_context
from pathlib import Path

from sqlalchemy import Connection, select

from weighd.domain.away import AWAY, PUT_AWAY
from weighd.domain.chain import Stretch, check_away, check_rows, check_whole
from weighd.domain.errors import RecordError
from weighd.domain.following import missing
from weighd.domain.kinds import ENDS
from weighd.domain.record import Entry
from weighd.domain.signing import Head, HeadCheck
from weighd.domain.verify import Report
from weighd.storage.address import is_address
from weighd.storage.journal import SqlJournal, open_read_only
from weighd.storage.keys import made
from weighd.storage.raw_rows import misfiled_signature, pages, size_of
from weighd.storage.schema import ENTRY

#: Fewer entries than this are not worth a process more.
STRETCH = 20_000


def check_chain(
    place: Path | str, station: str, trusted: Sequence[str], heads: Sequence[Head] = ()
) -> tuple[Report, str]:
    """Check one station's chain, its signatures and heads; the hash that it ends with.

    Raises :class:`RecordError` naming the first entry that does not hold.
    """
    journal = open_read_only(place, station)
    try:
        size = size_of(journal)
        found, misfiled = _all_stretches(place, station, trusted, size)
        if found is not None:
            check_whole(found, trusted)
        if misfiled:
            raise RecordError(
                "column-differs",
                "Its signature is filed under another batch.",
                where=f"entry {misfiled}",
            )
        for head in heads:
            holding = HeadCheck(head)
            for seq, one in enumerate(journal.hashes(head.entries), start=1):
                holding.link(seq, station, one)
            holding.finish()
        away = check_away(_of_away(journal, found))
    finally:
        journal.close()
    report = Report(entries=size, away=away.batches, archives=dict(away.archives))
    if found is None:
        return report, ""
    report.signed = {key: len(batches) for key, batches in found.signed.items()}
    report.unsigned = found.unsigned
    return report, found.after


def _of_away(journal: SqlJournal, found: Stretch | None) -> Iterable[Entry]:
    """What is there of batches that were put away. No index finds it: it is looked for only from
    where there is any."""
    if found is None or not found.away:
        return ()
    stubs = (journal.entries(kind=one, after=found.away - 1) for one in (AWAY, PUT_AWAY))
    return merge(*stubs, key=lambda one: one.seq)


def _all_stretches(
    place: Path | str, station: str, trusted: Sequence[str], size: int
) -> tuple[Stretch | None, int]:
    """All stretches together, and the first signature that is filed under another batch."""
    processes = min(os.cpu_count() or 1, -(-size // STRETCH))
    if processes <= 1:
        return _stretch(place, station, trusted, 0, size, last=True)
    # More stretches than processes, so that none waits long for another.
    each = max(STRETCH, -(-size // (4 * processes)))
    cuts = [(at, min(at + each, size)) for at in range(0, size, each)]
    found: Stretch | None = None
    first = 0
    # A copy of this process has all that it needs at once; where it is not safe to make one, since
    # other threads may hold locks, or there is a connection to share, it starts from nothing.
    alone = threading.active_count() == 1 and not is_address(place) and sys.platform == "linux"
    context = get_context("fork" if alone else "spawn")
    with ProcessPoolExecutor(processes, context) as pool:
        waiting = [
            pool.submit(_stretch, place, station, trusted, *cut, last=cut[1] == size)
            for cut in cuts
        ]
        try:
            for cut, one in zip(cuts, waiting, strict=True):
                next_, misfiled = one.result()
                first = first or misfiled
                if next_ is None:
                    raise missing(cut[0] + 1, f"entry {cut[0] + 1}")
                found = next_ if found is None else found.and_then(next_)
        finally:
            for one in waiting:
                one.cancel()
    return found, first


def _stretch(
    place: Path | str, station: str, trusted: Sequence[str], after: int, upto: int, *, last: bool
) -> tuple[Stretch | None, int]:
    """A stretch, and the first signature in it that is filed under another batch; 0 for none.

    ``last``  with whatever is signed beyond it.
    """
    journal = open_read_only(place, station)
    ends = select(ENTRY.c.seq).where(ENTRY.c.station == station, ENTRY.c.kind.in_(ENDS))

    def was_over(batch: str, seq: int) -> bool:
        wanted = ends.where(ENTRY.c.batch == batch, ENTRY.c.seq < seq).limit(1)

        def ask(connection: Connection) -> bool:
            return connection.scalars(wanted).first() is not None

        return journal.ask(ask)

    try:
        found = check_rows(
            chain.from_iterable(pages(journal, after, upto)),
            journal.signatures(after=after, upto=None if last else upto),
            made,
            trusted,
            was_over,
        )
        return found, misfiled_signature(journal, after, None if last else upto) or 0
    finally:
        journal.close()
