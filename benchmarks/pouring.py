"""Where does a pour land, when a cook stops on a cue?

    python -m benchmarks.pouring [--sessions 200] [--set unseen|tune] [--world plain|wide|both]

DEFINITIONS, written down before anything was tuned; the oracle, the cook who goes on and the
last three columns were added later, for every judge alike.

session    a cook, a scale, and one to three things to pour, in turn; ``POURS`` pours. What is
           learned is kept from pour to pour, and nothing is known before the first.
pour       the cook begins with a full flow, and heeds each cue after a reaction (log-normal, drawn
           anew each time) with a hand that takes time to move. After the first ``stop`` nothing
           more is poured (but by the cook who goes on); the display goes on for ``AFTER_S``.
full flow  the mean flow in g/s of an open hand: the gurgling's mean is one.
error      (grams landed in the end, less the target) / full flow, in milliseconds. Also for a pour
           that was throttled: the same time lost costs fewer grams there, and this shows it.
own ms     the other reading: over the flow for which the hand was set when ``stop`` was told.
           For a throttled pour it is about what it is for a full one: a reaction scatters as much.
late       pours from the ``LATER``-th of a session on; ``first``, those before; ``1st``, the first.
           Tables give the median size of the error, and its 95th percentile; ``bias`` is the
           median with its sign (above zero: too much).
within     share of the landings predicted at ``stop`` that came within one, and within two, of the
           standard uncertainties told beside them: 68 and 95 % were ideal.
took       seconds from the first of the flow to the last.

Who guides:
at the display   ``stop`` when the display shows the target.
fixed lead       ``stop`` when display + 0.5 s x the slope of the last second is the target.
oracle           knows what is in the bowl and in the air, the mean flow and the cook's median
                 reaction; not the reaction to come, nor how the stream will gurgle. It too can
                 speak only when a reading comes.
ours             ``weighd cue``, with ``slow`` and without; with a cook who does not heed ``slow``;
                 and with one who goes on pouring when, after a ``stop``, another cue comes.

Seeds of the set ``tune`` are for tuning, of ``unseen`` for the tables that are reported.
"""

from __future__ import annotations

import argparse
import random
import statistics
import time
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Protocol

from benchmarks.pouring_worlds import WORLDS, Bench, Kitchen, Stuff
from weighd.cli.cue import Cues
from weighd.domain import mass
from weighd.domain.reading import Reading

POURS, LATER = 10, 4
AFTER_S = 3.5
LIMIT_S = 120.0
HEEDS = "all"


@dataclass(frozen=True, slots=True)
class Landed:
    """One pour: its place in the session, its error in seconds of full flow, and the rest."""

    n: int
    error_s: float
    took_s: float
    own_s: float
    #: (landed less predicted) / sigma, as told with the stop cue; ``None`` if nothing was told.
    off: float | None
    stopped: bool


class Judge(Protocol):
    """Whoever gives the cues."""

    def reset(self, row: dict[str, Any]) -> None: ...

    def answer(self, reading: Reading, /) -> dict[str, Any]: ...


class Oracle:
    """Knows what is in the bowl and on its way, the full flow, and the cook's median reaction."""

    def __init__(self) -> None:
        self.bench: Bench | None = None

    def reset(self, row: dict[str, Any]) -> None:
        self._target = float(row["target_g"])

    def answer(self, _: Reading) -> dict[str, Any]:
        bench = self.bench
        assert bench is not None
        cook, flow = bench.cook, bench.stuff.flow_g_s * bench.hand
        late = cook.reaction_s + cook.close_s / 2 * bench.hand
        ahead = bench.landed_g + bench.falling_g + flow * (late + 0.5 / bench.scale.rate_hz)
        return {
            "cue": "stop" if ahead >= self._target else "pour",
            "landing_g": None,
            "sigma_g": None,
        }


