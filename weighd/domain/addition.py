"""The words of a weighing: phases, sights, commands, and what a rule looks at and decides."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain.batch import Batch, Kind, Planned, Scale, Tare
from weighd.domain.errors import OperatorError
from weighd.domain.metrology import Budget, Level, Verdict, root_sum
from weighd.domain.recovery import Change
from weighd.domain.settling import Finding
from weighd.domain.vessels import Vessel
from weighd.domain.zero import Jump, Stood, nothing_g


class Phase(StrEnum):
    """Where the current addition stands. ``accepted`` is never current: the next one is."""

    AWAITING = "awaiting vessel"
    READY = "ready"
    POURING = "pouring"
    SETTLING = "settling"
    JUDGED = "judged"
    HELD = "held"
    ACCEPTED = "accepted"


class Sight(StrEnum):
    """What a reading shows of the current addition, once its tare is known."""

    GONE = "gone"  # less than the tare: the vessel was lifted
    EMPTY = "empty"  # settled, nothing of this ingredient in yet
    RISING = "rising"  # growing
    MOVING = "moving"  # neither growing nor settled long enough
    AMOUNT = "amount"  # settled firmly on an amount
    UNUSABLE = "unusable"  # disturbed, over capacity, faulty
    ZERO_MOVED = "zero moved"  # its zero jumped with the load on


class Link(StrEnum):
    """What became of the scale's link."""

    LOST = "scale lost"
    SILENT = "scale silent"
    BACK = "scale back"


class Do(StrEnum):
    """What a person can ask for."""

    TARE = "tare"
    ACCEPT = "accept"
    TOP_UP = "top up"
    TAKE_OUT = "take out"
    RESUME = "resume"
    WEIGH_AGAIN = "weigh again"
    USE_SCALE = "use scale"
    PUT_RIGHT = "put right"
    ABANDON = "abandon"
    NAME_LOT = "name lot"
    NEXT_LOT = "next lot"


@dataclass(frozen=True, slots=True)
class Evidence:
    """The readings a claim rests on, as JSON values, and how to decode their bytes again."""

    decoder: Mapping[str, Any]
    readings: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True, slots=True)
class Seen:
    """A reading and what it means. ``gross_g`` is the display, ``None`` without a number.

    ``jump``      the scale's zero jumped, as far as nobody took note of it yet.
    ``jumping``   it may have; what the display means is not known before the next readings.
    ``evidence``  gives the readings that the present claim rests on.
    ``step_g``    what they step in, where the display is coarser than the scale's interval.
    ``first``     gives what the scale showed when the station was started, if next to nothing.
    ``nought``    gives what it showed when it last showed next to nothing.
    """

    at: str
    finding: Finding
    gross_g: Decimal | None
    jump: Jump | None = None
    jumping: bool = False
    evidence: Callable[[], Evidence] = lambda: Evidence({}, ())
    step_g: Decimal | None = None
    first: Callable[[], Stood | None] = lambda: None
    nought: Callable[[], Stood | None] = lambda: None


@dataclass(frozen=True, slots=True)
class LinkEvent:
    """The link of the current addition's scale changed. ``before``: what stood on it, if known."""

    at: str
    link: Link
    before: Stood | None = None
    scale: str = ""


@dataclass(frozen=True, slots=True)
class Order:
    """A command of a person, with the evidence standing when it came."""

    at: str
    do: Do
    by: str
    evidence: Evidence
    addition: int | None = None
    reason: str = ""
    lot: str = ""
    confirm: bool = False
    #: How the scale stands by its newest check, where it has to be checked.
    check: Mapping[str, Any] | None = None
    #: For a tare: the vessel that is said to stand there, and all that are known.
    vessel: Vessel | None = None
    vessels: tuple[Vessel, ...] = ()
    #: To weigh on instead.
    scale: Scale | None = None
    #: How a pour that went wrong is put right.
    change: Change | None = None
    #: Whoever asks may not accept what is not on target.
    on_target_only: bool = False


