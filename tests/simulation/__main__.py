"""``python -m tests.simulation --batches 100000``: many seeds, what came by, and what broke.

``--seed N`` replays one, with a shorter trace of what broke in it.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
import traceback
from collections.abc import Iterator
from typing import NamedTuple

from tests.simulation.run import simulate
from tests.simulation.shrink import shrunk
from tests.simulation.tally import Tally, table

#: Seeds that a process takes at a time, and seconds between two words of progress.
CHUNK, SAY_S = 20, 15.0


class Found(NamedTuple):
    """A seed that broke a rule, or ended in an error."""

    seed: int
    rule: str
    told: str


class Done(NamedTuple):
    """What a chunk of seeds came to."""

    batches: int
    turns: int
    inputs: int
    tally: Tally
    found: list[Found]


def chunk(first: int) -> Done:
    """Run some seeds; what breaks is kept, and the rest goes on."""
    tally, found, batches, turns, inputs = Tally(), list[Found](), 0, 0, 0
    for seed in range(first, first + CHUNK):
        try:
            out = simulate(seed, tally)
        except Exception as error:  # noqa: BLE001 - a defect in the program is what is looked for
            found.append(Found(seed, repr(error)[:120], traceback.format_exc(limit=-6)))
            continue
        batches, turns, inputs = batches + out.batches, turns + out.turns, inputs + out.inputs
        if out.broken is not None:
            found.append(Found(seed, out.broken.rule, f"turn {out.at}: {out.broken}"))
    return Done(batches, turns, inputs, tally, found)


def many(wanted: int, first: int, jobs: int) -> int:
    """So many batches; whether nothing broke, as an exit code."""
    tally, found = Tally(), list[Found]()
    batches = turns = inputs = seeds = 0
    began = said = time.monotonic()
    with multiprocessing.Pool(jobs) as pool:
        for done in pool.imap(chunk, _chunks(first)):
            seeds += CHUNK
            batches, turns = batches + done.batches, turns + done.turns
            inputs += done.inputs
            tally.update(done.tally)
            for one in done.found:
                print(f"seed {one.seed} broke: {one.rule}\n  {one.told}", flush=True)
            found += done.found
            now = time.monotonic()
            if now - said > SAY_S:
                said = now
                rate = batches / (now - began)
                print(
                    f"{batches:,} batches of seeds {first} to {first + seeds - 1}, "
                    f"{rate:.1f} a second, {len(found)} broke",
                    file=sys.stderr,
                    flush=True,
                )
            if batches >= wanted:
                pool.terminate()
                break
    took = time.monotonic() - began
    print(table(tally))
    print(
        f"{batches:,} batches, {turns:,} turns, {inputs:,} inputs of {seeds:,} seeds from {first} "
        f"in {took:.0f} s: {batches / took:.1f} batches a second; {len(found)} seeds broke a rule"
    )
    for one in found:
        print(f"python -m tests.simulation --seed {one.seed}   # {one.rule}")
    return 1 if found else 0


def _chunks(first: int) -> Iterator[int]:
    while True:
        yield first
        first += CHUNK


def replayed(seed: int) -> int:
    """One seed again, and a shorter trace of what breaks in it."""
    out = simulate(seed)
    if out.broken is None:
        print(f"seed {seed}: {out.batches} batches, nothing broke; trace {out.trace}")
        return 0
    print(f"seed {seed}, turn {out.at}: {out.broken}")
    best, without = shrunk(seed, out)
    print(f"without {len(without)} of {out.at} turns it still breaks:")
    for line in best.told:
        print(f"  {line}")
    return 1


def main() -> int:
    """Read the command line."""
    asked = argparse.ArgumentParser(prog="python -m tests.simulation", description=__doc__)
    asked.add_argument("--batches", type=int, default=1000, help="so many at least")
    asked.add_argument("--from", dest="first", type=int, default=0, help="the first seed")
    asked.add_argument("--jobs", type=int, default=1, help="processes")
    asked.add_argument("--seed", type=int, help="one seed alone")
    given = asked.parse_args()
    if given.seed is not None:
        return replayed(given.seed)
    return many(given.batches, given.first, given.jobs)


if __name__ == "__main__":
    sys.exit(main())
