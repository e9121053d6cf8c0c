"""How many simulated batches a second, beside a floor: the same entries folded, nothing else.

``python benchmarks/simulation.py [SEEDS]``, from the folder of the project.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.simulation.run import Run
from tests.simulation.tally import Tally
from weighd.domain.fold import fold
from weighd.domain.record import Entry


def main() -> None:
    """Run some seeds, and fold what they wrote."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    written: list[list[Entry]] = []
    batches, began = 0, time.process_time()
    for seed in range(seeds):
        run = Run(seed, Tally())
        batches += run.go().batches
        written += [
            [one for one in run.rules.entries if one.body.get("batch") == batch.id]
            for batch in run.rules.batches()
        ]
    ours = time.process_time() - began
    began = time.process_time()
    for entries in written:
        fold(entries)
    floor = time.process_time() - began
    print(f"simulated: {batches / ours:.1f} batches a second of the processor")
    print(f"bare folds of the same entries: {len(written) / floor:.0f}")
    print(f"ratio: {ours / batches / (floor / len(written)):.0f}")


if __name__ == "__main__":
    main()
