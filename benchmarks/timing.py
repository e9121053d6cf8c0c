"""What benchmarks of single calls share."""

from __future__ import annotations

import time
from collections.abc import Callable


def fastest(what: Callable[[], object], repeat: int) -> float:
    """The shortest of several runs, in seconds."""
    best = float("inf")
    for _ in range(repeat):
        begun = time.perf_counter()
        what()
        best = min(best, time.perf_counter() - begun)
    return best
