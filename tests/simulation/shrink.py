"""A shorter trace of what went wrong: turns are left out while the same rule still breaks."""

from __future__ import annotations

from collections.abc import Callable

from tests.simulation.run import Outcome, simulate

#: Runs that a shorter trace may take.
MOST_RUNS = 120


def shrunk(
    seed: int, broken: Outcome, run: Callable[[int, frozenset[int]], Outcome] | None = None
) -> tuple[Outcome, frozenset[int]]:
    """The shortest that was found, and the turns that it does without."""
    run = run or (lambda seed, without: simulate(seed, without=without))
    assert broken.broken is not None
    rule, best, without = broken.broken.rule, broken, frozenset[int]()
    size, runs = max(1, broken.at // 2), 0
    while size and runs < MOST_RUNS:
        kept = [n for n in range(best.at) if n not in without]
        shorter = False
        for start in range(0, len(kept), size):
            tried = without | set(kept[start : start + size])
            runs += 1
            found = run(seed, tried)
            if found.broken is not None and found.broken.rule == rule and found.at <= best.at:
                best, without, shorter = found, tried, True
                break
            if runs >= MOST_RUNS:
                break
        if not shorter:
            size //= 2
    return best, without
