"""Verifying a record: from its entries alone, without the database that made them.

What is checked, in this order, entry by entry, so that the first that does not hold is named:
its hash; its place in the chain; that it is an entry the batch could have at that point; and that
it follows from the readings it keeps (``rederive``; checks of a scale: ``check_verify``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from weighd.domain.away import PUT_AWAY, AwayVerifier, is_away, refuse_away
from weighd.domain.batch import Batch, Kind, Status
from weighd.domain.check_record import is_check
from weighd.domain.check_verify import CheckVerifier
from weighd.domain.clock_said import ClockVerifier
from weighd.domain.corrections import check_correction
from weighd.domain.countersigning import check_countersigned
from weighd.domain.errors import RecordError
from weighd.domain.fold import evolve, fold, opened
from weighd.domain.following import broken, changed, missing, of_another, readable
from weighd.domain.keeping import check_keeping, is_keeping
from weighd.domain.kinds import MAY_COME
from weighd.domain.lot_record import is_lot_entry
from weighd.domain.lot_verify import LotVerifier, Others
from weighd.domain.opening_verify import check_opening
from weighd.domain.record import NOTHING_BEFORE, Entry, entry_hash
from weighd.domain.rederive import Rederiver, Reread
from weighd.domain.signed import SignatureVerifier, signatures_of
from weighd.domain.signing import Check, Signature, check_proof, read_proof
from weighd.domain.verify_report import Report as Report  # noqa: PLC0414 - the same door
from weighd.domain.whose import check_names
from weighd.domain.yield_verify import check_yield

#: The version of the export that this module reads.
FORMAT = 1


#: The entries of a batch, oldest first.
Recall = Callable[[str], Iterable[Entry]]


class Verifier:
    """Takes the entries of one journal, or of one batch's export, oldest first.

    ``whole``   the entries are a whole journal: every number and every link must be there.
                Otherwise they are one batch's, and its own links bind them.
    ``reread``  decodes evidence again; without it the grams are taken as recorded.
    ``recall``  the entries of a batch by its name, to take one up again that was over; without it
                batches that are over are kept.
    ``others``  asks the journals of other stations for what was learned of them, where they are
                there.
    """

    def __init__(
        self,
        *,
        whole: bool,
        reread: Reread | None = None,
        recall: Recall | None = None,
        others: Others | None = None,
    ) -> None:
        self.report = Report()
        self._whole = whole
        self._evidence = Rederiver(reread)
        self._checks = CheckVerifier(self._evidence, whole=whole)
        self.away = AwayVerifier()
        self._clocks = ClockVerifier(whole=whole)
        self._lots = LotVerifier(
            lambda name: name in self._batches or name in self._over or name in self.away, others
        )
        self._last: Entry | None = None
        self._station = ""
        self._batches: dict[str, Batch] = {}
        # Of a batch that is over only its end is kept, so that memory stays flat but for that;
        # it is read again where something was recorded of it afterwards.
        self._over: dict[str, tuple[int, str]] = {}
        self._recall = recall

    def take(self, entry: Entry) -> None:
        """Check one more entry. Raises :class:`RecordError` naming it when it does not hold."""
        where = f"entry {entry.seq}"
        if is_away(entry) and self._whole:
            self._stub(entry, where)
            return
        self._hash(entry, where)
        self._link(entry, where)
        with readable(where):
            check_names(entry)
            self._clocks.take(entry)
        if is_check(entry) and self._whole:
            self._check(entry, where)
        elif is_lot_entry(entry) and self._whole:
            with readable(where):
                self._lots.entry(entry)
        elif is_keeping(entry) and self._whole:
            with readable(where):
                check_keeping(entry)
                if entry.kind == PUT_AWAY:
                    self.away.put_away(entry, {*self._batches, *self._over})
        else:
            self._fold(entry, where)
        if self._last is not None and entry.at < self._last.at:
            self.report.set_back += 1
        self._last = entry
        self.report.entries += 1

    def is_over(self, name: Any) -> bool:
        """Whether a batch was over with the newest entry of it that was taken."""
        batch = self._batches.get(name)
        if batch is None:
            return name in self._over or self.away.is_over(name)
        return batch.is_over

    def _stub(self, entry: Entry, where: str) -> None:
        """An entry that was put away: what stands for it follows, and draws from its lots."""
        self._link(entry, where)
        with readable(where):
            name = entry.body["batch"]
            was = self.away.stub(entry, known=name in self._batches or name in self._over)
            self._lots.away(was)
            self._clocks.take(entry)
        self._last = entry
        self.report.entries += 1

    def take_check(self, entry: Entry) -> None:
        """A check that a batch's export carries, before its entries. Raises as :meth:`take`."""
        where = f"entry {entry.seq}"
        self._hash(entry, where)
        if not is_check(entry):
            raise RecordError("not-a-check", "It is no check of a scale.", where=where)
        if self._station not in ("", entry.station):
            raise of_another(where)
        self._station = entry.station
        self._check(entry, where)

    def _check(self, entry: Entry, where: str) -> None:
        with readable(where):
            self._checks.check(entry)

    def _hash(self, entry: Entry, where: str) -> None:
        try:
            computed = entry_hash(
                entry.seq, entry.station, entry.kind, entry.at, entry.body, entry.prev
            )
        except (ValueError, TypeError, RecursionError) as error:
            raise RecordError(
                "not-canonical", f"This cannot be hashed: {error}.", where=where
            ) from error
        if computed != entry.hash:
            raise changed(where)

    def finish(self) -> Report:
        """What was found, once all entries were taken."""
        self._checks.finish()
        self.away.finish()
        self.report.away = self.away.batches
        self.report.archives = dict(self.away.archives)
        self.report.checks, self.report.flagged = self._checks.checks, self._checks.flagged
        self.report.doubted = self._checks.doubted
        self.report.lots = len(self._lots)
        self.report.clock_doubted = self._clocks.doubted
        self.report.weighings = self._evidence.weighings
        self.report.unread = self._evidence.unread
        self.report.steps = self._evidence.steps
        left = [one.status for one in self._batches.values()]
        self.report.open_batches = left.count(Status.OPEN)
        self.report.in_process = left.count(Status.IN_PROCESS)
        return self.report

    def _link(self, entry: Entry, where: str) -> None:
        last = self._last
        if self._station not in ("", entry.station):
            raise of_another(where)
        self._station = entry.station
        expected = last.seq + 1 if last else 1
        if self._whole and entry.seq != expected:
            raise missing(expected, where)
        if last is not None and entry.seq <= last.seq:
            raise RecordError("out-of-order", "The entries are out of order.", where=where)
        if last is None and entry.seq != 1:
            return
        before = last.hash if last else NOTHING_BEFORE
        if entry.seq == expected and entry.prev != before:
            raise broken(where)

    def _fold(self, entry: Entry, where: str) -> None:
        name = entry.body.get("batch")
        if not isinstance(name, str):
            raise RecordError("unreadable-entry", "It names no batch.", where=where)
        known = name in self._batches or name in self._over
        if not self._whole and (self._batches or self._over) and not known:
            raise RecordError("other-batch", f"It is of batch {name}.", where=where)
        batch = self._again(name, entry) if name in self._over else self._batches.get(name)
        n, after = (batch.n, batch.after) if batch else (0, NOTHING_BEFORE)
        if entry.body.get("n") != n + 1 or entry.body.get("after") != after:
            raise RecordError(
                "batch-chain-broken",
                f"It is not the entry that follows number {n} of batch {name}: "
                "one is missing or was put in.",
                where=where,
            )
        if batch is None:
            begun = opened(entry)
            with readable(where):
                check_opening(begun, entry)
            self._batches[name] = begun
            self.report.batches += 1
            return
        with readable(where):
            _may_come(batch, entry, where)
            self._evidence.check(batch, entry)
            if entry.kind == Kind.YIELD:
                check_yield(batch, entry, self._evidence)
            elif entry.kind == Kind.CORRECTED:
                check_correction(batch, entry)
            elif entry.kind == Kind.COUNTERSIGNED:
                check_countersigned(batch, entry)
                self.report.countersigned += 1
            self._checks.accepted(batch, entry)
            if self._whole:
                self._lots.of_batch(batch, entry)
        batch = evolve(batch, entry)
        self._batches[name] = batch
        if batch.is_over and self._recall is not None:
            del self._batches[name]
            self._over[name] = (batch.n, batch.after)

    def _again(self, name: str, entry: Entry) -> Batch:
        """A batch that was over, as it was when this entry came."""
        n, after = self._over[name]
        if self._recall is None or entry.kind not in MAY_COME[Status.CLOSED]:
            raise _after_the_end(name, f"entry {entry.seq}")
        batch = fold(one for one in self._recall(name) if one.seq < entry.seq)
        if batch is None or (batch.n, batch.after) != (n, after):
            raise RecordError("entry-missing", f"Batch {name} cannot be read again.")
        return batch


