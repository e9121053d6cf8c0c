"""The ports of a station: what it needs of the outside, and what drivers give it.

Drivers see this module, ``weighd.domain.reading``, ``mass`` and ``errors``; nothing else.
A driver is found through the entry-point group ``weighd.drivers``; the entry point names an
object that satisfies :class:`Driver`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple, Protocol, runtime_checkable

from weighd.domain.kinds import Status
from weighd.domain.reading import Reading

if TYPE_CHECKING:
    from weighd.domain.lot_uses import Drawn, Use
    from weighd.domain.record import Entry, Tail
    from weighd.domain.signing import Signature

# --- what a scale sends up -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Bytes:
    """Bytes as they came, at ``t`` seconds of the station's clock."""

    t: float
    data: bytes


@dataclass(frozen=True, slots=True)
class Lost:
    """The link to the scale went away; ``why`` in a cook's words."""

    t: float
    why: str


@dataclass(frozen=True, slots=True)
class Found:
    """The link is there (again); ``what`` says what answered, ``facts`` what it told of itself.

    ``facts`` may hold ``max_g`` and ``interval_g`` as decimal strings where the device says them.
    """

    t: float
    what: str
    facts: Mapping[str, str] = field(default_factory=dict)


Signal = Bytes | Lost | Found
Deliver = Callable[[Signal], None]
Now = Callable[[], float]


class Decoder(Protocol):
    """Bytes of one scale in, readings out: sans-I/O, deterministic, bounded.

    However a stream is cut into chunks, the readings are the same but for ``t``. What does not
    fit the shape is counted in ``rejected`` and kept in ``last_rejected`` (bounded), never
    guessed at; ``feed`` raises nothing for bad bytes.
    """

    #: Name and parameters that make this decoder again: ``{"shape": "status-digits-unit"}``.
    #: JSON values only; it goes into the record as evidence.
    spec: Mapping[str, object]
    rejected: int
    last_rejected: bytes

    def feed(self, t: float, data: bytes) -> Sequence[Reading]:
        """Readings completed by ``data``, oldest first."""

    def reset(self) -> None:
        """Forget half a report: the link was lost or bytes were skipped."""


#: What stands in a report, and from which byte to which: a ``status``, the ``number``, its ``sign``
#: apart from it, the ``unit``, a ``check`` character.
Mark = tuple[str, int, int]


@runtime_checkable
class Marking(Protocol):
    """A decoder that can tell what stands where in a report; it need not be able to."""

    def marks(self, raw: bytes) -> Sequence[Mark]:
        """What stands where in the bytes of a reading, in their order; empty where it is not
        known."""


class Source(Protocol):
    """A source of timed bytes. Runs in a thread of its own and survives an unplugged device."""

    def run(self, deliver: Deliver, stop: threading.Event, now: Now) -> None:
        """Deliver signals until ``stop`` is set; then release the device and return.

        ``now`` is the station's clock in seconds. An unplugged device is a :class:`Lost`
        signal and is looked for again (:class:`Found`), never an exception. Raises
        :class:`~weighd.domain.errors.ScaleError` only for what waiting cannot mend
        (settings that no device accepts).
        """


@dataclass(frozen=True, slots=True)
class Discovered:
    """Something that is plugged in and may be a scale.

    ``settings`` is what to write under ``[scales.NAME]`` to use it.
    """

    driver: str
    where: str
    what: str
    settings: Mapping[str, object]


@runtime_checkable
class Driver(Protocol):
    """How to reach one kind of scale. ``settings`` is the ``[scales.NAME]`` table less the keys
    that every scale has (``driver``, ``max_g``, ``interval_g``, what is stated of its errors).

    ``check`` returns the settings with defaults filled in, or raises ``ValueError`` (pydantic's
    ``ValidationError`` is one) naming the key. The other calls take what ``check`` returned.
    """

    name: str

    def check(self, settings: Mapping[str, object]) -> Mapping[str, object]: ...

    def source(self, settings: Mapping[str, object]) -> Source: ...

    def decoder(self, settings: Mapping[str, object]) -> Decoder: ...

    def redecoder(self, spec: Mapping[str, object]) -> Decoder:
        """The decoder that ``Decoder.spec`` describes: reads evidence again.

        Raises ``KeyError`` where ``spec`` is not of this driver.
        """

    def discover(self) -> Iterable[Discovered]: ...


# --- what a station needs --------------------------------------------------------------------


#: Where words that somebody types are looked for in a batch: codes, and what people wrote.
CODES, WRITTEN = ("id", "formula", "opened"), ("name", "operator")
#: What a batch is once all of it was weighed.
ALL_WEIGHED = (Status.IN_PROCESS.value, Status.CLOSED.value)


