"""What the command line does with records: verify them, export them, sign heads of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Protocol

from weighd.domain.errors import RecordError
from weighd.domain.keeping import check_key_before
from weighd.domain.lot_verify import Others
from weighd.domain.record import Entry
from weighd.domain.short_head import read_short_head, short_head
from weighd.domain.signed import SignatureVerifier
from weighd.domain.signing import (
    Head,
    HeadCheck,
    Signature,
    check_head,
    prove,
    read_head,
    read_signature,
    root_of,
    short,
    signed_head,
)
from weighd.domain.verify import Report, Verifier, export, verify_export
from weighd.main.beside import Beside
from weighd.main.chain_check import check_chain
from weighd.main.drivers import reread
from weighd.main.files import database_of, read_document
from weighd.station.check_history import of_batch
from weighd.storage.address import Place, is_address, read_address, shown
from weighd.storage.journal import SqlJournal, open_journal, open_read_only, stations_in
from weighd.storage.keys import KEY_FILE, StationKey, made, read_public_key, read_station_key
from weighd.storage.stations import hash_of

LARGEST_HEAD = 64 * 1024


@dataclass(frozen=True, slots=True)
class Verified:
    """What was found, and of a database how each station's chain ends: its size and last hash."""

    report: Report
    ends: Sequence[tuple[str, int, str]] = ()


def verify_file(
    path: Place,
    keys: Sequence[str] = (),
    heads: Sequence[Path] = (),
    *,
    chain_only: bool = False,
    with_archives: WithArchives | None = None,
) -> Verified:
    """Verify an export or a database.

    ``keys``        public keys that are trusted, in hex or as names of PEM files;
    ``heads``       files with heads that were kept elsewhere; only a database is held against them.
    ``chain_only``  of a database, only that it is whole and unchanged (``chain_check``).
    Raises :class:`RecordError` naming the first entry that does not hold, and
    :class:`JournalError` for a key that is none.
    """
    trusted = [read_public_key(one) for one in keys]
    kept = [kept_head(one, trusted) for one in heads]
    if is_address(path):
        return _verify_database(path, trusted, kept, chain_only, with_archives)
    path = Path(path)
    if chain_only and path.is_dir():
        raise _no_database(path)
    try:
        with path.open("rb") as stream:
            start = stream.read(16)
    except OSError as error:
        raise RecordError(
            "unreadable-file", f"It cannot be read: {error.strerror or error}.", where=str(path)
        ) from error
    if start.startswith(b"SQLite format 3"):
        return _verify_database(path, trusted, kept, chain_only, with_archives)
    if chain_only:
        raise _no_database(path)
    document = read_document(path)
    report = verify_export(document, reread, made, trusted)
    for head in kept:
        if report.under != head:
            raise RecordError(
                "not-in-journal",
                "The record does not carry a proof that it belongs to that head.",
                where=shown(path),
                remedy="Export it with --proof while the journal stands at that head.",
            )
    return Verified(report)


def _no_database(path: Path) -> RecordError:
    return RecordError(
        "not-a-database",
        "Only a database has a chain to look at alone.",
        where=str(path),
        remedy="Verify this whole: leave out --chain.",
    )


def redraw(place: Place) -> int:
    """Draw the lists beside a record anew from its entries; how many batches there are.

    Raises :class:`JournalError`: among others ``store-in-use`` while the station runs; in a shared
    store its sender waits meanwhile.
    """
    from weighd.main.sending import open_shared

    total = 0
    for station in stations_in(place):
        journal = (
            SqlJournal(open_shared(read_address(str(place))), station)
            if is_address(place)
            else open_journal(Path(place), station)
        )
        try:
            total += journal.rebuild_batches()
        finally:
            journal.close()
    return total


def export_batch(database: Place, batch: str, *, proof: Head | None = None) -> dict[str, Any]:
    """A batch's record out of a database. Raises :class:`RecordError` when there is none.

    ``proof``  a head of this journal, under which the batch is shown to be.
    """
    with _journal(database, batch=batch) as journal:
        document = whole_document(journal, batch, shown(database))
        if proof is not None:
            document["proof"] = _proof(journal, document["entries"][-1]["seq"], proof)
    return document


def whole_document(journal: SqlJournal, batch: str, where: str) -> dict[str, Any]:
    """A batch's record with all that its verification needs; ``where`` is for errors.

    Raises :class:`RecordError`: ``unknown-batch``, ``put-away``.
    """
    entries = journal.batch(batch)
    if not entries:
        raise RecordError("unknown-batch", f"There is no batch {batch}.", where=where)
    signatures = [one for _, one in journal.signatures(batch)]
    return export(journal.station, batch, entries, of_batch(journal, entries), signatures)


def station_key_of(config: Path | None, database: Place | None = None) -> tuple[Path, StationKey]:
    """The key beside a database that is a file, else that of the configured station; where it is.

    Raises :class:`JournalError`.
    """
    path = database_of(config).with_name(KEY_FILE)
    if database is not None and not is_address(database):
        beside = Path(database).with_name(KEY_FILE)
        path = beside if beside.exists() else path
    return path, read_station_key(path)


def head_of(config: Path | None, database: Place | None = None) -> Head:
    """The head of the configured station's journal as it stands, signed now.

    Raises :class:`JournalError`, and :class:`RecordError` for an empty journal.
    """
    from weighd.clock import SystemClock

    _, key = station_key_of(config, database)
    with _journal(database or database_of(config)) as journal:
        size, root = root_of(journal.hashes(journal.tail().seq))
        if not size:
            raise RecordError("empty-record", "Nothing was recorded yet.")
        return signed_head(key, journal.station, size, root, SystemClock().utc())


