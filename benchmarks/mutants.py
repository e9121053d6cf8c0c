"""How many changes to the domain the tests notice: mutation testing of a seeded sample, or of all.

    python -m benchmarks.mutants [--number 400] [--seed 1] [--all] [--only settling* fold]

mutmut makes the mutants: one small change in one function each. They are drawn over all modules
alike, so that a module has as many as its share of all. The tests are collected once; for each
mutant a process is forked that runs, of the tests that come through the changed function, those
of its own module first and then from the quickest on, until one fails or ``--seconds`` of them
are used up. What is not run cannot kill: the share that is given is rather too low.

A *wording* mutant changes nothing but the words of a sentence for people; they are counted apart
(``worded``). A mutant that uses up its processor time loops and counts as killed; one that waits
for the clock does not.
"""

from __future__ import annotations

import argparse
import fnmatch
import json
import os
import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
if __name__ == "__main__":  # run from a checkout, without being installed
    sys.path[:0] = [str(ROOT), str(ROOT / "drivers"), str(ROOT / "web")]

from benchmarks.mutants_made import SWITCH, Mutant, put_in  # noqa: E402
from benchmarks.mutants_run import (  # noqa: E402
    CPU,
    DOMAIN,
    KILLED,
    SURVIVED,
    WAITS,
    Pool,
    collected,
    in_fork,
    mapped,
)

#: The tests that judge: those that reach the domain in their own process.
JUDGES = tuple(
    f"tests/{one}"
    for one in ("domain", "sessions", "solver", "config", "reports", "station", "http", "storage")
)
#: What counts as killed.
KILLS = ("killed", "loops")
#: Files that start daemons or commands: a mutant would not be in them.
ELSEWHERE = (
    "test_daemon",
    "test_cli.py",
    "test_doctor",
    "test_sharing_daemons",
    "test_first_start",
    "test_postgres",
)
Z = 1.96


@dataclass
class Verdict:
    """What became of a mutant: killed, loops, survived, waits or untested."""

    mutant: Mutant
    came: str
    by: str
    tests: int
    left: int
    seconds: float


def ordered(names: Iterable[str], module: str, took: dict[str, float], seconds: float) -> list[str]:
    """The tests of the module first, then from the quickest on, as long as the time lasts."""
    own, _, _ = module.partition("_")

    def rank(name: str) -> tuple[bool, bool, float]:
        file, _, _ = name.partition("::")
        return (f"test_{module}" not in file, f"test_{own}" not in file, took.get(name, 1.0))

    chosen, sum_ = [], 0.0
    for name in sorted(names, key=rank):
        sum_ += took.get(name, 1.0)
        if sum_ > seconds and chosen:
            continue
        chosen.append(name)
    return chosen


def judged(pool: Pool, mutant: Mutant, known: dict[str, Any], seconds: float) -> Verdict:
    """Runs the tests that may see the mutant."""
    module = mutant.function.split(".")[2]
    took = known["took"]
    through = [one for one in known["calls"].get(mutant.function, ()) if one not in known["red"]]
    tests = ordered(through, module, took, seconds)
    if not tests:
        return Verdict(mutant, "untested", "", 0, 0, 0.0)

    begun = time.monotonic()
    while True:
        code, by = ran(pool, mutant.name, tests, took)
        # what fails by itself, without a mutant, has killed none
        if code != KILLED or not by or by in known["fit"]:
            break
        if ran(pool, "", [by], took)[0] == SURVIVED:
            known["fit"].append(by)
            break
        known["red"].append(by)
        tests.remove(by)
    came = {SURVIVED: "survived", KILLED: "killed", CPU: "loops", WAITS: "waits"}[code]
    spent = time.monotonic() - begun
    return Verdict(mutant, came, by, len(tests), len(through) - len(tests), spent)


def ran(pool: Pool, mutant: str, tests: list[str], took: dict[str, float]) -> tuple[int, str]:
    """How tests end with a mutant switched on, and which of them failed."""

    def job(out: Any) -> int:
        SWITCH.on = mutant
        for name, passes in pool.run(tests):
            if not passes:
                out.write(name)
                return KILLED
        return SURVIVED

    estimate = sum(took.get(one, 1.0) for one in tests)
    return in_fork(job, 10 + 5 * estimate, 120 + 30 * estimate)


def wilson(share: int, of: int) -> tuple[float, float]:
    """Between what the share lies with 95 %: Wilson, J. Am. Stat. Assoc. 22 (1927), from memory."""
    p = share / of
    middle = (p + Z * Z / (2 * of)) / (1 + Z * Z / of)
    half = Z * ((p * (1 - p) / of + Z * Z / (4 * of * of)) ** 0.5) / (1 + Z * Z / of)
    return middle - half, middle + half


