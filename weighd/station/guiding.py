"""Guidance for the current addition: when to slow down and when to stop.

It only looks: no entry, no phase and no verdict depends on it. What was learned of cooks and
ingredients is kept per scale, bounded, for as long as the station runs, and never recorded.
"""

from __future__ import annotations

from weighd.domain.addition import Now, Phase
from weighd.domain.batch import Batch
from weighd.domain.metrology import Level, net_uncertainty
from weighd.domain.pouring import Aim, Cue, Guidance, Guide
from weighd.domain.reading import Reading
from weighd.domain.settling import Finding
from weighd.domain.settling import Phase as Load

#: Phases of an addition in which a pour may be under way.
_POURS = frozenset({Phase.READY, Phase.POURING, Phase.SETTLING, Phase.JUDGED})

#: By difference, a display that falls so fast for less than this, seconds, is a vessel on its way
#: off the scale, and no pour to be stopped.
LIFTS_S = 0.8


class Guiding:
    """A guide for each scale, and what is told of the addition last seen."""

    def __init__(self) -> None:
        self._guides: dict[str, Guide] = {}
        self._of: tuple[str, int] | None = None
        self._guidance: Guidance | None = None
        self._still_t = 0.0

    def told(self, batch: Batch, now: Now) -> Guidance | None:
        """What is told of the current addition; ``None`` when no pour can be under way."""
        current = batch.current
        if current is None or self._of != (batch.id, current.n) or now.phase not in _POURS:
            return None
        if now.phase is Phase.JUDGED and self._guidance and self._guidance.cue is Cue.STOP:
            return None  # at rest and judged: the verdict says what comes next
        return self._guidance

    def nothing(self) -> None:
        """Nothing can be told: the scale is gone."""
        self._guidance = None

    def saw(
        self, batch: Batch, now: Now, reading: Reading, finding: Finding, noise_g: float
    ) -> None:
        """A reading of the current addition's scale, after the station took it in."""
        self._guidance = None
        planned, scale, tare = batch.current, batch.scale, batch.tare
        if planned is None or scale is None or tare is None:
            return
        guide = self._guides.get(scale.name)
        if guide is None:  # not setdefault: one made for each reading costs more than it tells
            guide = self._guides[scale.name] = Guide()
        if self._of != (batch.id, planned.n):
            self._of = (batch.id, planned.n)
            guide.begin(
                Aim(
                    planned.target_g,
                    planned.low_g,
                    scale.interval_g,
                    planned.ingredient,
                    batch.operator,
                )
            )
        disturbed = finding.phase is Load.DISTURBED or reading.grams is None
        if planned.by_difference and now.phase is Phase.AWAITING:
            # Lifted to be poured from: nothing shows, and what lifting did was no pour.
            if guide.aim is not None:
                guide.drop()
                self._of = None
            return
        if now.phase not in _POURS or disturbed:
            return
        assert reading.grams is not None
        level = finding.level
        rest = None
        if level is not None:
            u = net_uncertainty(level, tare.level)
            rest = Level(planned.net_g(level.grams, tare.level.grams), u)
        net = planned.net_g(reading.grams, tare.level.grams)
        guidance = guide.feed(reading.t, net, rest, noise_g=noise_g, over=reading.over)
        if now.phase is not Phase.POURING or finding.level is not None:
            self._still_t = reading.t
        lifts = planned.by_difference and reading.t - self._still_t < LIFTS_S
        self._guidance = None if lifts and guidance.cue is Cue.STOP else guidance