def _may_come(batch: Batch, entry: Entry, where: str) -> None:
    """Whether a batch that stands so may have such an entry."""
    if Kind(entry.kind) in MAY_COME[batch.status] or entry.kind == Kind.OPENED:
        return
    if batch.is_over:
        raise _after_the_end(batch.id, where)
    raise RecordError(
        "out-of-place",
        f"Batch {batch.id} was {batch.status}; it cannot have such an entry then.",
        where=where,
    )


def _after_the_end(name: str, where: str) -> RecordError:
    return RecordError("after-the-end", f"Batch {name} was over.", where=where)


def export(
    station: str,
    batch: str,
    entries: Sequence[Entry],
    checks: Sequence[Entry] = (),
    signatures: Sequence[Signature] = (),
) -> dict[str, Any]:
    """A batch's record, complete on its own, as JSON values.

    ``checks``  those of its scales that its acceptances name, and the next of each after them.
    Raises :class:`RecordError`, ``put-away``, where only stubs of it are there.
    """
    refuse_away(entries)
    return {
        "weighd_record": FORMAT,
        "station": station,
        "batch": batch,
        "entries": [entry.as_json() for entry in entries],
        **({"checks": [entry.as_json() for entry in checks]} if checks else {}),
        **({"signatures": [one.as_json() for one in signatures]} if signatures else {}),
    }


