"""How soon and how surely is it known that a pour ended, and how much went in?

    python -m benchmarks.settling [--seeds 100] [--set unseen|tune] [--only WORD] [--scenarios]

DEFINITIONS, written down before anything was tuned. Two were amended at the first trial, for
every judge alike, and kept since: a flow counts from when the filtered display shows it, and a
claim that nothing was added is not a claim about a flow.

addition      one case of a scenario: readings from a reset (vessel on, at rest) on, and the true
              grams landed at every moment.
claim         an unbroken run of answers ``settled`` (or ``empty``, which claims nothing was added).
end           the moment the last thing that happened was over: the last of the stuff landed, or
              a hand, a lift, a bump, a sleep was over, whichever is later.
standing      the claim that holds, within the limit of the truth, from its first answer through
              every reading until 6 s after the end. Its time is from the end to its first answer,
              never less than zero (a claim may stand through a bump).
limit         max(1.5 d, a quarter of the tolerance). d is the interval displayed.
oracle        knows the end and the scale's filter: the first reading after which the filtered
              display, without noise and rounding, stays within d/2 of where it tends to.
wrong         an addition is wrong if any of its claims is one of
   flowing    it stands while more than d of the same flow is still to land, from when the scale
              could show that the flow began: its filtered display moved by 2 d since. A claim
              that nothing was added (within d) is not counted here;
   disturbed  it stands while the vessel is lifted or swapped, a hand or spoon is on the pan, or
              the scale is overloaded, from when the scale could show it: the same 2 d, and its
              delay, 1.5 readings and 0.1 s;
   off        it is further than the limit from the truth for half a second or longer.
              No grace is given to the first two kinds.
              A pause of two seconds or more is a stop: a claim in it about what is in is right.
never         no standing claim within 6 s of the end (a swapped vessel is left out: there, no
              claim is right).
error         of the standing claim's first answer, in d.
lifted, touched, gaps   share of the additions with such a disturbance (or made of drops or taps)
              that had a claim in it.

Seeds of the set ``tune`` are for tuning, of ``unseen`` for the table that is reported.
Comparisons between detectors mean more than seconds: the worlds' ranges are our guesses.
"""

from __future__ import annotations

import argparse
import random
import time
from collections.abc import Sequence
from dataclasses import dataclass

from benchmarks.settling_cases import AFTER_S, Case
from benchmarks.settling_judges import JUDGES, Judge
from benchmarks.settling_scenarios import SCENARIOS

TRICKLES = ("drop by drop", "taps of a spoon")
GRACE_S = 0.5


@dataclass(frozen=True, slots=True)
class Score:
    """What a judge did with one addition. Times in seconds; ``error`` in d."""

    scenario: str
    oracle: float
    claimed: float | None
    error: float | None
    flowing: bool
    off: bool
    disturbed: frozenset[str]
    kinds: frozenset[str]

    @property
    def wrong(self) -> bool:
        """Whether any claim was wrong."""
        return self.flowing or self.off or bool(self.disturbed)


def lag(case: Case) -> float:
    """How long the scale needs to show that something began."""
    return case.scale.delay_s + 1.5 / case.scale.rate_hz + 0.1


def _shows(case: Case, start: float, end: float) -> float:
    """The first reading between at which the display, free of noise, has moved by 2 d."""
    before: float | None = None
    for row in case.shown:
        if row.t <= start or before is None:
            before = row.clean
        elif abs(row.clean - before) >= 2 * float(case.scale.d):
            return row.t
        if row.t > end:
            break
    return end


def oracle(case: Case) -> float:
    """Seconds from the end to the first reading with less than d/2 still to come."""
    d, first = float(case.scale.d), None
    for row in case.shown:
        if row.t > case.until:
            break
        if row.t < case.since:
            continue
        if abs(row.clean - row.rest) >= d / 2:
            first = None
        elif first is None:
            first = row.t
    return (case.until if first is None else first) - case.since