def told(verdicts: Sequence[Verdict]) -> None:
    """What survived, and the table."""
    for one in verdicts:
        if one.came not in KILLS:
            words = " (words)" if one.mutant.words else ""
            print(f"{one.came}{words} {one.mutant.name}:{one.mutant.line}")
            print(f"    - {one.mutant.was}\n    + {one.mutant.now}")
    for title, some in (
        ("all", verdicts),
        ("without wording", [one for one in verdicts if not one.mutant.words]),
    ):
        if not some:
            continue
        came = Counter(one.came for one in some)
        killed = sum(came[one] for one in KILLS)
        low, high = wilson(killed, len(some))
        print(
            f"{title}: {killed} of {len(some)} killed, {killed / len(some):.1%}"
            f" ({low:.1%} to {high:.1%}); {dict(came)}"
        )
    spent = sum(one.seconds for one in verdicts)
    print(f"{spent / max(1, len(verdicts)):.2f} s a mutant")


def main(words: Sequence[str] | None = None) -> None:
    """Draws, judges and tells."""
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("--number", type=int, default=400)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--all", action="store_true", help="every mutant: hours")
    asked.add_argument("--only", nargs="*", default=["*"], help="modules, with * and ?")
    asked.add_argument("--again", type=Path, help="what survived, by the file of an earlier run")
    asked.add_argument("--seconds", type=float, default=15.0, help="of tests for one mutant")
    asked.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    asked.add_argument("--kept", type=Path, default=ROOT / "build" / "mutants")
    asked.add_argument("--tests", nargs="*", default=list(JUDGES))
    args = asked.parse_args(words)
    os.chdir(ROOT)
    args.kept.mkdir(parents=True, exist_ok=True)
    tests = sorted(
        str(file.relative_to(ROOT))
        for one in args.tests
        for file in ((ROOT / one).rglob("test_*.py") if (ROOT / one).is_dir() else [ROOT / one])
        if not any(word in file.name for word in ELSEWHERE)
    )
    known = {**mapped(tests, args.kept), "fit": []}
    chosen, of = drawn(args, known["counts"])
    sources: dict[str, str] = {}
    mutants: list[Mutant] = []
    for file, numbers in chosen.items():
        sources[f"weighd.domain.{file.stem}"], some, _ = put_in(file, numbers)
        mutants += some
    random.Random(args.seed).shuffle(mutants)
    print(f"{len(mutants)} of {of} mutants; fail without any: {known['red'] or 'none'}", flush=True)
    kept = args.kept / f"verdicts-{args.seed}-{int(time.time())}.jsonl"

    def work(pool: Pool) -> None:
        children = []
        for worker in range(args.workers):
            child = os.fork()
            if child == 0:
                try:
                    with kept.open("a") as out:
                        for mutant in mutants[worker :: args.workers]:
                            verdict = judged(pool, mutant, known, args.seconds)
                            out.write(json.dumps(asdict(verdict)) + "\n")
                            out.flush()
                finally:
                    os._exit(0)
            children.append(child)
        for child in children:
            os.waitpid(child, 0)

    collected(sources, tests, work)
    verdicts = read(kept)
    told(verdicts)
    print(f"Kept in {kept}")
    if len(verdicts) < len(mutants):
        raise SystemExit(f"{len(mutants) - len(verdicts)} mutants were not judged")


def drawn(args: argparse.Namespace, counts: dict[str, int]) -> tuple[dict[Path, set[int]], int]:
    """Which mutants of which modules, by number; and out of how many."""
    files = sorted(
        file
        for file in DOMAIN.glob("*.py")
        if any(fnmatch.fnmatch(file.stem, one) for one in args.only)
    )
    if args.again:
        again = [one.mutant for one in read(args.again) if one.came not in KILLS]
        every = [(DOMAIN / f"{one.function.split('.')[2]}.py", one.number) for one in again]
    else:
        every = [(one, number) for one in files for number in range(counts[one.stem])]
    of = len(every)
    if not args.all and not args.again:
        every = random.Random(args.seed).sample(every, min(args.number, of))
    chosen: dict[Path, set[int]] = defaultdict(set)
    for file, number in every:
        chosen[file].add(number)
    return chosen, of


def read(kept: Path) -> list[Verdict]:
    """The verdicts of a run."""
    rows = map(json.loads, kept.read_text().splitlines())
    return [Verdict(**{**one, "mutant": Mutant(**one["mutant"])}) for one in rows]


if __name__ == "__main__":
    main()