@dataclass(frozen=True, slots=True)
class Claim:
    """A firm amount: net in grams, what it is uncertain by, and the verdict on it.

    ``carried_g``  what its whole amount is uncertain by besides, in grams of the net (``shares``).
    """

    gross: Level
    net_g: Decimal
    budget: Budget
    verdict: Verdict
    carried_g: Decimal = Decimal(0)

    @property
    def u_g(self) -> Decimal:
        """Standard uncertainty of the net in grams, as the verdict counts it."""
        return root_sum(self.budget.u_g, self.carried_g)


#: A vessel that is set down crosses half of its weight within so many seconds; a pour does not.
SET_DOWN_S = 1.0
#: Of a vessel that was set down, one part in so many may still be on its way after a second.
LANDED = 20
#: Growths of a display that make a pour: a slow scale shows none of what is set down.
POURED_TIMES = 3
#: Between a vessel that is set down and a pour the display stands for longer than this, seconds.
PAUSE_S = 0.5


@dataclass(frozen=True, slots=True)
class Climb:
    """A display that rises from next to nothing, while a vessel is awaited.

    ``since``     monotonic seconds at which it last showed next to nothing.
    ``t``         of its newest growth, short of half the vessel; ``grams`` of it, ``times`` of all.
    ``flow_t``    of its newest growth beyond that, as long as it goes on without a pause;
                  ``flow_g`` of it.
    ``landed_g``  what it had come to within a second, or at its first growth beyond that half.
    """

    since: float
    t: float
    grams: Decimal = Decimal(0)
    times: int = 0
    flow_t: float = 0.0
    flow_g: Decimal = Decimal(0)
    landed_g: Decimal | None = None

    def risen(self, grams: Decimal, t: float, half_g: Decimal, interval_g: Decimal) -> Climb:
        """With another display; the same where it did not grow, or went on after a pause."""
        beyond = grams >= half_g
        flows = beyond and self.landed_g is not None
        last, last_t = (self.flow_g, self.flow_t) if flows else (self.grams, self.t)
        if grams <= last + 2 * interval_g:
            return self
        if not beyond:
            return replace(self, t=t, grams=grams, times=self.times + 1)
        if t - last_t > PAUSE_S:
            return self
        landed = self.landed_g
        if landed is None or t - self.since <= SET_DOWN_S:
            landed = grams
        return replace(self, flow_t=t, flow_g=grams, landed_g=landed)

    def poured(self, stood_g: Decimal) -> bool:
        """Whether it rose as by a pour: what is set down takes no longer than a second, and goes
        on only after a pause; so does what comes in a second to what stood there before."""
        if self.times >= POURED_TIMES and self.t - self.since > SET_DOWN_S:
            return True
        landed = self.landed_g
        if landed is None or self.flow_t - self.since <= SET_DOWN_S:
            return False
        on = self.flow_g - landed > self.flow_g / LANDED
        return on and landed < stood_g - stood_g / LANDED


@dataclass(frozen=True, slots=True)
class Now:
    """The fleeting half of an addition.

    ``gross_g``  the newest display in grams; ``None`` when it shows no number.
    ``level``    the display while it is settled firmly.
    ``claim``    the amount judged, while it stands.
    ``sum_g``    the amount last seen settled in this addition: what a lifted vessel holds.
    ``started``  wall time at which the pour began.
    ``why``      what disturbs the scale, if something does.
    """

    phase: Phase = Phase.AWAITING
    gross_g: Decimal | None = None
    level: Level | None = None
    claim: Claim | None = None
    sum_g: Decimal | None = None
    started: str | None = None
    why: str = ""
    #: An over-pour that somebody has said to take out of, while it still stands at this amount:
    #: it is not held a second time before anything was taken.
    taking_g: Decimal | None = None
    #: The link was lost or the station restarted: whether the scale kept its zero is not known.
    unsure: bool = False
    #: The station restarted, and what was in by then is known only as far as it was recorded.
    restarted: bool = False
    #: When the display last showed next to nothing, until it rose; and whether it then rose to
    #: half a vessel at once, as when that is set down.
    low_t: float | None = None
    set_down: bool = False
    #: From when on it rose, and how far it had come within a second of that.
    rose_t: float | None = None
    landed_g: Decimal | None = None
    #: The display showed less than nothing, so its zero is not that of the empty pan, until it
    #: stands at zero.
    sunk: bool = False
    #: With the vessel off, how what shows now came.
    climb: Climb | None = None
    #: Since a link came back the display was seen to show far less than what stood there.
    under: bool = False
    #: The vessel was off while nothing of this ingredient was in: what stands there now may be
    #: another one.
    swapped: bool = False
    #: Without a tare, the empty pan was seen to show less than nothing.
    below_zero: bool = False
    #: Grams a minute that a load settled for long gains (or loses, below zero); ``None`` for none.
    drift_g_min: Decimal | None = None

    def came_at_once(self, shown_g: Decimal) -> bool:
        """Whether what stands there came as a vessel that is set down does: all of it in a second,
        or nearly so. What flows on longer is poured, however quickly."""
        landed = self.landed_g
        return self.set_down and landed is not None and shown_g - landed <= shown_g / LANDED

    def emptied(self) -> Now:
        """It stands there with nothing in: whatever moved the scale before was no pour."""
        return replace(self, phase=Phase.READY, sum_g=None, started=None, swapped=False)