def judged(case: Case, judge: Judge) -> Score:
    """Feed the case to the judge and compare with the truth."""
    pan, late = case.pan, lag(case)
    flowing = off = False
    disturbed: set[str] = set()
    off_since: float | None = None
    standing: tuple[float, float] | None = None
    spans = (*pan.busy, *((start, end) for start, end, _ in pan.bad))
    shown_from = {(start, end): _shows(case, start, end) for start, end in spans}
    for row in case.shown:
        t, claim = row.t, judge.feed(row)
        if t > case.until:
            break
        d = float(case.scale.d if t < case.scale.other_from else case.scale.other_d)
        limit = max(1.5 * d, float(case.tolerance_g) / 4)
        if claim is None:
            off_since = standing = None
            continue
        error = abs(claim - pan.amount(t))
        for start, end in pan.busy:
            if shown_from[start, end] <= t < end and abs(claim) > d:
                flowing = flowing or abs(pan.amount(end) - pan.amount(t)) > d
        disturbed |= {kind for a, b, kind in pan.bad if max(a + late, shown_from[a, b]) <= t < b}
        if error > limit:
            off_since = t if off_since is None else off_since
            off = off or t - off_since >= GRACE_S
            standing = None
        else:
            off_since = None
            standing = standing or (t, error / d)
    swapped = any(kind == "swap" for _, _, kind in pan.bad)
    return Score(
        case.name,
        oracle(case),
        max(0.0, standing[0] - case.since) if standing else (0.0 if swapped else None),
        standing[1] if standing else None,
        flowing,
        off,
        frozenset(disturbed),
        frozenset(kind for _, _, kind in pan.bad),
    )


def at(values: Sequence[float], share: float) -> float:
    """A quantile (nearest rank)."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else float("nan")


def row(scores: Sequence[Score]) -> dict[str, float]:
    """The figures of a table's row."""
    timed = [one for one in scores if "swap" not in one.kinds]
    times = [AFTER_S if one.claimed is None else one.claimed for one in timed]
    best = at([one.oracle for one in timed], 0.5)
    errors = [one.error for one in timed if one.error is not None]

    def share(of: Sequence[Score], hits: Sequence[bool]) -> float:
        return 100 * sum(hits) / len(of) if of else float("nan")

    lifts = [one for one in scores if "lift" in one.kinds]
    hands = [one for one in scores if one.kinds & {"touch", "spoon"}]
    drops = [one for one in scores if one.scenario in TRICKLES]
    return {
        "median s": at(times, 0.5),
        "x oracle": at(times, 0.5) / best if best else float("nan"),
        "p95 s": at(times, 0.95),
        "wrong %": share(scores, [one.wrong for one in scores]),
        "flowing %": share(scores, [one.flowing for one in scores]),
        "off %": share(scores, [one.off for one in scores]),
        "never %": share(timed, [one.claimed is None for one in timed]),
        "error p95 d": at(errors, 0.95),
        "lifted %": share(lifts, ["lift" in one.disturbed for one in lifts]),
        "touched %": share(hands, [bool(one.disturbed & {"touch", "spoon"}) for one in hands]),
        "gaps %": share(drops, [one.flowing for one in drops]),
    }


def cases(which: str, seeds: int, only: str = "") -> list[Case]:
    """The additions of a set."""
    return [
        make(random.Random(f"{which}/{name}/{seed}"))
        for name, make in SCENARIOS.items()
        if only in name
        for seed in range(seeds)
    ]


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", type=int, default=100)
    asked.add_argument("--set", default="unseen", choices=("unseen", "tune"))
    asked.add_argument("--only", default="", help="scenarios whose name holds this word")
    asked.add_argument("--scenarios", action="store_true", help="a row for each scenario")
    args = asked.parse_args()
    additions = cases(args.set, args.seeds, args.only)
    results: dict[str, list[Score]] = {}
    pace: dict[str, float] = {}
    for name, make in JUDGES.items():
        began = time.perf_counter()
        results[name] = [judged(case, make(case)) for case in additions]
        readings = sum(len(case.shown) for case in additions)
        pace[name] = (time.perf_counter() - began) / readings * 1e6
    best = [score.oracle for score in results["ours"]]
    print(f"{len(additions)} additions ({args.set} seeds); oracle {at(best, 0.5):.3f} s median")
    print_rows({name: row(scores) for name, scores in results.items()}, pace)
    if args.scenarios:
        ours = {
            name: row([one for one in results["ours"] if one.scenario == name])
            for name in SCENARIOS
            if args.only in name
        }
        print("\nours, by scenario")
        print_rows(ours, {})


def print_rows(rows: dict[str, dict[str, float]], pace: dict[str, float]) -> None:
    """A table, a line for each row; ``pace`` is µs a reading with the scoring included."""
    names = list(next(iter(rows.values())))
    print(f"{'':28}" + "".join(f"{name:>12}" for name in names) + f"{'µs':>8}" * bool(pace))
    for name, figures in rows.items():
        line = "".join(f"{figures[one]:>12.2f}" for one in names)
        print(f"{name:28}{line}" + (f"{pace[name]:>8.1f}" if pace else ""))


if __name__ == "__main__":
    main()
