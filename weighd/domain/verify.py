"""Verifying a record: from its entries alone, without the database that made them.

What is checked, in this order, entry by entry, so that the first that does not hold is named:
its hash; its place in the chain; that it is an entry the batch could have at that point; and for
every weighing that the bytes kept as evidence decode to the grams recorded, the grams give the
levels, and the levels, what is stated of the scale, the limits and the rule give the net, each
component of its uncertainty, the guard band and the verdict. A weighing without a budget is of the
time before budgets were kept, and is held to what was done then (``metrology_before``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Protocol

from weighd.domain import mass
from weighd.domain import metrology_before as before
from weighd.domain.batch import Batch, Kind, Planned, Scale, Status, Tare
from weighd.domain.errors import RecordError
from weighd.domain.fold import evolve, opened
from weighd.domain.metrology import (
    Budget,
    Level,
    acceptance,
    base_below,
    half_hours,
    judge,
    level,
    net_budget,
)
from weighd.domain.moments import seconds_between
from weighd.domain.reading import Reading
from weighd.domain.record import NOTHING_BEFORE, Entry, entry_hash
from weighd.domain.settling import FEWEST

#: The version of the export that this module reads.
FORMAT = 1


class Rereader(Protocol):
    """Something that decodes the bytes of one reading again."""

    def feed(self, t: float, data: bytes) -> Sequence[Reading]: ...


#: Makes a fresh decoder from the spec kept as evidence; ``KeyError`` where none is known.
Reread = Callable[[Mapping[str, Any]], Rereader]


@dataclass(slots=True)
class Report:
    """What a verification found. ``unread``: decoders that are not installed here."""

    entries: int = 0
    batches: int = 0
    open_batches: int = 0
    weighings: int = 0
    unread: set[str] = field(default_factory=set)

    def and_also(self, other: Report) -> Report:
        """Both together."""
        return Report(
            self.entries + other.entries,
            self.batches + other.batches,
            self.open_batches + other.open_batches,
            self.weighings + other.weighings,
            self.unread | other.unread,
        )


class Verifier:
    """Takes the entries of one journal, or of one batch's export, oldest first.

    ``whole``   the entries are a whole journal: every number and every link must be there.
                Otherwise they are one batch's, and its own links bind them.
    ``reread``  decodes evidence again; without it the grams are taken as recorded.
    """

    def __init__(self, *, whole: bool, reread: Reread | None = None) -> None:
        self.report = Report()
        self._whole = whole
        self._reread = reread
        self._last: Entry | None = None
        self._batches: dict[str, Batch] = {}
        # Of a batch that is over only its name is needed: memory stays flat but for that.
        self._over: set[str] = set()

    def take(self, entry: Entry) -> None:
        """Check one more entry. Raises :class:`RecordError` naming it when it does not hold."""
        where = f"entry {entry.seq}"
        try:
            computed = entry_hash(
                entry.seq, entry.station, entry.kind, entry.at, entry.body, entry.prev
            )
        except (ValueError, TypeError, RecursionError) as error:
            raise RecordError(
                "not-canonical", f"This cannot be hashed: {error}.", where=where
            ) from error
        if computed != entry.hash:
            raise RecordError(
                "hash-mismatch",
                "The content does not give the hash it carries: it was changed after it was "
                "written.",
                where=where,
            )
        self._link(entry, where)
        self._fold(entry, where)
        self._last = entry
        self.report.entries += 1

    def finish(self) -> Report:
        """What was found, once all entries were taken."""
        self.report.open_batches = sum(one.status is Status.OPEN for one in self._batches.values())
        return self.report

    def _link(self, entry: Entry, where: str) -> None:
        last = self._last
        if last is not None and entry.station != last.station:
            raise RecordError("other-station", "It is of another station.", where=where)
        expected = last.seq + 1 if last else 1
        if self._whole and entry.seq != expected:
            raise RecordError("entry-missing", f"Entry {expected} should come here.", where=where)
        if last is not None and entry.seq <= last.seq:
            raise RecordError("out-of-order", "The entries are out of order.", where=where)
        if last is None and entry.seq != 1:
            return
        before = last.hash if last else NOTHING_BEFORE
        if entry.seq == expected and entry.prev != before:
            raise RecordError(
                "chain-broken", "It does not follow from the entry before it.", where=where
            )

    def _fold(self, entry: Entry, where: str) -> None:
        name = entry.body.get("batch")
        if not isinstance(name, str):
            raise RecordError("unreadable-entry", "It names no batch.", where=where)
        if name in self._over:
            raise RecordError("after-the-end", f"Batch {name} was over.", where=where)
        if not self._whole and (self._batches or self._over) and name not in self._batches:
            raise RecordError("other-batch", f"It is of batch {name}.", where=where)
        batch = self._batches.get(name)
        n, after = (batch.n, batch.after) if batch else (0, NOTHING_BEFORE)
        if entry.body.get("n") != n + 1 or entry.body.get("after") != after:
            raise RecordError(
                "batch-chain-broken",
                f"It is not the entry that follows number {n} of batch {name}: "
                "one is missing or was put in.",
                where=where,
            )
        if batch is None:
            self._batches[name] = opened(entry)
            self.report.batches += 1
            return
        try:
            self._evidence(batch, entry)
        except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
            raise RecordError(
                "unreadable-entry", f"It is not as such an entry should be: {error!r}.", where=where
            ) from error
        batch = evolve(batch, entry)
        self._batches[name] = batch
        if batch.status is not Status.OPEN:
            del self._batches[name]
            self._over.add(name)

    def _evidence(self, batch: Batch, entry: Entry) -> None:
        body = entry.body
        if batch.budgets and "budget" not in body and _weighs(entry):
            raise self._differs(entry, "budget", "missing", "what the uncertainty is made of")
        if entry.kind == Kind.TARED:
            self._base(entry, self._level(batch, body, body["evidence"], "readings"))
        elif entry.kind == Kind.RESUMED and "tare_g" in body:
            shown = self._level(batch, body, body["evidence"], "readings")
            assert batch.tare is not None
            total, tare = mass.parse(body["sum_g"]), batch.tare.level
            if "budget" in body:
                self._base(entry, base_below(shown, total, tare))
            else:
                u = before.net_uncertainty(shown, tare)
                self._base(entry, Level(shown.grams - total, u))
        elif entry.kind == Kind.ACCEPTED:
            self._accepted(batch, entry)
        elif entry.kind == Kind.CLOSED and batch.current is not None:
            raise RecordError(
                "closed-early",
                f"The batch is closed with {len(batch.accepted)} of {len(batch.additions)} "
                "additions accepted.",
                where=f"entry {entry.seq}",
            )

    def _accepted(self, batch: Batch, entry: Entry) -> None:
        body, planned, tare = entry.body, batch.current, batch.tare
        if planned is None or tare is None or body["addition"] != planned.n:
            raise RecordError(
                "not-current",
                f"Addition {body['addition']} was not the one being weighed.",
                where=f"entry {entry.seq}",
            )
        scale = batch.scales[planned.scale]
        for key, expected in (
            ("ingredient", planned.ingredient),
            ("scale", planned.scale),
            ("lot", batch.lots.get(planned.n, "")),
            ("rule", {"name": batch.rule.name, "k": mass.text(batch.rule.k)}),
        ):
            if body[key] != expected:
                raise self._differs(entry, key, body[key], expected)
        for key, grams in (
            ("target_g", planned.target_g),
            ("low_g", planned.low_g),
            ("high_g", planned.high_g),
            ("interval_g", scale.interval_g),
            ("repeatability_g", scale.accuracy.repeatability_g),
            ("tare_g", tare.level.grams),
            ("tare_u_g", tare.level.u_g),
        ):
            self._same(entry, key, grams)
        if tuple(body["evidence"]["tare"]) != tare.evidence:
            raise self._differs(entry, "evidence.tare", "other readings", "those of the tare")
        gross = self._level(batch, body, body["evidence"], "gross")
        net = gross.grams - tare.level.grams
        self._same(entry, "gross_g", gross.grams)
        self._same(entry, "gross_u_g", gross.u_g)
        self._same(entry, "net_g", net)
        self._same(entry, "deviation_g", net - planned.target_g)
        u = self._uncertainty(batch, entry, gross, tare, planned, scale)
        self._same(entry, "u_g", u)
        verdict = judge(net, u, planned.low_g, planned.high_g, batch.rule)
        if body["verdict"] != verdict:
            raise self._differs(entry, "verdict", body["verdict"], verdict)
        if verdict != "on target" and not body["reason"]:
            raise self._differs(entry, "reason", "none", "a reason, since it is not on target")
        self.report.weighings += 1

    def _uncertainty(
        self,
        batch: Batch,
        entry: Entry,
        gross: Level,
        tare: Tare,
        planned: Planned,
        scale: Scale,
    ) -> Decimal:
        """The uncertainty of a net in grams; its components and the guard band as recorded."""
        body = entry.body
        if "budget" not in body:
            return before.net_uncertainty(gross, tare.level, scale.accuracy.repeatability_g)
        periods = half_hours(seconds_between(tare.at, entry.at))
        budget = net_budget(gross, tare.level, scale.accuracy, periods)
        self._components(entry, "budget", budget)
        self._components(entry, "gross_budget", gross.budget)
        guard = batch.rule.guard(budget.u_g)
        low, high = acceptance(planned.low_g, planned.high_g, guard)
        self._same(entry, "guard_g", guard)
        self._same(entry, "accept_low_g", low)
        self._same(entry, "accept_high_g", high)
        return budget.u_g

    def _base(self, entry: Entry, base: Level) -> None:
        """What a tare is recorded to be."""
        self._same(entry, "tare_g", base.grams)
        self._same(entry, "u_g", base.u_g)
        if "budget" in entry.body:
            self._components(entry, "budget", base.budget)

    def _components(self, entry: Entry, key: str, budget: Budget) -> None:
        if dict(entry.body[key]) != budget.as_json():
            raise self._differs(entry, key, entry.body[key], budget.as_json())

    def _level(
        self, batch: Batch, body: Mapping[str, Any], evidence: Mapping[str, Any], key: str
    ) -> Level:
        readings = evidence[key]
        if len(readings) < FEWEST:
            raise RecordError(
                "too-little-evidence", f"{len(readings)} readings decide nothing.", where=key
            )
        displayed = [mass.parse(one["grams"]) for one in readings]
        self._read_again(evidence["decoder"], readings, displayed)
        how = level if "budget" in body else before.level
        return how(displayed, batch.scales[body["scale"]].interval_g)

    def _read_again(
        self,
        spec: Mapping[str, Any],
        readings: Iterable[Mapping[str, Any]],
        displayed: Sequence[Decimal],
    ) -> None:
        if self._reread is None:
            return
        for one, grams in zip(readings, displayed, strict=True):
            try:
                decoder = self._reread(spec)
            except KeyError:
                self.report.unread.add(str(spec.get("driver", "?")))
                return
            again = decoder.feed(one["t"], bytes.fromhex(one["raw"]))
            if len(again) != 1 or again[0].grams != grams:
                raise RecordError(
                    "evidence-differs",
                    f"The bytes {one['raw']} do not read as {mass.text(grams)} g.",
                    where=f"reading at {one['t']} s",
                )

    def _same(self, entry: Entry, key: str, expected: Decimal) -> None:
        if mass.parse(entry.body[key]) != expected:
            raise self._differs(entry, key, entry.body[key], mass.text(expected))

    def _differs(self, entry: Entry, key: str, found: object, expected: object) -> RecordError:
        return RecordError(
            "does-not-follow",
            f"{key} is {found}, where its evidence gives {expected}.",
            where=f"entry {entry.seq} ({entry.kind})",
        )


def _weighs(entry: Entry) -> bool:
    """Whether an entry rests on readings of its own."""
    return entry.kind in (Kind.TARED, Kind.ACCEPTED) or (
        entry.kind == Kind.RESUMED and "tare_g" in entry.body
    )


def export(station: str, batch: str, entries: Sequence[Entry]) -> dict[str, Any]:
    """A batch's record, complete on its own, as JSON values."""
    return {
        "weighd_record": FORMAT,
        "station": station,
        "batch": batch,
        "entries": [entry.as_json() for entry in entries],
    }


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
    return [_entry(row, n) for n, row in enumerate(rows, start=1)]


def _entry(row: Any, n: int) -> Entry:
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