@dataclass(frozen=True, slots=True)
class Draft:
    """An entry to be made: its kind and body, still without its place in the batch."""

    kind: Kind
    body: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Move:
    """What a rule decided. ``refused`` goes to the person who asked, whatever else happened."""

    now: Now
    drafts: tuple[Draft, ...] = ()
    refused: OperatorError | None = None


Event = Seen | LinkEvent | Order
#: What a row of the table calls; the event is of the kind that the row is for.
Rule = Callable[["Bench", Any], Move]


@dataclass(frozen=True, slots=True)
class Bench:
    """The current addition in its batch: what every rule looks at."""

    batch: Batch
    now: Now
    planned: Planned
    scale: Scale
    tare: Tare | None
    sight: Sight | None = None

    @property
    def net_g(self) -> Decimal | None:
        """What the display says was added, in grams."""
        return None if self.now.gross_g is None else self.net_of(self.now.gross_g)

    def net_of(self, shown_g: Decimal) -> Decimal | None:
        """What a display says was added, in grams; ``None`` before there is a tare."""
        if self.tare is None:
            return None
        return self.planned.net_g(shown_g, self.tare.level.grams)

    @property
    def empty_g(self) -> Decimal:
        """What the empty pan shows, as far as is known."""
        return self.batch.shift.grams if self.batch.shift else Decimal(0)

    def is_gone(self, net_g: Decimal) -> bool:
        """Whether the vessel that was tared cannot be what stands there.

        Less than the tare: it is off. By difference that is what is waited for; there it is off
        when nothing stands on the pan, and another one if it is heavier than before.
        """
        if net_g < -max(5 * self.scale.interval_g, Decimal(1)):
            return True
        if not self.planned.by_difference or self.tare is None:
            return False
        shown = self.tare.level.grams - net_g
        return shown - self.empty_g <= nothing_g(self.scale.interval_g)

    def draft(self, kind: Kind, **body: Any) -> Draft:
        """A draft about this addition; terms become the plain strings that JSON has."""
        plain = {k: str(v) if isinstance(v, StrEnum) else v for k, v in body.items()}
        return Draft(kind, {"addition": self.planned.n, **plain})


def bench(batch: Batch, now: Now) -> Bench | None:
    """The current addition; ``None`` when the batch is over."""
    planned, scale = batch.current, batch.scale
    if planned is None or scale is None:
        return None
    return Bench(batch, now, planned, scale, batch.tare)


def poured_from(batch: Batch | None, scale: str) -> Decimal | None:
    """While a vessel on this scale is poured from: a display of up to so many grams is that of
    the empty pan. ``None`` otherwise."""
    planned = batch.current if batch else None
    if batch is None or planned is None or planned.scale != scale or batch.tare is None:
        return None
    if not planned.by_difference:
        return None
    shift = batch.shift.grams if batch.shift else Decimal(0)
    return shift + nothing_g(batch.scales[scale].interval_g)


def begin(batch: Batch, *, restarted: bool = False) -> Now:
    """How an addition starts: its vessel already tared by the one before, or awaited.

    ``restarted``: the journal was folded after a stop; the scale will show where things stand.
    """
    if batch.held is not None:
        return Now(Phase.HELD, unsure=restarted, restarted=restarted)
    if batch.tare is None:
        return Now(Phase.AWAITING)
    return Now(Phase.READY, unsure=restarted, restarted=restarted)
