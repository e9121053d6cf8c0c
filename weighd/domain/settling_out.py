"""What leaves the load: the detector, for a vessel that is poured out of while it stands there.

Pouring out makes the display fall as pouring in makes it rise, so a detector of its own is shown
the display upside down: the same laws of streams, drops and gaps then say when the flow has
stopped. While the vessel is off (it is lifted, poured from and set back) it is shown nothing, and
begins anew when something stands there again.

The scale's own detector goes on beside it: what the zero does, and what is learned of the scale,
comes from that one.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from weighd.domain.metrology import level
from weighd.domain.reading import Reading
from weighd.domain.settling import Settling
from weighd.domain.settling_finding import Finding
from weighd.domain.settling_learned import Learned
from weighd.domain.zero import JUMPS


class Leaving:
    """Watches one scale with interval ``interval_g`` (> 0) while a vessel on it is poured from."""

    def __init__(self, interval_g: Decimal, learned: Learned | None = None) -> None:
        self._settling = Settling(interval_g, learned)
        self._evidence: tuple[Reading, ...] = ()
        #: Whether nothing stands there: what rests then is the scale's own detector's to say.
        self.off = False

    def evidence(self) -> tuple[Reading, ...]:
        """The readings that the present claim rests on, oldest first; empty without a claim."""
        return self._evidence

    def feed(self, reading: Reading, finding: Finding, empty_g: Decimal) -> Finding:
        """Take one reading in; say what the load is doing, ``rising`` when more of it leaves.

        ``finding``  what the scale's own detector says of it.
        ``empty_g``  a display of no more than this is that of the empty pan.
        """
        self._evidence = ()
        if reading.grams is not None and reading.grams <= empty_g:
            if not self.off:
                self._settling.forget()
            self.off = True
            return replace(finding, rising=False)
        self.off = False
        shown = None if reading.grams is None else -reading.grams
        found = self._settling.feed(reading._replace(grams=shown))
        found = replace(found, shift_g=finding.shift_g, drift_g_s=-found.drift_g_s)
        if finding.why in JUMPS and found.why != finding.why:
            return replace(finding, level=None, firm=False, rising=False)
        if found.level is None:
            return found
        self._evidence = tuple(_upright(one) for one in self._settling.evidence())
        shows = [one.grams for one in self._evidence if one.grams is not None]
        return replace(found, level=level(shows, self._settling.interval_g))


def _upright(reading: Reading) -> Reading:
    assert reading.grams is not None
    return reading._replace(grams=-reading.grams)