def verify_export(
    document: Any,
    reread: Reread | None,
    check: Check | None = None,
    trusted: Iterable[str] = (),
) -> Report:
    """Verify one batch's export. Raises :class:`RecordError` naming what does not hold.

    ``check``, ``trusted``  as for :class:`~weighd.domain.signed.SignatureVerifier`; without a
    check signatures are not looked at.
    """
    verifier = Verifier(whole=False, reread=reread)
    for entry in read_checks(document):
        verifier.take_check(entry)
    entries = read_export(document)
    if check is None:
        for entry in entries:
            verifier.take(entry)
        return verifier.finish()
    signing, signatures = SignatureVerifier(check, trusted, whole=False), signatures_of(document)
    for n, entry in enumerate(entries, start=1):
        verifier.take(entry)
        those = [one for one in signatures if one.entries == n]
        signing.take(entry, those, over=verifier.is_over(entry.body["batch"]))
    signing.finish([one for one in signatures if one.entries > len(entries)], len(entries))
    report = verifier.finish()
    report.signed, report.unsigned = signing.counted, signing.unsigned
    if "proof" in document:
        proof = read_proof(document["proof"], "proof")
        check_proof(proof, entries[-1], check)
        report.under = proof.head
    return report


def read_checks(document: Any) -> list[Entry]:
    """The checks that an export carries beside its entries. Raises :class:`RecordError`."""
    rows = document.get("checks", []) if isinstance(document, Mapping) else []
    if not isinstance(rows, list):
        raise RecordError("unreadable-entry", "The checks are not a list.")
    return [entry_of(row, n) for n, row in enumerate(rows, start=1)]


def read_export(document: Any) -> list[Entry]:
    """The entries of an export. Raises :class:`RecordError` when it is not one."""
    if not isinstance(document, Mapping) or document.get("weighd_record") != FORMAT:
        raise RecordError(
            "not-a-record",
            f'This is not an as-weighed record: "weighd_record": {FORMAT} is missing.',
        )
    rows = document.get("entries")
    if not isinstance(rows, list) or not rows:
        raise RecordError("empty-record", "The record holds no entries.")
    return [entry_of(row, n) for n, row in enumerate(rows, start=1)]


def entry_of(row: Any, n: int) -> Entry:
    """An entry as exports have it. Raises :class:`RecordError` naming row ``n``."""
    shapes = (
        ("seq", int),
        ("station", str),
        ("kind", str),
        ("at", str),
        ("body", dict),
        ("prev", str),
        ("hash", str),
    )
    if not isinstance(row, Mapping) or set(row) != {name for name, _ in shapes}:
        raise RecordError("unreadable-entry", "It is not an entry.", where=f"row {n}")
    for name, kind in shapes:
        if not isinstance(row[name], kind) or isinstance(row[name], bool):
            raise RecordError(
                "unreadable-entry", f"{name} is not of the right kind.", where=f"row {n}"
            )
    return Entry(**{name: row[name] for name, _ in shapes})
