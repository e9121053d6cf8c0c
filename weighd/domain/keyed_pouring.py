"""A scale's own key pressed in the middle of a pour: the display falls to zero and grows on.

Nothing stood at rest, so how much was in is known only as badly as the display moved; that it fell
must not go unseen all the same, since the amount weighed would be short by all that fell. What is
told here is a suspicion: somebody looks, or weighs again.

1. The display grew, and did not fall, over its last readings: a pour, not a hand.
2. Between two readings it fell to what zero shows with what was poured meanwhile. A filter in the
   scale, and hands, take longer to take a load off; a key takes no time.
3. Then it does not go below zero, as it would on its way to a vessel that was lifted, and it does
   not come back to where it was, as after one reading misread.
4. Of a vessel that is poured from all of that is upside down.
5. On a tare well above zero a lifted vessel leaves the display at zero too: there it has to grow
   on as before, which an empty pan does not.

Common practice, no source: what a key, a hand and a stream look like on a display.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

from weighd.domain.reading import Reading

#: A pour is looked back on for so long, seconds, and over no fewer readings than this.
LOOK_S, FEWEST_OF_A_POUR = 1.0, 3
#: Readings further apart than this are of a scale that is asleep or too slow to tell.
APART_S = 0.6
#: The least fall, in intervals, and how many of the largest steps of the pour it is at least.
LEAST_D, STEPS = 8, 2
#: What is poured until the next reading may be so many of its steps.
POURED_ON = Decimal("1.5")
#: A stream that grows on does so by a third to three times as much a reading.
AS_BEFORE = 3


def fell_to_zero(
    before: Sequence[Reading], newest: Reading, interval_g: Decimal, room_g: Decimal
) -> bool:
    """Whether ``newest`` looks as if the key had been pressed just before it.

    ``before``  the readings of late, oldest first, all with numbers.
    ``room_g``  how far a load at rest may wander on the display, grams.
    """
    if len(before) < FEWEST_OF_A_POUR:
        return False
    last = before[-1]
    sign = _sign(last)
    shown = sign * _grams(newest)
    fall = sign * _grams(last) - shown
    if shown < -room_g or fall <= max(LEAST_D * interval_g, 3 * room_g):
        return False  # nearly every reading: nothing else is looked at
    if newest.t - last.t > APART_S:
        return False
    steps = _steps([one for one in before if last.t - one.t <= LOOK_S], sign, room_g)
    if steps is None or sum(steps) <= room_g:
        return False  # it stood, or fell: no pour
    step = max(steps)
    return shown <= room_g + POURED_ON * step and fall > STEPS * step


def grows_on(before: Sequence[Reading], after: Sequence[Reading], room_g: Decimal) -> bool:
    """Whether a display goes on growing after its fall (``after``) much as it did ``before``."""
    sign = _sign(before[-1])
    then = _steps(before[-FEWEST_OF_A_POUR:], sign, room_g)
    now = _steps(after, sign, room_g)
    if then is None or now is None:
        return False
    was, goes = sum(then) / len(then), sum(now) / len(now)
    return was > 0 and was / AS_BEFORE <= goes <= was * AS_BEFORE


def _sign(last: Reading) -> int:
    """-1 where what is poured from stands there, tared: its display falls, its key raises it."""
    return -1 if _grams(last) < 0 else 1


def _steps(rows: Sequence[Reading], sign: int, room_g: Decimal) -> list[Decimal] | None:
    """From reading to reading, grams; ``None`` where they are too few, or one of them falls."""
    shown = [sign * _grams(one) for one in rows]
    steps = [new - old for old, new in pairwise(shown)]
    if not steps or max(shown) - shown[-1] > room_g or min(steps) < -room_g:
        return None
    return steps


def _grams(reading: Reading) -> Decimal:
    assert reading.grams is not None
    return reading.grams