class AtDisplay:
    """Stop when the display shows it; or a fixed lead before."""

    def __init__(self, lead_s: float) -> None:
        self._lead = lead_s

    def reset(self, row: dict[str, Any]) -> None:
        self._target = float(row["target_g"])
        self._base: float | None = None
        self._rows: deque[tuple[float, float]] = deque()

    def answer(self, reading: Reading) -> dict[str, Any]:
        value = float(reading.grams or 0)
        if self._base is None:
            self._base = value
        rows = self._rows
        rows.append((reading.t, value - self._base))
        while len(rows) > 2 and rows[1][0] < reading.t - 1.0:
            rows.popleft()
        rate = 0.0
        if len(rows) > 2:
            t0 = statistics.fmean(t for t, _ in rows)
            square = sum((t - t0) ** 2 for t, _ in rows)
            rate = sum((t - t0) * v for t, v in rows) / square if square else 0.0
        stop = rows[-1][1] + self._lead * max(rate, 0.0) >= self._target
        return {"cue": "stop" if stop else "pour", "landing_g": None, "sigma_g": None}


JUDGES: dict[str, tuple[Any, str]] = {
    "at the display": (lambda: AtDisplay(0.0), HEEDS),
    "fixed lead 0.5 s": (lambda: AtDisplay(0.5), HEEDS),
    "oracle": (Oracle, HEEDS),
    "ours, no slow": (lambda: Cues(slow=False), HEEDS),
    "ours, slow not heeded": (lambda: Cues(slow=True), "no slow"),
    "ours": (lambda: Cues(slow=True), HEEDS),
    "ours, tops up": (lambda: Cues(slow=True), "goes on"),
}


class Hand:
    """A cook's hand on the jug: heeds cues, each after a reaction of its own."""

    def __init__(self, kitchen: Kitchen, bench: Bench, rng: random.Random, heeds: str) -> None:
        self._cook, self._bench, self._rng, self._heeds = kitchen.cook, bench, rng, heeds
        self._due: list[tuple[float, float]] = []
        self._cue = ""
        self._ready = rng.uniform(0.2, 1.5)

    def sees(self, cue: str) -> None:
        """A cue comes up, or stands."""
        if cue == self._cue or (self._cue == "stop" and self._heeds != "goes on"):
            return
        first, self._cue = self._cue == "", cue
        wish = {"pour": 1.0, "stop": 0.0, "slow": 1.0}[cue]
        if cue == "slow" and self._heeds != "no slow":
            wish = self._cook.throttle + self._cook.throttle_spread * self._rng.gauss(0, 1)
        after = self._cook.reacts(self._rng) + (self._ready if first else 0.0)
        self._due.append((self._bench.t + after, max(wish, 0.05 if cue != "stop" else 0.0)))
        if cue == "stop":
            self._due = [one for one in self._due if one[0] <= self._due[-1][0]]

    def moves(self) -> None:
        """Does what is due."""
        while self._due and self._due[0][0] <= self._bench.t:
            self._bench.wish = self._due.pop(0)[1]


def pour(
    kitchen: Kitchen,
    stuff: Stuff,
    judge: Judge,
    seed: str,
    n: int,
    start: tuple[float, float],
    *,
    heeds: str,
) -> tuple[Landed, Bench]:
    """One pour. ``start``: the clock and the grams on the scale."""
    rng = random.Random(seed)
    bench = Bench(kitchen.scale, stuff, kitchen.cook, rng, start[1])
    seconds = rng.uniform(kitchen.shortest_s, kitchen.longest_s)
    target = mass.rounded(Decimal(stuff.flow_g_s * seconds), kitchen.scale.d)
    judge.reset(
        {
            "reset": True,
            "interval_g": str(kitchen.scale.d),
            "tolerance_g": str(max(kitchen.scale.d, mass.rounded(target / 100, kitchen.scale.d))),
            "target_g": str(target),
            "ingredient": stuff.name,
            "cook": "Ada",
        }
    )
    if isinstance(judge, Oracle):
        judge.bench = bench
    hand = Hand(kitchen, bench, rng, heeds)
    stopped: float | None = None
    told: tuple[float, float] | None = None
    until, began, ended, wish = LIMIT_S, 0.0, 0.0, 1.0
    while bench.t < until:
        hand.moves()
        before = bench.landed_g
        grams = bench.step()
        if bench.landed_g > before:
            began, ended = began or bench.t, bench.t
        if grams is None:
            continue
        answer = judge.answer(Reading(start[0] + bench.t, grams, mass.Unit.G))
        hand.sees(answer["cue"])
        if heeds == "goes on" and answer["cue"] != "stop" and stopped is not None:
            until = min(bench.t + AFTER_S + 1.0, LIMIT_S)
        if answer["cue"] == "stop" and stopped is None:
            stopped, wish = bench.t, max(bench.wish, 0.05)
            until = bench.t + AFTER_S + 1.0
            if answer["landing_g"] is not None:
                told = float(answer["landing_g"]), float(answer["sigma_g"])
    error = (bench.landed_g - float(target)) / stuff.flow_g_s
    off = (bench.landed_g - told[0]) / told[1] if told else None
    return Landed(n, error, ended - began, error / wish, off, stopped is not None), bench


