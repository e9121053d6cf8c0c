"""Whether a scale's zero moved with the load on it, and the readings that show it.

The detector says that it jumped under its key; here the readings before and after are put together,
so that they can be kept. Whether a scale that could not be heard for a while (off, asleep,
unplugged) came back at zero is seen here, from its first readings.

A jump is told once enough readings stand on the new zero. One that goes back to where it was
before that was none: a vessel lifted and set back. A key pressed in mid-pour, which the detector
takes for a part of that, is seen here too.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain.keyed_pouring import fell_to_zero, grows_on
from weighd.domain.reading import Reading, steps_of
from weighd.domain.settling import FEWEST, SILENT_S, Finding
from weighd.domain.zero import (
    FEWEST_AFTER,
    FEWEST_BEFORE,
    JUMPS,
    Jump,
    Stood,
    far_from_zero,
    lost_zero,
    near_zero,
    nothing_g,
    shown_level,
    too_little,
)

#: Readings that are looked back on, and that are kept of a display that stood.
RECENT, KEPT = 24, 12
#: A display that was not watched by the detector to its end stood if it did for so long, seconds.
STOOD_S = 0.5
#: A lift takes longer than this, seconds, and shows between two readings that are no further
#: apart.
LIFT_S = 0.15
#: A display that left its new zero is waited for so long, seconds: it may go back to the old one.
BACK_S = 0.8
#: What a moving display is known by: its readings of so many seconds.
MOVING_S = 0.5
#: Readings after a fall in mid-pour that tell a key from a lift.
AFTER_A_FALL = 3

#: Readings as evidence, with how to decode them again.
AsEvidence = Callable[[Sequence[Reading]], Mapping[str, Any]]


class ZeroWatch:
    """Watches one scale. ``jump`` is a jump that was seen, until :meth:`taken`."""

    def __init__(self, evidence: AsEvidence) -> None:
        self.jump: Jump | None = None
        self._evidence = evidence
        self._recent: deque[Reading] = deque(maxlen=RECENT)
        self._shift = Decimal(0)
        self._pending: _Pending | None = None
        #: What stood there when the scale went, while it is away and in its first readings.
        self._before: Stood | None = None
        self._woke: list[Reading] = []
        #: Or, until it is clear what that means, those that stand below zero.
        self._under: list[Reading] = []
        #: The first readings of all, as long as they show next to nothing.
        self._first: list[Reading] = []
        self._begins = True
        #: The newest readings that show next to nothing, and whether the display left that.
        self._nought: deque[Reading] = deque(maxlen=KEPT)
        self._left = True

    @property
    def jumping(self) -> bool:
        """Whether a jump is being watched that is not told yet."""
        return self._pending is not None or bool(self._woke or self._under)

    @property
    def still(self) -> bool:
        """Whether the display is on the zero that is known."""
        return self.jump is None and not self.jumping

    def first(self, interval_g: Decimal) -> Stood | None:
        """What the scale showed when it was first heard of, if that was next to nothing."""
        return self._zero_of(self._first, interval_g)

    def nought(self, interval_g: Decimal) -> Stood | None:
        """What the scale showed when it last showed next to nothing."""
        return self._zero_of(list(self._nought), interval_g)

    def _zero_of(self, readings: list[Reading], interval_g: Decimal) -> Stood | None:
        if len(readings) < FEWEST_AFTER:
            return None
        return self._as_stood(readings, interval_g, settled=True)

    def take(
        self, reading: Reading, finding: Finding, interval_g: Decimal, room_g: Decimal
    ) -> None:
        """A reading, and what the detector said of it.

        ``room_g``  how far a load at rest may wander on the display.
        """
        by = finding.shift_g - self._shift
        self._shift = finding.shift_g
        if reading.grams is None:
            return
        self._note_zero(reading, near_zero(reading.grams, interval_g))
        last = self._recent[-1].t if self._recent else reading.t
        if self._before is None and reading.t - last > SILENT_S:
            self._away(interval_g, room_g)
        if self._before is not None:
            self._wake(reading, reading.grams, interval_g, room_g)
        elif by:
            self._jumped(reading, finding, by, interval_g, room_g)
        elif self._pending is not None:
            self._pending.add(reading, reading.grams)
        elif fell_to_zero(self._recent, reading, interval_g, room_g):
            self._fell(reading, interval_g, room_g)
        self._recent.append(reading)
        if self._pending is not None and self._pending.done:
            self._settle(interval_g)

    def _note_zero(self, reading: Reading, near: bool) -> None:
        if self._begins:
            self._begins = len(self._first) < KEPT and near
            self._first += [reading] if self._begins else []
        if near:
            if self._left:
                self._nought.clear()
            self._nought.append(reading)
        self._left = not near

    def gone(self, interval_g: Decimal, room_g: Decimal) -> Stood | None:
        """The scale cannot be heard any more; what stood on it, if anything did."""
        self._away(interval_g, room_g)
        self._shift = Decimal(0)
        return self._before

    def _away(self, interval_g: Decimal, room_g: Decimal) -> None:
        if self.jump is not None:
            self._before, self.jump = self.jump.before, None  # nobody took note of it yet
        elif self._pending is not None:
            self._before = self._pending.jump.before
        elif self._before is None:
            self._before = self._stood(list(self._recent), interval_g, room_g, vouched=False)
        self._start_over()

    def restart(self) -> None:
        """The detector begins anew."""
        self._shift = Decimal(0)
        self._start_over()

    def _start_over(self) -> None:
        self._pending = None
        self._nought.clear()
        self._recent.clear()
        self._woke.clear()
        self._under.clear()

    def taken(self) -> None:
        """The jump was taken note of."""
        self.jump = None

    def _wake(self, reading: Reading, grams: Decimal, interval_g: Decimal, room_g: Decimal) -> None:
        """One of the first readings of a scale that is back."""
        assert self._before is not None
        before, nothing = self._before.level.grams, nothing_g(interval_g)
        if lost_zero(before, grams, interval_g):
            self._under.clear()
            self._woke.append(reading)
            if len(self._woke) < FEWEST:
                return
        elif len(self._woke) < FEWEST_AFTER and before > nothing and grams < -nothing:
            # Something was taken off a zero that is not the old one: what it shows with the load
            # on is still to come, unless it stays as it is.
            self._woke.clear()
            if self._under and abs((self._under[0].grams or Decimal(0)) - grams) > room_g:
                self._under.clear()
            self._under.append(reading)
            if len(self._under) < FEWEST:
                return
            self._woke, self._under = self._under, []
        elif grams >= 0 and too_little(before, grams, interval_g):
            # Poured into as it woke: little at first, then more, and still far from what stood.
            if not self._woke and not far_from_zero(grams, interval_g):
                self._woke.append(reading)
                return
            if self._woke and grams >= (self._woke[0].grams or Decimal(0)):
                self._woke.append(reading)
        if len(self._woke) >= FEWEST_AFTER:
            after = self._as_stood(self._woke, interval_g, settled=True)
            self.jump = Jump("asleep", self._before, after)
        self._before = None
        self._woke.clear()
        self._under.clear()

    def _jumped(
        self,
        reading: Reading,
        finding: Finding,
        by: Decimal,
        interval_g: Decimal,
        room_g: Decimal,
    ) -> None:
        rows = [*self._recent, reading]
        shown = [one.grams or Decimal(0) for one in rows]
        steps = [n for n in range(1, len(rows)) if abs(shown[n] - shown[n - 1]) >= abs(by) / 2]
        if not steps:
            return
        at = steps[-1]
        before = self._stood(rows[:at], interval_g, room_g, vouched=True)
        if before is not None:
            why = finding.why if finding.why in JUMPS else "tare key"
            sure = rows[at].t - rows[at - 1].t <= LIFT_S
            self._pending = _Pending(Jump(why, before, before, sure), rows[at:], interval_g, room_g)

    def _fell(self, reading: Reading, interval_g: Decimal, room_g: Decimal) -> None:
        """In mid-pour the display fell to zero: the next readings tell what that was."""
        rows = list(self._recent)
        late = [one for one in rows if rows[-1].t - one.t <= MOVING_S][-KEPT:]
        before = self._as_stood(max(late, rows[-FEWEST:], key=len), interval_g, settled=False)
        jump = Jump("tare key", before, before, sure=False, grows=False)
        self._pending = _InMidPour(jump, [reading], interval_g, room_g, rows)

    def _settle(self, interval_g: Decimal) -> None:
        pending, self._pending = self._pending, None
        assert pending is not None
        if pending.holds:
            after = self._as_stood(pending.after, interval_g, settled=True)
            self.jump = replace(pending.jump, after=after, grows=pending.grows)

    def _stood(
        self, rows: Sequence[Reading], interval_g: Decimal, room_g: Decimal, *, vouched: bool
    ) -> Stood | None:
        """What the display stood at in the end. ``vouched``: that it was at rest is known."""
        if not rows:
            return None
        last = rows[-1].grams or Decimal(0)
        stretch: list[Reading] = []
        for one in reversed(rows):
            if len(stretch) == KEPT or abs((one.grams or Decimal(0)) - last) > room_g:
                break
            stretch.insert(0, one)
        lasted = rows[-1].t - stretch[0].t
        if len(stretch) >= FEWEST_BEFORE and (vouched or lasted >= STOOD_S):
            return self._as_stood(stretch, interval_g, settled=True)
        return self._as_stood(rows[-FEWEST:], interval_g, settled=False)

    def _as_stood(self, rows: Sequence[Reading], interval_g: Decimal, *, settled: bool) -> Stood:
        shown = [one.grams for one in rows if one.grams is not None]
        kept = self._evidence(tuple(rows))
        steps = steps_of(interval_g, kept["readings"])
        return Stood(shown_level(shown, steps, settled=settled), settled, kept)


class _Pending:
    """A jump that is still watched."""

    def __init__(
        self,
        jump: Jump,
        after: Sequence[Reading],
        interval_g: Decimal,
        room_g: Decimal,
    ) -> None:
        #: Its ``after`` is still to come.
        self.jump = jump
        self.after = list(after)
        #: Whether it is decided, and whether it was a jump.
        self.done = len(self.after) >= FEWEST
        self.holds = True
        #: Of one in mid-pour: whether the display grew on.
        self.grows: bool | None = None
        self._at = after[0].grams or Decimal(0)
        self._d, self._room = interval_g, room_g
        self._left: float | None = None

    def add(self, reading: Reading, grams: Decimal) -> None:
        """The next reading."""
        if self._left is None and abs(grams - self._at) <= self._room:
            self.after.append(reading)
            self.done = len(self.after) >= FEWEST
            return
        if self._left is None:
            self._left = reading.t
        if abs(grams - self.jump.before.level.grams) <= 2 * self._d:
            self.done, self.holds = True, False
        elif reading.t - self._left > BACK_S:
            self.done = True
            self.holds = self.jump.why == "tare key" and len(self.after) >= FEWEST_AFTER


class _InMidPour(_Pending):
    """A fall in mid-pour that is still watched; ``poured`` are the readings before it."""

    def __init__(
        self,
        jump: Jump,
        after: Sequence[Reading],
        interval_g: Decimal,
        room_g: Decimal,
        poured: Sequence[Reading],
    ) -> None:
        super().__init__(jump, after, interval_g, room_g)
        self.grows = False
        self._poured, self._since = poured, list(after)

    def add(self, reading: Reading, grams: Decimal) -> None:
        """The next reading: below zero a vessel is being lifted; back where it was it was none."""
        self._since.append(reading)
        before = self.jump.before.level.grams
        if before < 0:  # poured from what stands there: all is upside down
            grams, before = -grams, -before
        if grams < -self._room or grams >= before - self._room:
            self.done, self.holds = True, False
            return
        if len(self._since) > AFTER_A_FALL:
            self.done = True
            self.grows = grows_on(self._poured, self._since, self._room)
            self.after = self._since[:FEWEST_AFTER]  # what comes later was poured in since