@dataclass(frozen=True, slots=True)
class BatchRow:
    """One line of the list of batches; masses are decimal strings in grams."""

    id: str
    formula: str
    name: str
    batch_g: str
    operator: str
    opened: str
    closed: str | None
    status: str
    additions: int
    accepted: int


@dataclass(frozen=True, slots=True)
class Opening:
    """A batch, when and by whom it was opened, and the revision of its formula; that is empty where
    the batch was put away, whose record is in an archive."""

    batch: str
    at: str
    by: str
    revision: str


class Tally(NamedTuple):
    """Entries counted up to one: kind, what was said of it (verdict or outcome; may be empty), its
    scale (may be empty), and how many."""

    upto: int
    rows: Sequence[tuple[str, str, str, int]]


class Journal(Protocol):
    """The append-only record of one station. One writer.

    ``append`` is atomic and durable: when it returns, the entries survive a power cut; when it
    raises :class:`~weighd.domain.errors.JournalError`, none of them is there.
    """

    def tail(self) -> Tail:
        """Sequence number and hash of the newest entry; ``Tail(0, 64 zeros)`` when empty."""

    def append(self, entries: Sequence[Entry]) -> None: ...

    def batch(self, batch: str) -> Sequence[Entry]:
        """The entries of one batch, oldest first; empty when there is none."""

    def open_batch(self) -> Sequence[Entry]:
        """The entries of the batch that is still open; empty when none is."""

    def in_process(self) -> Sequence[Sequence[Entry]]:
        """The entries of each batch in process, the oldest first."""

    def batches(self, *, limit: int = 50, before: str | None = None) -> Sequence[BatchRow]:
        """Newest first; ``before`` is a batch id to go on from."""

    def find_batches(self, words: Sequence[str], limit: int) -> Sequence[BatchRow]:
        """Batches that have all these words in :data:`CODES` and :data:`WRITTEN`, newest first.

        ``words`` as :func:`~weighd.domain.spelling.plain` makes them; capitals and accents of what
        is searched do not count either.
        """

    def newest_of_formulas(self) -> Mapping[str, BatchRow]:
        """The newest batch of each formula that was all weighed, by the formula's id."""

    def lines_of(self, batches: Iterable[str]) -> Mapping[str, BatchRow]:
        """The lines of these batches by their ids, as far as there are such."""

    def openings(self, formula: str) -> Sequence[Opening]:
        """Which revision of a formula each of its batches was opened with, oldest first."""

    def count_batches(self) -> int: ...

    def tally(self, kinds: Collection[str]) -> Tally:
        """How many entries there are of these kinds, asked of the record at one moment."""

    def entry_for_key(self, key: str) -> Entry | None:
        """The entry that a command with this idempotency key made, if it made one."""

    def entries(
        self, *, after: int = 0, limit: int | None = None, kind: str | None = None
    ) -> Iterable[Entry]:
        """All entries in order of ``seq``, streamed; only those of a kind where one is given."""

    def checks(self, *, before: int | None = None) -> Iterable[Entry]:
        """The checks of scales, newest first, streamed; ``before`` is a ``seq`` to go on from."""

    def newest(self, kind: str, *, before: int | None = None) -> Iterable[Entry]:
        """The entries of a kind, newest first, streamed; ``before`` is a ``seq`` to go on from."""

    def lot_entries(self) -> Iterable[Entry]:
        """The entries of lots, oldest first, streamed: they are of no batch."""

    def drawn(self) -> Mapping[str, Drawn]:
        """What was drawn from each lot by now."""

    def uses_of_lots(self, lots: Sequence[str]) -> Sequence[Use]:
        """What went where from these lots, in the order of the record."""

    def uses_in_batches(self, batches: Sequence[str]) -> Sequence[Use]:
        """What went into these batches, in the order of the record."""

    def masses_of_batches(self, batches: Sequence[str]) -> Mapping[str, Decimal]:
        """Grams of all that was weighed into each of these batches."""

    def signatures(self, batch: str | None = None) -> Iterable[tuple[int, Signature]]:
        """What was signed, of one batch or of all, with the ``seq`` that each ends with."""

    def close(self) -> None: ...


class Clock(Protocol):
    """Time, injected. ``now`` is monotonic seconds from the station's start."""

    def now(self) -> float: ...

    def utc(self) -> str:
        """Wall time as RFC 3339 with milliseconds and ``Z``."""


class Audience(Protocol):
    """Whoever watches: told of every change after it is durable."""

    def changed(self) -> None: ...
