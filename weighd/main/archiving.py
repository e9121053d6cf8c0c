"""Old batches put away into an archive, and a record verified together with its archives.

The order is what keeps the record whole: the archive is written, on the disk, read back and
verified; then one transaction has stubs stand in the place of the entries, with the entry that
says so; then the room is given back. Whatever breaks in between leaves everything, or an archive
too much.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from weighd import __version__
from weighd.clock import SystemClock
from weighd.config import Config, load
from weighd.domain.away import PUT_AWAY, digest_of, is_away, put_away, stub_of
from weighd.domain.days import plus_days
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.lots import LotBook
from weighd.domain.record import Body, Entry, seal
from weighd.domain.signing import Signature, Signer, short
from weighd.domain.verify import Report, export, verify_export
from weighd.main.drivers import reread
from weighd.main.files import database_of
from weighd.main.proving import Readable, Verified, verify_file, verify_journal
from weighd.station.check_history import of_batch
from weighd.station.lot_history import lots_in
from weighd.storage.address import Place
from weighd.storage.archive_file import Archive, read_archive, write_archive
from weighd.storage.copies import digest
from weighd.storage.journal import SqlJournal, open_read_only
from weighd.storage.keys import KEY_FILE, made, read_public_key, read_station_key
from weighd.storage.putting_away import Old, give_back_room, over_before, put_in_place
from weighd.storage.sqlite import SqliteStore

#: An archive holds no more batches than this: it is read into memory to be verified.
MOST = 500

#: Called at each step by its name: a test stops there.
Step = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Plan:
    """What would go: ``batches`` oldest first; ``kept`` why others of that age stay, by batch."""

    before: str
    batches: Sequence[Old]
    kept: Mapping[str, str]

    @property
    def size(self) -> int:
        """Bytes of what would go."""
        return sum(one.size for one in self.batches)


@dataclass(frozen=True, slots=True)
class Done:
    """What was put away, where, and by how many bytes the record is smaller."""

    plan: Plan
    archive: Path
    sha256: str
    freed: int


def plan_archive(config: Path | None, before: str) -> Plan:
    """What would be put away: batches over, with nothing recorded of them since the day ``before``.

    ``before``  a day (UTC); empty to take the age that is configured.
    Raises :class:`OperatorError`, ``bad-day``, and :class:`JournalError`.
    """
    settings = load(config)
    day, upto = _day(settings, before), _sent(config, settings)
    journal = open_read_only(database_of(config), settings.station.name)
    try:
        return plan_of(journal, day, upto)
    finally:
        journal.close()


def archive(
    config: Path | None,
    before: str,
    out: Path,
    by: str,
    reason: str,
    step: Step = lambda _name: None,
) -> Done:
    """Put old batches away into ``out``. No station may run.

    Raises :class:`OperatorError`, :class:`JournalError` and :class:`RecordError`; the record is
    then as it was, or, where only the room could not be given back, all is put away.
    """
    by, reason = by.strip(), reason.strip()
    for text, name in ((by, "--by"), (reason, "--reason")):
        if not text:
            raise OperatorError("bad-value", "Say who puts it away, and why.", where=name)
    settings, path = load(config), database_of(config)
    day, upto = _day(settings, before), _sent(config, settings)
    key = read_station_key(path.with_name(KEY_FILE))
    at = SystemClock().utc()
    store = SqliteStore(path)
    try:
        journal = SqlJournal(store, settings.station.name)
        plan = plan_of(journal, day, upto)
        if not plan.batches:
            raise OperatorError(
                "nothing-old", f"No batch can be put away that was over before {day}.", where=day
            )
        verify_journal(journal, (), ())  # nothing that does not hold is put away
        step("verified")
        said = Said(by, reason, at, day)
        body, stubs = put_into(journal, key, [one.id for one in plan.batches], out, said, step)
        body = journal.wall().stamped(at, body)
        entry = seal(journal.station, PUT_AWAY, at, body, journal.tail())
        step("before the change")
        put_in_place(store, journal.station, entry, stubs)
        step("put away")
    finally:
        store.close()
    freed = give_back_room(path)
    step("room given back")
    return Done(plan, out, str(body["sha256"]), freed)


@dataclass(frozen=True, slots=True)
class Said:
    """Who puts batches away and why, when, and those of before which day."""

    by: str
    reason: str
    at: str
    before: str


def put_into(
    journal: SqlJournal,
    key: Signer,
    batches: Sequence[str],
    out: Path,
    said: Said,
    step: Step = lambda _name: None,
) -> tuple[Body, list[Entry]]:
    """Write batches into an archive and verify it; the body of the entry that says so, and the
    stubs that then stand in their place. Nothing is taken out.

    Raises :class:`JournalError` and :class:`RecordError`.
    """
    about = {"station": journal.station, "at": said.at, "before": said.before}
    about |= {"by": said.by, "reason": said.reason}
    whole = {one: list(journal.batch(one)) for one in batches}
    entries = sorted((it for each in whole.values() for it in each), key=lambda it: it.seq)
    checks = {it.hash: it for each in whole.values() for it in of_batch(journal, each)}
    signatures = [(name, it) for name in whole for _, it in journal.signatures(name)]
    write_archive(out, key, about, entries, checks.values(), signatures)
    step("archive written")
    found = read_archive(out, made)
    verify_archive(found)
    if found.entries != whole:
        raise RecordError("hash-mismatch", "The archive reads otherwise.", where=str(out))
    step("archive verified")
    stubs = {name: [stub_of(it, out.name) for it in each] for name, each in whole.items()}
    digests = {name: digest_of(each) for name, each in stubs.items()}
    body = put_away(out.name, digest(out), digests, said.by, said.reason, __version__)
    return body, sorted((it for each in stubs.values() for it in each), key=lambda it: it.seq)


def verify_archive(found: Archive, trusted: Sequence[str] = ()) -> Report:
    """Whether each batch in an archive holds by itself. Raises :class:`RecordError`."""
    if trusted and found.key not in trusted:
        raise RecordError(
            "wrong-key",
            f"The archive is signed by key {short(found.key)}, which is not one that is trusted.",
        )
    total = Report()
    for name in found.entries:
        document = _document(found, name)
        keys = trusted if "signatures" in document else ()
        total = total.and_also(verify_export(document, reread, made, keys))
    return total


def batch_in(path: Path, batch: str) -> dict[str, Any]:
    """A batch out of an archive, as any batch is exported. Raises :class:`RecordError`."""
    found = read_archive(path, made)
    if batch not in found.entries:
        raise RecordError("unknown-batch", f"Batch {batch} is not in it.", where=str(path))
    return _document(found, batch)


def _document(found: Archive, batch: str) -> dict[str, Any]:
    entries = found.entries[batch]
    checks = [one for one in found.checks.values() if _named(one, entries)]
    return export(found.station, batch, entries, checks, found.signatures.get(batch, ()))


class WithArchives:
    """A journal whose stubs are the entries that they stand for, as far as archives have them."""

    def __init__(self, journal: Readable, archives: Iterable[Archive]) -> None:
        self._journal = journal
        self._whole: dict[int, Entry] = {}
        for one in archives:
            self._whole.update(one.by_number())

    def entries(self) -> Iterator[Entry]:
        """Every entry in order. Raises :class:`RecordError` where an archive has another than the
        one that was put away."""
        for one in self._journal.entries():
            yield self._put_back(one)

    def batch(self, batch: str) -> Sequence[Entry]:
        """The entries of a batch."""
        return [self._put_back(one) for one in self._journal.batch(batch)]

    def signatures(self) -> Iterable[tuple[int, Signature]]:
        """What the station signed."""
        return self._journal.signatures()

    def _put_back(self, stub: Entry) -> Entry:
        found = self._whole.get(stub.seq) if is_away(stub) else None
        if found is None:
            return stub
        if stub_of(found, str(stub.body.get("archive"))) != stub:
            raise RecordError(
                "not-in-journal",
                "The archive has another entry than the one that was put away here.",
                where=f"entry {stub.seq}",
            )
        return found


def verify_with(
    place: Place, keys: Sequence[str], heads: Sequence[Path], paths: Sequence[Path]
) -> Verified:
    """Verify a database together with archives of it, as if nothing had been put away.

    Raises :class:`RecordError`, ``not-in-journal`` for an archive that was not put away there.
    """
    trusted = [read_public_key(one) for one in keys]
    archives = [(path, read_archive(path, made)) for path in paths]
    for path, one in archives:
        if trusted and one.key not in trusted:
            raise RecordError(
                "wrong-key",
                f"The archive is signed by key {short(one.key)}, which is not one that is trusted.",
                where=str(path),
            )

    def put_back(station: str, journal: Readable) -> Readable:
        return WithArchives(journal, (one for _, one in archives if one.station == station))

    found = verify_file(place, keys, heads, with_archives=put_back)
    for path, _ in archives:
        if digest(path) not in found.report.archives.values():
            raise RecordError(
                "not-in-journal",
                "No entry of the record says that anything was put away in this archive.",
                where=str(path),
            )
    return found


def verify_archive_file(
    path: Path, keys: Sequence[str] = (), heads: Sequence[Path] = ()
) -> Verified:
    """Verify an archive by itself. Raises :class:`RecordError`, ``not-in-journal`` for a head: it
    is of a journal, of which an archive has only some entries."""
    if heads:
        raise RecordError(
            "not-in-journal",
            "An archive by itself cannot be held against a head.",
            where=str(path),
            remedy="Verify the database that it was taken out of, with --archive and --head.",
        )
    found = read_archive(path, made)
    return Verified(verify_archive(found, [read_public_key(one) for one in keys]))


def is_archive(path: Path) -> bool:
    """Whether a file may be an archive: it is compressed, as no other record is."""
    try:
        with path.open("rb") as stream:
            return stream.read(2) == b"\x1f\x8b"
    except OSError:
        return False


def plan_of(journal: SqlJournal, before: str, upto: int | None) -> Plan:
    """What would go of a journal.

    ``upto``  the newest entry that a shared store has; ``None`` where there is no such store.
    """
    book, out, kept = LotBook(lots_in(journal)), list[Old](), dict[str, str]()
    in_stock = {
        name: one.code
        for one in book
        if one.left_g > 0 and not one.used_up
        for name in (one.goods.made_in, one.code)
        if name
    }
    for one in over_before(journal, f"{before}T00:00:00.000Z"):
        if one.id in in_stock:
            kept[one.id] = f"what it made is in stock, as {in_stock[one.id]}"
        elif upto is not None and one.seq > upto:
            kept[one.id] = "the shared store does not have all of it yet"
        elif len(out) == MOST:
            kept[one.id] = f"an archive holds {MOST} batches; ask again for the rest"
        else:
            out.append(one)
    return Plan(before, out, kept)


def _day(settings: Config, before: str) -> str:
    """The day before which a batch has to be over."""
    today = SystemClock().utc()[:10]
    days = settings.retention.batches_days
    if not before and days is None:
        raise OperatorError(
            "bad-day",
            "Nothing says how old a batch has to be.",
            where="--before",
            remedy="Name a day, like --before 2025-01-01, or set [retention] batches_days.",
        )
    try:
        day = before or plus_days(today, -int(days or 0))
        plus_days(day, 1)
    except ValueError:
        raise OperatorError(
            "bad-day", f'"{before}" is no day.', where="--before", remedy="Like 2025-01-01."
        ) from None
    if day > today:
        raise OperatorError("bad-day", "That day is still to come.", where="--before")
    return day


def _sent(config: Path | None, settings: Config) -> int | None:
    """The newest entry that the shared store has. Raises :class:`JournalError` where it cannot be
    asked: what it lacks must not be put away."""
    if not settings.shared.store:
        return None
    from weighd.main.sharing import status

    return status(config, None).there.seq


def _named(check: Entry, entries: Sequence[Entry]) -> bool:
    """Whether a check is one that these entries rest on, or the next of a scale of theirs."""
    scales: Any = {name for one in entries if "scales" in one.body for name in one.body["scales"]}
    return check.body.get("scale") in scales