def session(which: str, kind: str, k: int, make: Any, *, heeds: str) -> list[Landed]:
    """All pours of one session."""
    seed = f"{which}/{kind}/{k}"
    rng = random.Random(seed)
    kitchen = WORLDS[kind](rng)
    judge, out = make(), list[Landed]()
    t, on_g = 0.0, 0.0
    for n in range(1, POURS + 1):
        stuff = kitchen.stuffs[(n - 1) % len(kitchen.stuffs)]
        landed, bench = pour(kitchen, stuff, judge, f"{seed}/{n}", n, (t, on_g), heeds=heeds)
        out.append(landed)
        t = 0.0 if kitchen.clock_restarts else t + bench.t + rng.uniform(0.5, 5.0)
        on_g = 0.0 if kitchen.tared else on_g + bench.landed_g
    return out


def at(values: Sequence[float], share: float) -> float:
    """A quantile (nearest rank)."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else float("nan")


def row(pours: Sequence[Landed]) -> dict[str, float]:
    """The figures of a table's row."""
    first = [one for one in pours if one.n < LATER]
    late = [one for one in pours if one.n >= LATER]
    offs = [abs(one.off) for one in late if one.off is not None]
    return {
        "first ms": 1e3 * at([abs(one.error_s) for one in first], 0.5),
        "first p95": 1e3 * at([abs(one.error_s) for one in first], 0.95),
        "late ms": 1e3 * at([abs(one.error_s) for one in late], 0.5),
        "late p95": 1e3 * at([abs(one.error_s) for one in late], 0.95),
        "bias ms": 1e3 * at([one.error_s for one in late], 0.5),
        "own ms": 1e3 * at([abs(one.own_s) for one in late], 0.5),
        "1st ms": 1e3 * at([abs(one.error_s) for one in pours if one.n == 1], 0.5),
        "within 1": 100 * sum(one <= 1 for one in offs) / len(offs) if offs else float("nan"),
        "within 2": 100 * sum(one <= 2 for one in offs) / len(offs) if offs else float("nan"),
        "took s": at([one.took_s for one in late], 0.5),
        "never": float(sum(not one.stopped for one in pours)),
    }


def main() -> None:
    """Print the tables."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sessions", type=int, default=200)
    asked.add_argument("--set", default="unseen", choices=("unseen", "tune"))
    asked.add_argument("--world", default="both", choices=("both", *WORLDS))
    asked.add_argument("--only", default="", help="judges whose name holds this word")
    asked.add_argument("--from", dest="first", type=int, default=0, help="the first session")
    args = asked.parse_args()
    for kind in WORLDS if args.world == "both" else (args.world,):
        print(f"{kind}: {args.sessions} sessions of {POURS} pours ({args.set} seeds)")
        began = time.perf_counter()
        head = False
        for name, (make, heeds) in JUDGES.items():
            if args.only not in name and args.only != name:
                continue
            pours = [
                landed
                for k in range(args.first, args.first + args.sessions)
                for landed in session(args.set, kind, k, make, heeds=heeds)
            ]
            figures = row(pours)
            if not head:
                print(f"{'':24}" + "".join(f"{one:>11}" for one in figures))
                head = True
            print(f"{name:24}" + "".join(f"{one:>11.1f}" for one in figures.values()), flush=True)
        print(f"{time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
