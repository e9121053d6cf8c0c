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
        self._skipped = 0.0
        self._wall = datetime.fromtimestamp(time.time(), UTC)

    def now(self) -> float:
        """Seconds since the start, in whole microseconds.

        A recording keeps as many digits, and a replay must see the times that the station saw.
        """
        return round((time.monotonic() - self._start) * self.speed + self._skipped, 6)

    def skip(self, seconds: float) -> None:
        """Let time pass at once, for demonstrations; from then on ``utc`` runs on from there.

        Raises ``ValueError`` for a time that does not pass forwards.
        """
        if not 0 < seconds < 1e9:
            raise ValueError(f"time cannot pass by {seconds} s")
        if self.speed == 1.0 and not self._skipped:
            self._wall = datetime.fromtimestamp(time.time(), UTC) - timedelta(seconds=self.now())
        self._skipped += seconds

    def utc(self) -> str:
        """Wall time, RFC 3339 with milliseconds and ``Z``."""
        if self.speed == 1.0 and not self._skipped:
            wall = datetime.fromtimestamp(time.time(), UTC)
        else:
            wall = self._wall + timedelta(seconds=self.now())
        return wall.isoformat(timespec="milliseconds").replace("+00:00", "Z")
