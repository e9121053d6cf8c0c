"""A station's journal as its own outbox: what the shared store lacks of it is sent there.

1. Nothing is noted here of what was sent. The shared store is asked for its newest entry of this
   station, and what follows is added in one transaction, with signatures and the lists drawn from
   it. So whatever breaks, wherever, each entry arrives once and in order: a commit whose answer
   was lost is seen at the next question.
2. The newest entry there must be ours, byte for byte. If it is not, nothing is sent: this record
   was put back from an old copy, two stations have one name, or somebody wrote there.
3. Senders of one station take turns (``turns``), so that two of them cannot interleave.
4. What was sent is gone through again, some hundred entries at a time (:meth:`Outbox.compare`):
   an entry that was changed there, or is missing, is noticed, and a signature that was made later
   is sent.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, insert, select, text

from weighd.domain.away import as_was, is_away
from weighd.domain.canonical_json import canonical_text
from weighd.domain.errors import JournalError
from weighd.domain.record import Entry, Tail
from weighd.storage import schema
from weighd.storage.drawing import draw_all
from weighd.storage.journal import SqlJournal, Store
from weighd.storage.postgres_faults import fault
from weighd.storage.rows import Row, follow, row_of, stored, without_nul
from weighd.storage.schema import ENTRY, SIGNATURE, VERSION
from weighd.storage.turns import take_turn

#: Entries, and bytes of them, that are sent in one transaction: it must be through a thin line
#: before anybody loses patience, and is lost as a whole when the line is cut.
MOST, MOST_BYTES = 200, 256 * 1024
#: Entries that are compared at a time.
COMPARED = 500

_ROW = tuple(ENTRY.c)
_DIGEST = func.encode(func.sha256(func.convert_to(ENTRY.c.body, text("'UTF8'"))), text("'hex'"))
_COMPARED = (*(one for one in ENTRY.c if one is not ENTRY.c.body), _DIGEST.label("body"))


@dataclass(frozen=True, slots=True)
class Sent:
    """What one sending did: how many entries went, and how the shared store ends now."""

    entries: int
    there: Tail


class Outbox:
    """Sends a station's journal to a shared store. One thread at a time.

    ``own``    the station's journal, which is only read.
    ``store``  a :class:`PostgresStore`.
    ``where``  what messages call the shared store.
    """

    def __init__(self, own: SqlJournal, store: Store, where: str) -> None:
        self._own = own
        self._store = store
        self._where = where
        self._station = own.station

    def send(self) -> Sent:
        """Send what comes next, as much as goes at once; none when all is there.

        Raises :class:`JournalError`: ``shared-ahead``, ``shared-forked`` and ``shared-altered``
        where the shared store does not end as this journal goes; ``hash-mismatch`` and others
        where the own record is damaged; and what the stores raise.
        """
        return self._store.write(self._send)

    def there(self) -> Tail:
        """How the shared store ends, which must be as this journal goes. Raises as above."""
        return self._store.read(lambda connection: self._ours(self._newest(connection)))

    def compare(self, after: int) -> int:
        """Compare some entries and signatures that were sent, from ``after`` on.

        Returns the entry that it came to; 0 at the end. Raises :class:`JournalError`
        ``shared-altered``; sends signatures that are missing there.
        """
        mine = list(self._own.entries(after=after, limit=COMPARED))
        if not mine:
            return 0
        upto = mine[-1].seq

        def ask(connection: Connection) -> tuple[int, dict[int, Row], dict[int, Row]]:
            newest = self._newest(connection)
            here = (ENTRY.c.station == self._station, ENTRY.c.seq > after, ENTRY.c.seq <= upto)
            rows = connection.execute(select(*_COMPARED).where(*here)).mappings()
            signed = _signatures(connection, self._station, after, upto)
            return (
                newest["seq"] if newest else 0,
                {row["seq"]: dict(row) for row in rows},
                {row["seq"]: row for row in signed},
            )

        newest, theirs, signed = self._store.read(ask)
        for one in mine:
            if one.seq > newest:
                break
            if is_away(one):  # here is only what stands for it; there is all of it
                if theirs.get(one.seq, {}).get("hash") != one.hash:
                    raise self._altered(one.seq, "is missing" if one.seq not in theirs else "")
                continue
            row = stored(one)
            row["body"] = hashlib.sha256(row["body"].encode("utf-8")).hexdigest()
            if theirs.get(one.seq) != _as_stored_there(row):
                raise self._altered(one.seq, "is missing" if one.seq not in theirs else "")
        self._send_signatures(after, min(upto, newest), signed)
        return upto if upto < newest else 0

    def _send(self, connection: Connection) -> Sent:
        take_turn(connection, self._station)
        self._see_revision(connection)
        there = self._ours(self._newest(connection))
        entries, rows = self._next(there.seq)
        if not entries:
            return Sent(0, there)
        follow(self._station, there, entries)
        connection.execute(insert(ENTRY), rows)
        draw_all(connection, self._station, [as_was(one) for one in entries])
        last = entries[-1]
        signed = self._own.ask(lambda it: _signatures(it, self._station, there.seq, last.seq))
        if signed:
            connection.execute(insert(SIGNATURE), signed)
        return Sent(len(entries), Tail(last.seq, last.hash))

    def _next(self, after: int) -> tuple[list[Entry], list[Row]]:
        entries, rows, size = list[Entry](), list[Row](), 0
        for one in self._own.entries(after=after, limit=MOST):
            row = _stub(one) if is_away(one) else stored(one)
            size += len(row["body"])
            if rows and size > MOST_BYTES:
                break
            entries.append(one)
            rows.append(row)
        return entries, rows

    def _newest(self, connection: Connection) -> Row | None:
        wanted = select(*_ROW).where(ENTRY.c.station == self._station)
        row = connection.execute(wanted.order_by(ENTRY.c.seq.desc()).limit(1)).mappings().first()
        return None if row is None else dict(row)

    def _ours(self, newest: Row | None) -> Tail:
        """The tail there, once it is seen that it is ours."""
        if newest is None:
            return Tail()
        seq = int(newest["seq"])
        mine = list(self._own.entries(after=seq - 1, limit=1))
        if not mine:
            raise self._ahead(seq)
        if is_away(mine[0]) and mine[0].hash == newest["hash"]:
            return Tail(seq, mine[0].hash)
        row = stored(mine[0])
        if row["hash"] != newest["hash"]:
            raise self._forked(seq)
        if newest != _as_stored_there(row):
            raise self._altered(seq)
        return Tail(seq, row["hash"])

    def _see_revision(self, connection: Connection) -> None:
        """A newer weighd may have changed the tables since they were first looked at."""
        noted = connection.scalars(select(VERSION.c.version_num)).first()
        if noted != schema.REVISIONS[-1]:
            raise fault("store-newer", self._where)

    def _send_signatures(self, after: int, upto: int, there: dict[int, Row]) -> None:
        mine = self._own.ask(lambda it: _signatures(it, self._station, after, upto))
        missing = [one for one in mine if one["seq"] not in there]
        for one in mine:
            if one["seq"] in there and there[one["seq"]] != one:
                raise self._altered(one["seq"], "has another signature")
        if missing:
            self._store.write(lambda it: it.execute(insert(SIGNATURE), missing))

    def _ahead(self, seq: int) -> JournalError:
        return JournalError(
            "shared-ahead",
            f'The shared store has entry {seq} of station "{self._station}", but this record '
            f"ends with entry {self._own.tail().seq}. Nothing is sent.",
            where=self._where,
            remedy="If this record was put back from an old copy, put back a newer one, or go on "
            "under a new name (station.name). If another station has this name, rename one.",
        )

    def _forked(self, seq: int) -> JournalError:
        return JournalError(
            "shared-forked",
            f'Entry {seq} of station "{self._station}" in the shared store is another than in '
            "this record. Nothing is sent.",
            where=self._where,
            remedy="If another station has this name, rename one of them (station.name). If this "
            "record was put back from an old copy, go on under a new name: both stay as they are.",
        )

    def _altered(self, seq: int, what: str = "") -> JournalError:
        return JournalError(
            "shared-altered",
            f'Entry {seq} of station "{self._station}" in the shared store '
            f"{what or 'was changed there'}: it is not as it was sent. Nothing more is sent.",
            where=self._where,
            remedy="Find out who writes there. This station's own record is whole; once the "
            f"station's rows from entry {seq} on are deleted there, they are sent again.",
        )


def _stub(entry: Entry) -> Row:
    """What stands for an entry that was put away, as a row: its hash is that of the whole entry,
    which a store that is new gets no more. Verification holds it to what put it away."""
    body = canonical_text(dict(entry.body))
    return row_of(entry, body, entry.body.get("batch"), entry.body.get("key") or None)


def _signatures(connection: Connection, station: str, after: int, upto: int) -> list[Row]:
    here = (SIGNATURE.c.station == station, SIGNATURE.c.seq > after, SIGNATURE.c.seq <= upto)
    rows: Sequence[Any] = connection.execute(select(SIGNATURE).where(*here)).mappings().all()
    return [dict(one) for one in rows]


def _as_stored_there(row: Row) -> Row:
    """A row as PostgreSQL holds it (``postgres``, 4)."""
    return {
        key: without_nul(value) if isinstance(value, str) else value for key, value in row.items()
    }
