"""The quiet run: the longest run of newest readings that stay within a band.

Costs about the same for every reading, however long the run: the highest and lowest of the run
are kept in two monotone queues. Memory is bounded by ``LONGEST`` seconds and ``MOST`` readings.
"""

from __future__ import annotations

from collections import deque

from weighd.domain.reading import Reading

LONGEST = 4.0
MOST = 320

#: Time, display (or mean of displays) in intervals, their running sum, the reading, its display.
Row = tuple[float, float, float, Reading, float]


class Run:
    """Readings kept, and how many of the newest stay within ``band`` intervals of each other."""

    def __init__(self) -> None:
        self.rows: deque[Row] = deque()
        self.clear()

    def clear(self) -> None:
        """Forget all readings."""
        self.rows.clear()
        self._sum = 0.0
        #: Readings of the newest value, one after another.
        self.same = 0
        #: How many readings ever came and left, so that a reading has a number.
        self._came = self._left = 0
        self._first = 0
        self._highs: deque[tuple[int, float]] = deque()
        self._lows: deque[tuple[int, float]] = deque()

    def add(self, t: float, value: float, reading: Reading, band: float, shown: float) -> None:
        """Take a reading in; drop from the run what is out of its band.

        ``value`` is judged: the display ``shown`` itself, or a mean of the newest displays.
        """
        self._sum += value
        number = self._came
        self._came += 1
        rows, highs, lows = self.rows, self._highs, self._lows
        self.same = self.same + 1 if rows and rows[-1][1] == value else 1
        rows.append((t, value, self._sum, reading, shown))
        while highs and highs[-1][1] <= value:
            highs.pop()
        highs.append((number, value))
        while lows and lows[-1][1] >= value:
            lows.pop()
        lows.append((number, value))
        while highs[0][1] - lows[0][1] > band:
            if highs[0][0] < lows[0][0]:
                self._first = highs.popleft()[0] + 1
            else:
                self._first = lows.popleft()[0] + 1
        while t - rows[0][0] > LONGEST or len(rows) > MOST:
            rows.popleft()
            self._left += 1
        self.same = min(self.same, len(rows))
        if self._first < self._left:
            self._first = self._left
            while highs[0][0] < self._first:
                highs.popleft()
            while lows[0][0] < self._first:
                lows.popleft()

    @property
    def count(self) -> int:
        """Readings in the run, at least one once a reading came."""
        return self._came - self._first

    @property
    def since(self) -> float:
        """When the run began."""
        return self.rows[-self.count][0]

    @property
    def spread(self) -> float:
        """Highest less lowest display of the run, in intervals."""
        return self._highs[0][1] - self._lows[0][1]

    def mean(self, newest: int, skip: int = 0) -> float:
        """Mean display of ``newest`` readings, leaving out the ``skip`` newest of all."""
        rows, last = self.rows, len(self.rows) - 1 - skip
        first = rows[last - newest + 1]
        return (rows[last][2] - first[2] + first[1]) / newest

    def drift(self, newest: int) -> float:
        """How far the mean of the later half of the ``newest`` readings is above the earlier."""
        half = newest // 2
        return self.mean(half) - self.mean(half, newest - half)

    def before(self, t: float) -> float:
        """The display that stood at ``t``: of the newest reading not after it (or the oldest)."""
        for row in reversed(self.rows):
            if row[0] <= t:
                return row[1]
        return self.rows[0][1]

    def shown(self, t: float, seconds: float) -> list[float]:
        """The displays of the last ``seconds`` before ``t``, oldest first; not only of the run."""
        values: list[float] = []
        for row in reversed(self.rows):
            if t - row[0] > seconds and values:
                break
            values.append(row[4])
        values.reverse()
        return values
