"""Whether a station stays as small as it is through weeks of work with things going wrong.

    python -m benchmarks.soak [--days 5] [--batches 40] [--speed 40]

A real daemon weighs so many batches a day from a pty, its clock and the scale hurried. One batch in
five has its cable pulled while it is weighed, one in ten finds the disk full; pages come and go at
each, one of them deaf; the wall clock is stepped back and on; where the broker should be there is
nobody, or somebody who hangs up. Every third day the daemon is killed in the midst of a batch.

After each batch the system is asked for the daemon's memory, handles and threads, and for the files
in its folder. One line for all lives of the daemon, each with its own height, is laid through the
samples by least squares, the first half of each life left out; what is kept up to a bound has it
small here, and is full by then. What rises by more than is allowed a
batch, and by more than twice the standard error, counts as a leak; the record may grow, evenly. A
second daemon that leaks on purpose has to be found by the same. At the end the record is verified
whole. Exit code 1: something leaks, the seeded leak was not found, or the record does not hold.

``--days 30`` is a month: some quarter of an hour.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from benchmarks.rising import slope
from benchmarks.soak_kitchen import Kitchen

#: How much a batch may bring before it is asked about.
LIMITS = {
    "memory, MB": 0.01,
    "handles": 0.02,
    "threads": 0.02,
    "files": 0.01,
}
#: MB of the log that is copied into the record, at most.
LARGEST_LOG = 8.0
#: The record may grow by so much more a batch in the second half than in the first.
EVENLY = 1.15
LEAKING = 60


#: Of a life shorter than this, from its middle on, nothing is read.
FEWEST = 5


Lives = list[list[dict[str, float]]]


def work(kitchen: Kitchen, given: argparse.Namespace) -> Lives:
    """The days; what was seen after each batch, by lives of the daemon."""
    lives: Lives = [[]]
    for n in range(given.days * given.batches):
        day, of_day = divmod(n, given.batches)
        mishap: Callable[[], None] | None = None
        if of_day == given.batches // 2 and day % given.kill_days == given.kill_days - 1:
            mishap = kitchen.kill
        elif n % 10 == 7:
            mishap = kitchen.full
        elif n % 5 == 2:
            mishap = kitchen.pull
        if of_day == 3:
            kitchen.step(-3600)
        elif of_day == 6:
            kitchen.step(3600)
        if of_day % 8 == 4:
            kitchen.broker_for(5)
        kitchen.come_and_go(("page", "program", "deaf"))
        kitchen.batch(mishap)
        if mishap == kitchen.kill:
            lives.append([])
        lives[-1].append(kitchen.sample())
        if of_day == given.batches - 1:
            row(day + 1, n + 1, lives[-1][-1], kitchen)
    return lives


def row(day: int, batches: int, it: dict[str, float], kitchen: Kitchen) -> None:
    """One line of the table."""
    values = " | ".join(f"{value:.1f}".removesuffix(".0") for value in it.values())
    print(f"| {day} | {batches} | {len(kitchen.starts)} | {values} |", flush=True)


def judge(lives: Lives, *, leaking: bool = False) -> dict[str, bool]:
    """Print what rises; of each thing, whether it leaks."""
    found = {}
    for name, allowed in LIMITS.items():
        halves = ([(n, one[name]) for n, one in enumerate(it)][len(it) // 2 :] for it in lives)
        it = slope([half for half in halves if len(half) >= FEWEST])
        found[name] = it.rises(allowed)
        which = "leaking: " if leaking else ""
        word = "leaks" if found[name] else "still"
        print(f"| {which}{name} | {it.each:.4f} | {it.error:.4f} | {allowed:g} | {word} |")
    return found


def evenly(lives: Lives) -> bool:
    """Whether the record grows no faster in the second half than in the first."""
    sizes = [one["record, MB"] for life in lives for one in life]
    half = len(sizes) // 2
    first, second = sizes[half] - sizes[0], sizes[-1] - sizes[half]
    log = max(one["log, MB"] for life in lives for one in life)
    print(f"\nthe record grew by {first:.2f} MB in the first half, by {second:.2f} in the second;")
    print(f"its log had {log:.1f} MB at most")
    return second <= EVENLY * first + 0.5 and log < LARGEST_LOG


def main() -> None:
    """Let the days pass and say what they left behind."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--days", type=int, default=5)
    parser.add_argument("--batches", type=int, default=40, help="a day")
    parser.add_argument("--speed", type=float, default=40, help="times real time")
    parser.add_argument("--kill-days", type=int, default=3, help="killed once in so many days")
    given = parser.parse_args()
    began, load = time.monotonic(), os.getloadavg()[0]
    print(f"{given.days} days of {given.batches} batches; load {load:.1f}")
    print("| day | batches | starts | " + " | ".join((*LIMITS, "log, MB", "record, MB")) + " |")
    print("|---" * (len(LIMITS) + 5) + "|")
    with tempfile.TemporaryDirectory() as folder:
        kitchen = Kitchen(Path(folder) / "kitchen", given.speed)
        try:
            lives = work(kitchen, given)
        finally:
            kitchen.end()
        done = subprocess.run(
            [sys.executable, "-m", "weighd", "verify", str(kitchen.data / "weighd.db")],
            capture_output=True,
            text=True,
            check=False,
        )
        leaking = Kitchen(Path(folder) / "leaking", given.speed, leak=True)
        try:
            seeded = []
            for _ in range(LEAKING):
                leaking.batch()
                seeded.append(leaking.sample())
        finally:
            leaking.end()
    print("\n| a batch | rises by | ± | allowed | |\n|---|---|---|---|---|")
    found = judge(lives)
    caught = judge([seeded], leaking=True)
    good = not any(found.values()) and evenly(lives) and done.returncode == 0
    missed = [name for name in ("memory, MB", "handles", "threads") if not caught[name]]
    starts = sorted(kitchen.starts)
    print(done.stdout.strip() or done.stderr.strip())
    print(
        f"{len(starts)} starts, the longest {starts[-1]:.1f} s; {kitchen.given_up} batches given"
        f" up, {kitchen.refused} presses refused; missed: {', '.join(missed) or 'no seeded leak'}"
    )
    print(f"load {os.getloadavg()[0]:.1f}; took {time.monotonic() - began:.0f} s")
    sys.exit(0 if good and not missed else 1)


if __name__ == "__main__":
    main()
