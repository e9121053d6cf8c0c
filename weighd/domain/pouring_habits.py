"""What is known of a cook and an ingredient on one scale, and what was believed before."""

from __future__ import annotations

import math

from weighd.domain.pouring_learned import Belief, Learned, Prior

#: Seconds from a cue to the end of what the display will show of it: the reaction of a cook
#: (about a quarter of a second), a closing hand, the fall, and the scale's filter. Common
#: practice, no source.
LEAD = Prior(mean=0.65, spread=0.20, noise=0.09, low=0.1, high=2.0)
#: Share of the full flow that is left after ``slow``.
THROTTLE = Prior(mean=0.35, spread=0.15, noise=0.08, low=0.05, high=1.0)
#: The chance that ``slow`` is heeded.
HEEDS = Prior(mean=0.8, spread=0.3, noise=0.3, low=0.02, high=0.98)
#: Logarithms: by how many seconds of flow gulps move the display; the full flow in g/s.
GULPS = Prior(mean=math.log(0.035), spread=0.5, noise=0.3, low=-4.2, high=-1.4)
FLOW = Prior(mean=3.0, spread=1.5, noise=0.3, low=-5.0, high=8.0)


class Habits:
    """Looked up for the cook and ingredient of the present pour (:meth:`of`)."""

    def __init__(self) -> None:
        self._lead, self._throttle, self._heeds = Learned(LEAD), Learned(THROTTLE), Learned(HEEDS)
        self._gulps, self._flow = Learned(GULPS), Learned(FLOW)
        self._all = (self._lead, self._throttle, self._heeds, self._gulps, self._flow)
        self._cook = self._ingredient = ""
        self._look()

    def of(self, cook: str, ingredient: str) -> None:
        """Whose habits are asked for from now on."""
        self._cook, self._ingredient = cook, ingredient
        self._look()

    def forget(self) -> None:
        """Everything."""
        for one in self._all:
            one.forget()
        self._look()

    def _look(self) -> None:
        cook, ingredient = self._cook, self._ingredient
        #: Seconds from a cue to the end of what is displayed of it.
        self.lead: Belief = self._lead.belief(cook, ingredient)
        #: Standard uncertainty of the next lead, in seconds.
        self.late = math.hypot(self.lead.known, self.lead.noise)
        #: Share of the flow that ``slow`` leaves, and the chance that it is heeded.
        self.throttle: Belief = self._throttle.belief(cook, ingredient)
        self.heeds = self._heeds.belief(cook, "").mean
        #: Seconds of flow by which gulps move the display.
        self.gulp = math.exp(self._gulps.belief(cook, ingredient).mean)
        flow = self._flow.belief(cook, ingredient)
        #: The full flow in g/s of this cook with this ingredient; 0 while unknown.
        self.flow = math.exp(flow.mean) if flow.pours > 0 else 0.0

    # --- what a pour taught -----------------------------------------------------------------------

    def took(self, lead_s: float, weight: float) -> None:
        """A stop took this lead; ``weight`` up to 1."""
        self._lead.saw(self._cook, self._ingredient, lead_s, weight)
        self._look()

    def throttled(self, share: float, weight: float) -> None:
        """``slow`` left this share of the flow; ``weight`` up to 1."""
        self._throttle.saw(self._cook, self._ingredient, share, weight)
        self._look()

    def heeded(self, chance: float) -> None:
        """``slow`` was heeded, as likely as this."""
        self._heeds.saw(self._cook, "", chance)
        self._look()

    def flowed(self, g_s: float, gulp_s: float) -> None:
        """The full flow, and how it gurgled."""
        self._flow.saw(self._cook, self._ingredient, math.log(g_s))
        self._gulps.saw(self._cook, self._ingredient, math.log(gulp_s))
        self._look()
