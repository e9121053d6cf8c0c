"""Is the display at rest, and is next to nothing still to come by the scale's filter?

If the display moved by ``c`` in the time before a run that the run itself has lasted, and by
``e`` within the run, then for any tail that falls off at least as fast as a geometric one the
rest is ``e² / (c - e)`` (Aitken's extrapolation). No filter needs to be known for this. A stream
also pushes on the load: when it ends the display peaks and falls back. A peak of that kind stays
within one interval for no longer than about ``sqrt(tau / rate)``, so a faster stream asks for a
longer look at slow scales.
"""

from __future__ import annotations

import math

from weighd.domain.settling_learned import Learning
from weighd.domain.settling_run import Run

#: Readings of a run that a rest needs; of a scale slower than ``SLOW_S`` a reading, two will do.
RUN_FEWEST = 3
SLOW_S = 0.3
#: What may still be to come by the filter, in intervals.
REST_D = 0.45
#: What rounding leaves unknown of a run's own movement, in intervals.
ROUNDING_D = 0.35
#: A rest this long, without drift, needs no such estimate.
LONG_REST_S = 0.9
LONG_REST_D = 1.2
#: A stream's push in grams is its rate times about this; a peak lasts so many sqrt(tau / rate).
PUSH_S = 0.25
PEAK = 2.0
#: The rate before a run is taken over this time.
RATE_S = 0.35
#: Unsteadier than this (intervals) a run must be as long as its median needs: a spread of s
#: intervals takes (0.7 s)² readings for a median known to about half an interval.
UNSTEADY_D = 1.5
MEDIAN = 0.7
MOST = 40
#: The end of a run rests alone if it lasts so many times as long as the rest of it.
SAME = 1.2


def rests(t: float, run: Run, scale: Learning, step: float, *, up: bool) -> bool:
    """Whether the run is at rest, or its end, if it has not changed for longer than before.

    ``step``  the interval the display steps in, in intervals of the scale.
    ``up``    whether the display last moved upwards.
    """
    if _at_rest(t, run, run.count, scale, step, up=up):
        return True
    if run.same == run.count:
        return False
    changed = run.rows[-run.same][0]
    longer = t - changed > SAME * (changed - run.since)
    return longer and _at_rest(t, run, run.same, scale, step, up=up)


def _at_rest(t: float, run: Run, count: int, scale: Learning, step: float, *, up: bool) -> bool:
    if count < (RUN_FEWEST if scale.period < SLOW_S else 2):
        return False
    spread = scale.spread
    if spread > UNSTEADY_D and count < min((MEDIAN * spread) ** 2, MOST):
        return False
    since, first = run.rows[-count][:2]
    lasted = t - since
    if up:
        rate = (first - run.before(since - RATE_S)) / RATE_S / step
        if rate * PUSH_S > 1 and lasted < PEAK * math.sqrt(0.75 * scale.response / rate):
            return False
    within = 2 * abs(run.drift(count)) / step
    if lasted >= LONG_REST_S:
        return within < LONG_REST_D + spread
    within += ROUNDING_D
    change = abs(first - run.before(since - lasted)) / step
    return change > within and within * within / (change - within) < REST_D
