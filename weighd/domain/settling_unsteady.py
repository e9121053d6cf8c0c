"""An unsteady display that never rests: noise, a shaking bench, or a hand on the pan.

Nothing was put on and the display keeps trembling about one place: the bench shakes, and the
spread is learned. Something was put on and trembles much more than this scale is known to: a
hand or a spoon rests on it. Looked at a few times a second, over a bounded stretch.
"""

from __future__ import annotations

from weighd.domain.settling_learned import Learning, unsteady
from weighd.domain.settling_run import Run

#: How often, and over how many seconds: before anything was at rest, later, and to find calm.
LOOK_S = 0.25
FIRST_S = 1.0
AGAIN_S = 2.0
CALM_S = 1.6
FEWEST = 6
#: A spread above this is looked at for calm.
WIDE_D = 1.2
#: A calm stretch has no more than this share of the known spread.
CALMER = 0.6
#: A spread up to so many times the known one, and so many intervals, may be noise of the scale.
KNOWN_TIMES, KNOWN_D = 3.0, 2.0


class Unsteady:
    """Looks at the newest displays of a load that is not at rest."""

    def __init__(self) -> None:
        self._look_at = self._calm_at = -1e9
        self._why, self._until = "", -1e9

    def why(self, t: float) -> str:
        """What disturbs the display; empty when nothing is known to."""
        return self._why if t < self._until else ""

    def calm(self, t: float, run: Run, scale: Learning) -> None:
        """See whether the display is steadier than was learned, if it is time."""
        if scale.raw > WIDE_D and t >= self._calm_at:
            self._calm_at = t + LOOK_S
            values = run.shown(t, CALM_S)
            if len(values) >= FEWEST and max(values) - min(values) < CALMER * scale.raw:
                scale.calmed(values)

    def look(
        self, t: float, run: Run, scale: Learning, last: float | None, *, stopped: bool
    ) -> None:
        """Look at the display, if it is time.

        ``last``     where the load last rested, in intervals; ``None`` if it never did.
        ``stopped``  whether that was firm.
        """
        if t >= self._look_at and run.count * scale.period < 0.7 * FIRST_S:
            self._look_at = t + LOOK_S
            self._look(t, run, scale, last, stopped=stopped)

    def _look(
        self, t: float, run: Run, scale: Learning, last: float | None, *, stopped: bool
    ) -> None:
        seconds = max(FIRST_S if last is None else AGAIN_S, (FEWEST + 1) * scale.period)
        if t - run.rows[0][0] < seconds:
            return
        values = run.shown(t, seconds)
        spread = unsteady(values) if len(values) >= FEWEST else None
        if spread is None:
            return
        if last is None:
            scale.shaken(values)
            return
        moved = sum(values) / len(values) - last
        known = spread <= KNOWN_TIMES * scale.raw + KNOWN_D
        there = abs(moved) <= 0.2 * spread + 0.5
        if known or (there and stopped):
            scale.shaken(values)
        if there:
            self._why, self._until = "shaking", t + 2 * LOOK_S
        elif moved > 0 and not known:
            self._why, self._until = "touch", t + 2 * LOOK_S
