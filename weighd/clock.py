"""The clocks: the one place where time is read."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta


class SystemClock:
    """Time of this machine; ``speed`` makes it run faster, for demonstrations and tests.

    ``now`` starts at 0 and never falls. At speed 1 ``utc`` is the wall clock itself, steps and
    all; at any other it runs on from the wall clock at the start.
    """

    def __init__(self, speed: float = 1.0) -> None:
        if not 0 < speed <= 1000:
            raise ValueError(f"a clock cannot run at {speed} times the speed")
        self.speed = speed
        self._start = time.monotonic()
        self._wall = datetime.fromtimestamp(time.time(), UTC)

    def now(self) -> float:
        """Seconds since the start, in whole microseconds.

        A recording keeps as many digits, and a replay must see the times that the station saw.
        """
        return round((time.monotonic() - self._start) * self.speed, 6)

    def utc(self) -> str:
        """Wall time, RFC 3339 with milliseconds and ``Z``."""
        if self.speed == 1.0:
            wall = datetime.fromtimestamp(time.time(), UTC)
        else:
            wall = self._wall + timedelta(seconds=self.now())
        return wall.isoformat(timespec="milliseconds").replace("+00:00", "Z")
