"""A wall clock that cannot be right: told, and not let make a lot good.

The order of entries comes from their numbers, and a pour's timing from a clock that never falls. Of
the wall clock come the times that people read, the days that use-by dates are held against, and
when a check is due. A computer whose battery is empty starts in 1970; one that was set by hand may
be anywhere.
"""

from __future__ import annotations

from datetime import datetime

from weighd.domain.clock_said import MOST_DAYS, RELEASED

#: A clock that is set back by less than this, in seconds, is being set right.
LEAST_BACK_S = 60.0


def doubt(at: str, newest: str, seconds: float = 0.0) -> str:
    """What is to be told of a clock that shows ``at``, as the text of the notice ``clock-wrong``:
    nothing, or ``"behind AT NEWEST"``, ``"ahead AT NEWEST"``, ``"back AT SECONDS"``.

    ``newest``   the newest time in the record that is not in doubt; empty where there is none.
    ``seconds``  by how much it was set while the station ran; below 0 for back.
    """
    if at < RELEASED:
        return f"behind {at} {newest or RELEASED}"
    if newest:
        since = (datetime.fromisoformat(at) - datetime.fromisoformat(newest)).total_seconds()
        if since < -LEAST_BACK_S:
            return f"behind {at} {newest}"
        if since > MOST_DAYS * 24 * 3600:
            return f"ahead {at} {newest}"
    return f"back {at} {round(-seconds)}" if seconds < -LEAST_BACK_S else ""
