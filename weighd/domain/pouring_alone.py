"""One pour guided on its own, without a formula: what ``weighd cue`` speaks.

It joins a watch, which says how much has come since the start, and a guide. Where the addition
starts from is the first display after the reset; should that one have been misread, the two after
it agree on another, and it is taken from them.
"""

from __future__ import annotations

from decimal import Decimal

from weighd.domain.metrology import Level, expected_budget
from weighd.domain.pouring import Aim, Guidance, Guide
from weighd.domain.reading import Reading
from weighd.domain.settling import Phase
from weighd.domain.watch import Watch

#: Displays this many intervals apart agree, and this many differ.
AGREE_D, DIFFER_D = 3, 20


class Alone:
    """Guides pours on one scale; ``begin`` is the next one. ``slow``: whether to say it."""

    def __init__(self, *, slow: bool = True) -> None:
        self.watch = Watch()
        self.guide = Guide(slow=slow)
        #: The first readings since the reset, until the start is sure; and the last before it.
        self._first: list[Reading] | None = None
        self._last: Decimal | None = None
        self._before: Decimal | None = None

    @property
    def interval_g(self) -> Decimal:
        """The interval of the scale, in grams."""
        return self.watch.interval_g

    def end(self) -> None:
        """The pour is over, and no other begins."""
        self.guide.end()

    def begin(self, aim: Aim, *, forget: bool = False) -> None:
        """The next pour, from what stands on the scale now."""
        self.watch.reset(aim.interval_g, forget=forget)
        self.guide.begin(aim, forget=forget)
        self._first, self._before = [], self._last

    def feed(self, reading: Reading) -> Guidance | None:
        """Take one reading in; ``None`` before there is anything to aim at."""
        if self.guide.aim is None:
            self.watch.feed(reading)
            return None
        if self._first is not None and reading.grams is not None:
            self._starts(reading, self._first)
        self._last = reading.grams if reading.grams is not None else self._last
        return self._take(reading)

    def _take(self, reading: Reading) -> Guidance:
        watched = self.watch.feed(reading)
        rest = None
        if watched.phase is Phase.SETTLED and watched.grams is not None and watched.sigma_g:
            rest = Level(watched.grams, watched.sigma_g)
        elif watched.phase is Phase.EMPTY:
            rest = Level(Decimal(0), expected_budget(self.watch.interval_g).u_g)
        return self.guide.feed(
            reading.t,
            watched.net_g,
            rest,
            noise_g=self.watch.noise_g,
            over=reading.over,
        )

    def _starts(self, reading: Reading, first: list[Reading]) -> None:
        """With the third display: was the first one misread?"""
        first.append(reading)
        if len(first) < 3:
            return
        self._first = None
        alone, one, other = (row.grams for row in first)
        assert alone is not None
        assert one is not None
        assert other is not None
        d, aim = self.watch.interval_g, self.guide.aim
        if abs(one - other) > AGREE_D * d or abs(alone - one) <= DIFFER_D * d:
            return
        before = self._before
        as_before = before is not None and abs(before - one) <= AGREE_D * d
        if aim is None or not (alone > one or alone < -AGREE_D * d or as_before):
            return  # it grew: something was put in at once
        self.watch.reset(d)
        self.guide.begin(aim)
        self._take(first[1])