def check_short(text: str, config: Path | None, database: Place | None = None) -> int:
    """Whether a journal still holds a head that was copied down; of how many entries it is.

    Raises :class:`OperatorError` for what is no short form, and :class:`RecordError`:
    ``cut-short``, ``rewritten``.
    """
    kept = read_short_head(text)
    with _journal(database or database_of(config)) as journal:
        size, root = root_of(journal.hashes(kept.entries))
        station = journal.station
    if size < kept.entries:
        raise RecordError(
            "cut-short",
            f"The head is of {kept.entries} entries, and the journal of {station} has {size}: the "
            "end is missing.",
            where=f"entry {size + 1}",
            remedy="If this is an older copy of the journal, that is why.",
        )
    if short_head(station, size, root) != kept:
        raise RecordError(
            "rewritten",
            f"The first {kept.entries} entries of {station} are not those of that head: the "
            "journal was written anew since, or the head is of another station.",
            where=f"entries 1 to {kept.entries}",
        )
    return size


def _proof(journal: SqlJournal, seq: int, head: Head) -> dict[str, Any]:
    hashes = list(journal.hashes(head.entries))
    if root_of(hashes) != (head.entries, head.root) or seq > head.entries:
        raise RecordError(
            "not-in-journal", "The journal does not stand as the head says.", where="proof"
        )
    return prove(hashes, seq, head).as_json()


def _verify_database(
    path: Place,
    trusted: Sequence[str],
    kept: Sequence[Head],
    chain_only: bool,
    with_archives: WithArchives | None,
) -> Verified:
    """Every station's chain in a database, one after the other."""
    total, ends, stations = Report(), list[tuple[str, int, str]](), stations_in(path)
    for head in kept:
        if head.station not in stations:
            raise RecordError(
                "other-station",
                f'The head is of station "{head.station}", which has no record here.',
                where=shown(path),
            )
    for station in stations:
        mine = [one for one in kept if one.station == station]
        if chain_only:
            report, last = check_chain(path, station, trusted, mine)
        else:
            with _journal(path, station) as journal:
                read = journal if with_archives is None else with_archives(station, journal)
                others = partial(_hash_of, journal) if len(stations) > 1 else None
                checks = [HeadCheck(one) for one in mine]
                report, last = verify_journal(read, trusted, checks, others)
        total = total.and_also(report)
        ends.append((station, report.entries, last))
    return Verified(total, ends)


def _hash_of(journal: SqlJournal, station: str, seq: int) -> str | None:
    """The hash of an entry of another station in the same database."""
    return journal.ask(lambda it: hash_of(it, station, seq))


#: A station's journal, with what was put away of it put back to be verified.
WithArchives = Callable[[str, "Readable"], "Readable"]


class Readable(Protocol):
    """A journal as far as a verification reads it."""

    def entries(self) -> Iterable[Entry]: ...

    def batch(self, batch: str, /) -> Sequence[Entry]: ...

    def signatures(self) -> Iterable[tuple[int, Signature]]: ...


def verify_journal(
    journal: Readable,
    trusted: Sequence[str],
    heads: Sequence[HeadCheck],
    others: Others | None = None,
) -> tuple[Report, str]:
    """One station's chain, its signatures and heads beside it, and what the database has beside the
    record; memory stays flat.

    ``others``  the hashes of other stations' entries: what was learned of them is held to them.
    """
    verifier = Verifier(whole=True, reread=reread, recall=journal.batch, others=others)
    signing, coming = SignatureVerifier(made, trusted, whole=True), _Coming(journal)
    last, seq, key = "", 0, ""
    beside = Beside(journal) if isinstance(journal, SqlJournal) else None
    for entry in journal.entries() if beside is None else beside.entries():
        verifier.take(entry)
        those = coming.upto(entry.seq)
        check_key_before(entry, key)
        key = those[-1].key if those else key
        if "batch" in entry.body:
            signing.take(entry, those, over=verifier.is_over(entry.body["batch"]))
        elif those:
            raise RecordError(
                "sealed-anew",
                "A batch was signed as ending with this entry, which is of no batch.",
                where=f"entry {entry.seq}",
            )
        for head in heads:
            head.take(entry)
        last, seq = entry.hash, entry.seq
    signing.finish(coming.left(), seq)
    for head in heads:
        head.finish()
    report = verifier.finish()
    report.signed, report.unsigned = signing.counted, signing.unsigned
    if beside is not None:
        beside.check()
    return report, last


class _Coming:
    """The signatures of a journal, as its entries come by."""

    def __init__(self, journal: Readable) -> None:
        self._rows = iter(journal.signatures())
        self._next = next(self._rows, None)

    def upto(self, seq: int) -> list[Signature]:
        """Those that end with entry ``seq``, or before it where there is no entry."""
        out = []
        while self._next is not None and self._next[0] <= seq:
            at, one = self._next
            out.append(read_signature(one.as_json(), f"signature of entry {at}"))
            self._next = next(self._rows, None)
        return out

    def left(self) -> list[Signature]:
        """Those that end after the last entry."""
        return [] if self._next is None else [self._next[1]]


def kept_head(path: Path, trusted: Sequence[str]) -> Head:
    """A head out of a file. Raises :class:`RecordError` where it is none, or not to be trusted."""
    head = read_head(read_document(path, LARGEST_HEAD, "not-a-head"), str(path))
    check_head(head, made)
    if trusted and head.key not in trusted:
        raise RecordError(
            "wrong-key",
            f"The head is signed by key {short(head.key)}, which is not one that is trusted.",
            where=str(path),
        )
    return head


@contextmanager
def _journal(
    database: Place, station: str | None = None, *, batch: str = ""
) -> Iterator[SqlJournal]:
    journal = open_read_only(database, station, batch=batch)
    try:
        yield journal
    finally:
        journal.close()
