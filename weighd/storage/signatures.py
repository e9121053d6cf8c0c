"""Signatures of batches, in the database beside the record they are of."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import Connection, insert, inspect, select

from weighd.domain.errors import RecordError
from weighd.domain.record import Entry
from weighd.domain.signing import Signature, Signer, signed
from weighd.storage.learned import Store
from weighd.storage.prepared import Prepared, given
from weighd.storage.schema import ENTRY, SIGNATURE

#: Signatures, and hashes, that are read at a time: some hundred bytes each.
PAGE = 5_000

_ADD = Prepared(insert(SIGNATURE).values(given(SIGNATURE)))


def sign(connection: Connection, signer: Signer, entry: Entry) -> None:
    """Sign a batch as far as ``entry``, its newest."""
    values = {**signed(signer, entry).as_json(), "batch": entry.body["batch"]}
    _ADD(connection, station=entry.station, seq=entry.seq, **values)


def signatures(
    store: Store,
    station: str,
    batch: str | None = None,
    after: int = 0,
    upto: int | None = None,
) -> Iterator[tuple[int, Signature]]:
    """Signatures in the order of the entries that they end with, a page at a time.

    ``after``, ``upto``  only those that end with later entries than the one, none later than the
    other.
    """
    wanted = select(SIGNATURE).where(SIGNATURE.c.station == station)
    if upto is not None:
        wanted = wanted.where(SIGNATURE.c.seq <= upto)
    if batch is not None:
        wanted = wanted.where(SIGNATURE.c.batch == batch)
    wanted = wanted.order_by(SIGNATURE.c.seq)

    def ask(connection: Connection) -> list[tuple[int, Signature]]:
        if not inspect(connection).has_table(SIGNATURE.name):
            return []  # an older file, opened to be read
        rows = connection.execute(wanted.where(SIGNATURE.c.seq > after).limit(PAGE))
        return [(_number(it.seq), Signature(it.key, it.entries, it.head, it.value)) for it in rows]

    while page := store.read(ask):
        yield from page
        if len(page) < PAGE:
            return
        after = page[-1][0]


def _number(seq: object) -> int:
    if isinstance(seq, int):
        return seq
    raise RecordError(
        "unreadable-signature",
        "It is filed under no number of an entry.",
        where=f"signature of entry {seq!r}",
    )


def hashes(store: Store, station: str, upto: int, after: int = 0) -> Iterator[str]:
    """The hashes of a journal's entries beyond ``after``, up to ``upto``, a page at a time."""
    wanted = select(ENTRY.c.hash).where(ENTRY.c.station == station).order_by(ENTRY.c.seq)

    def ask(connection: Connection) -> list[str]:
        here = (ENTRY.c.seq > after, ENTRY.c.seq <= min(after + PAGE, upto))
        return list(connection.scalars(wanted.where(*here)))

    while page := store.read(ask):
        yield from page
        after += len(page)


def latest_key(store: Store, station: str) -> str | None:
    """The public key that signed last."""
    wanted = (
        select(SIGNATURE.c.key)
        .where(SIGNATURE.c.station == station)
        .order_by(SIGNATURE.c.seq.desc())
        .limit(1)
    )
    return store.read(lambda connection: connection.scalars(wanted).first())
