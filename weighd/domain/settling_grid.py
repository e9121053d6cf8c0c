"""The interval a display really steps in, when it is another than the scale's own.

A scale switched to ounces or pounds, or to its coarse range, steps in something else than the
interval it was configured with; grams then come converted.
"""

from __future__ import annotations

#: Steps that must agree before a coarser grid is believed of a display that keeps to its grid.
AGREE = 16
#: Wider than this, in intervals, no grid is believed.
WIDEST = 6.0
#: What another grid is taken for until more of it was seen.
UNSURE = 2.0
#: A display this far off the grid (in intervals) is on another.
OFF = 1e-4
#: Two steps have this much in common at least, or they are of two different grids.
FINEST = 0.4


class Grid:
    """The greatest common step of a display, in intervals of the scale."""

    def __init__(self) -> None:
        self._common = 0.0
        self._steps = 0
        self._other = False
        #: What the display steps in, in intervals; 1 as long as nothing else is known.
        self.step = 1.0

    def stepped(self, before: float, now: float) -> None:
        """The display went from ``before`` to ``now``, in intervals, and these differ."""
        if not self._other and abs(now - round(now)) > OFF:
            self._common, self._steps, self._other = 0.0, 0, True
            return
        a, b = abs(now - before), self._common
        if a < b:
            a, b = b, a
        while b > 1e-3:
            a, b = b, a % b
            if a - b < 1e-3:
                b = 0.0
        # Only steps seen since it was found speak for what is common to them.
        self._steps = self._steps + 1 if abs(a - self._common) < 1e-3 else 0
        self._common = a
        if self._other and a < FINEST:
            self._common, self._steps, self._other = 0.0, 0, False
        if self._common > WIDEST:
            self.step = UNSURE if self._other else 1.0
        elif self._other or self._steps >= AGREE:
            self.step = max(1.0, self._common)
        else:
            self.step = 1.0
