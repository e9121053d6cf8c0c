"""One scale as the station hears it: decoder, detector, link, and the newest reading."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass
from weighd.domain.accuracy import Accuracy
from weighd.domain.addition import Evidence
from weighd.domain.batch import Scale
from weighd.domain.check_routine import Routine
from weighd.domain.dry_ice_record import weighed_out
from weighd.domain.mass import Unit
from weighd.domain.metrology import Level
from weighd.domain.reading import Reading
from weighd.domain.settling import Finding, Phase, Settling
from weighd.domain.settling_learned import Learned
from weighd.domain.settling_out import Leaving
from weighd.domain.sublimation import LossWatch
from weighd.domain.zero import Stood, nothing_g
from weighd.station.known import Known
from weighd.station.ports import Decoder
from weighd.station.zero_watch import ZeroWatch

#: A scale that says nothing for this long is told to be silent.
SILENT_AFTER_S = 2.0
#: One that sends, but in so long nothing that is a weight, is told to be not understood; working
#: out how it writes takes a few reports, and fewer bytes are a disturbance.
UNREAD_S, UNREAD_BYTES = 6.0, 8
NOT_UNDERSTOOD = (
    "It sends, but nothing that is understood as a weight. For a scale on a serial line, weighd"
    " scales --learn works out baud rate, parity and wire shape."
)
#: A scale still shows weights up to this many intervals above Max (OIML R 76-1, 4.2.3, from
#: memory); above that a weight is an overload whether or not the scale says so.
OVER_MAX_INTERVALS = 9
#: So many readings are kept with their bytes, to be looked at.
NEWEST = 8
#: No claim of the detector rests on more readings than this.
CLAIM_MOST = 64


class LinkState(StrEnum):
    """Whether a scale can be heard."""

    WAITING = "waiting"
    LIVE = "live"
    SILENT = "silent"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class Setup:
    """A scale as configured. ``interval_g`` and ``max_g`` may be told by the scale itself."""

    name: str
    driver: str
    decoder: Decoder
    interval_g: Decimal | None = None
    max_g: Decimal | None = None
    min_g: Decimal | None = None
    accuracy: Accuracy = field(default_factory=Accuracy)
    silent_after_s: float = SILENT_AFTER_S
    #: What was learned of it before.
    known: Known | None = None
    #: How it is checked with weights, where it is.
    check: Routine | None = None


class ScaleState:
    """What is known of one scale; fed by the station, asked by the picture."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.name = setup.name
        self.max_g = setup.max_g
        self.interval_g = setup.interval_g
        self.link = LinkState.WAITING
        self.why = ""
        self.what = ""
        self.reading: Reading | None = None
        #: The newest readings, for whoever wants to see what the scale sends.
        self.newest: deque[Reading] = deque(maxlen=NEWEST)
        self.finding: Finding | None = None
        self.readings = 0
        self.heard_at: float | None = None
        #: Bytes since the newest reading, and since when they have come.
        self._unread = 0
        self._unread_at: float | None = None
        self.zero = ZeroWatch(self._evidence)
        #: What it stood at when it was last seen empty and near zero, on its present zero.
        self.empty: Level | None = None
        self._shift_g = Decimal(0)
        #: The unit of the reading before, where this one came in another.
        self.unit_before: Unit | None = None
        self._unit: Unit | None = None
        #: Readings for which a coarser one may still be among those of a claim.
        self._coarse = 0
        #: Since when it was learned, and what was; neither before it is begun.
        self.since = ""
        self._known = setup.known
        self._settling: Settling | None = None
        #: How fast what stands on it wastes away; told to whoever asks, decides nothing.
        self.losses: LossWatch | None = None
        #: While a vessel on it is poured from.
        self._leaving: Leaving | None = None
        if setup.interval_g is not None:
            self._detect(setup.interval_g)

    @property
    def silent_at(self) -> float | None:
        """The moment at which the scale becomes silent if no reading comes."""
        if self.link is LinkState.LIVE and self.heard_at is not None:
            return self.heard_at + self.setup.silent_after_s
        if self.link is LinkState.WAITING and self._unread_at is not None:
            return self._unread_at + max(UNREAD_S, self.setup.silent_after_s)
        return None

    @property
    def why_silent(self) -> str:
        """Why it is silent, where that can be told: it sends, but no weights."""
        return NOT_UNDERSTOOD if self._unread >= UNREAD_BYTES else ""

    @property
    def noise_g(self) -> float:
        """Standard deviation of its display at rest, as learned, in grams; 0 while unknown."""
        return 0.0 if self._settling is None else self._settling.noise_g

    def feed(self, t: float, data: bytes) -> Sequence[Reading]:
        """Readings completed by ``data``, with loads above capacity told as such."""
        readings = [self._within(reading) for reading in self.setup.decoder.feed(t, data)]
        if not readings:
            self._unread += len(data)
            self._unread_at = t if self._unread_at is None else self._unread_at
        return readings

    def take(self, reading: Reading, empty_g: Decimal | None = None) -> Finding:
        """Take one reading in; the link is live.

        ``empty_g``  while a vessel on it is poured from: a display of no more than this is that
                     of the empty pan. What is found is then of what leaves.
        """
        self._note_unit(reading)
        self.reading = reading
        self.newest.append(reading)
        self.readings += 1
        self.heard_at = reading.t
        self._unread, self._unread_at = 0, None
        self.link = LinkState.LIVE
        self.why = ""
        if self._settling is None:
            self._learn_interval(reading)
        if self._settling is None:
            # Not one number yet, so nothing to take an interval from.
            return Finding(reading.t, Phase.DISTURBED, why=reading.fault or "overload")
        self.finding = self._settling.feed(reading)
        if self.losses is not None:
            self.losses.feed(reading.t, reading.grams, reading)
        self.zero.take(reading, self.finding, self._settling.interval_g, self._room_g)
        self._note_empty(self.finding)
        if empty_g is None:
            self._leaving = None
            return self.finding
        if self._leaving is None:
            self._leaving = Leaving(self._settling.interval_g, self._settling.learned())
        return self._leaving.feed(reading, self.finding, empty_g)

    def found(self, what: str, facts: Mapping[str, str]) -> None:
        """The link is there; what the scale says of itself fills what was not configured."""
        self.what, self.why = what, ""
        self.link = LinkState.WAITING
        self._unread, self._unread_at = 0, None
        if self.setup.max_g is None and "max_g" in facts:
            self.max_g = mass.parse(facts["max_g"])
        if self.setup.interval_g is None and "interval_g" in facts:
            self._set_interval(mass.parse(facts["interval_g"]))

    def gone(self, link: LinkState, why: str) -> Stood | None:
        """Lost or silent: nothing that was shown counts as live any more. What stood on it."""
        self.link, self.why = link, why
        self.reading = self.finding = self._leaving = self.empty = None
        self.newest.clear()
        stood = None
        if self.losses is not None:
            self.losses.restart()
        if self._settling is not None:
            stood = self.zero.gone(self._settling.interval_g, self._room_g)
            self._settling.forget()
        if link is LinkState.LOST:
            self.heard_at = None
            self.setup.decoder.reset()
        return stood

    def known(self) -> Known | None:
        """What is known of it by now, to be stored; ``None`` while nothing was learned."""
        if self._settling is None or self.interval_g is None:
            return None
        learned = self._settling.learned()
        return None if learned == Learned() else Known(self.interval_g, learned, self.since)

    def forget(self) -> None:
        """Begin with it as if it had never been seen."""
        self._known = None
        if self._settling is not None:
            self._detect(self._settling.interval_g)

    def evidence(self) -> Evidence:
        """The readings the present claim rests on, and how to decode their bytes again."""
        kept = self._evidence(self._resting())
        return Evidence(kept["decoder"], tuple(kept["readings"]))

    def first(self) -> Stood | None:
        """What it showed when the station was started, if that was next to nothing."""
        return self.zero.first(self.interval_g or Decimal(1))

    def nought(self) -> Stood | None:
        """What it showed when it last showed next to nothing."""
        return self.zero.nought(self.interval_g or Decimal(1))

    @property
    def step_g(self) -> Decimal | None:
        """What the readings of the present claim step in, where that is more than the interval."""
        if not self._coarse:
            return None
        coarse = [one.step_g for one in self._resting() if one.is_coarser(self.interval_g)]
        return max((one for one in coarse if one is not None), default=None)

    def _resting(self) -> Sequence[Reading]:
        """The readings that the present claim rests on."""
        if self._leaving is not None and not self._leaving.off:
            return self._leaving.evidence()
        return self._settling.evidence() if self._settling else ()

    def _evidence(self, readings: Sequence[Reading]) -> dict[str, Any]:
        decoder = {"driver": self.setup.driver, **self.setup.decoder.spec}
        kept = [one.as_evidence(self.interval_g) for one in readings]
        return {"decoder": decoder, "readings": kept}

    def dry_ice(self, tare_g: Decimal) -> dict[str, Any]:
        """Dry ice that stands on it now, as a record keeps it. Raises :class:`OperatorError`."""
        readings = [] if self.losses is None else self.losses.evidence()
        points = [(round(one.t, 3), one.grams) for one in readings if one.grams is not None]
        interval = self.interval_g or Decimal(1)
        return weighed_out(self.name, interval, points, tare_g, self._evidence(readings))

    @property
    def nothing_g(self) -> Decimal:
        """A display of up to so many grams shows no vessel."""
        return nothing_g(self.interval_g or Decimal(0))

    def _note_empty(self, finding: Finding) -> None:
        if finding.shift_g != self._shift_g:
            self._shift_g, self.empty = finding.shift_g, None
        level = finding.level
        if level is not None and finding.firm and abs(level.grams) <= self.nothing_g:
            self.empty = level

    def _note_unit(self, reading: Reading) -> None:
        self.unit_before = None
        if reading.unit is not None:
            if self._unit is not None and reading.unit is not self._unit:
                self.unit_before = self._unit
            self._unit = reading.unit
        self._coarse = (
            CLAIM_MOST if reading.is_coarser(self.interval_g) else max(0, self._coarse - 1)
        )

    @property
    def _room_g(self) -> Decimal:
        """How far a load at rest may wander on the display, in grams."""
        assert self._settling is not None
        return max(Decimal("1.5") * self._settling.interval_g, Decimal(self._settling.spread_g))

    def as_scale(self) -> Scale | None:
        """The scale as a batch records it; ``None`` while its interval is not known."""
        if self.interval_g is None:
            return None
        return Scale(
            self.name,
            self.setup.driver,
            self.interval_g,
            self.max_g,
            self.setup.accuracy.on(self.interval_g),
            self.setup.min_g,
            self.setup.check.duty if self.setup.check else None,
        )

    def _within(self, reading: Reading) -> Reading:
        if reading.grams is None or self.max_g is None:
            return reading
        allowed = self.max_g + OVER_MAX_INTERVALS * (self.interval_g or Decimal(0))
        return reading if reading.grams <= allowed else reading._replace(grams=None, over=True)

    def _learn_interval(self, reading: Reading) -> None:
        """Without any word of it, the interval is taken to be the last digit displayed."""
        if reading.shown is None or reading.unit is None:
            return
        exponent = reading.shown.as_tuple().exponent
        if isinstance(exponent, int):
            self._set_interval(mass.to_grams(Decimal(1).scaleb(exponent), reading.unit))

    def _set_interval(self, interval_g: Decimal) -> None:
        if interval_g != self.interval_g:
            self.interval_g = interval_g
            self._detect(interval_g)

    def _detect(self, interval_g: Decimal) -> None:
        """Begin with a detector, knowing what is known of a scale with this interval."""
        known = self._known if self._known and self._known.interval_g == interval_g else None
        self.since = known.since if known else ""
        self._settling = Settling(interval_g, known.learned if known else None)
        self.losses = LossWatch(interval_g)
        self.zero.restart()
