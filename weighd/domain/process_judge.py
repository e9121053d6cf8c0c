"""What follows from the values of a step: whether it came out as the formula says.

1. Only what was entered counts: temperatures with their times, the beginning and the end.
2. A heat treatment holds from one measured temperature to a later one, with none below the pair's
   between them; a value that was struck out ends a hold, since nothing is known of that moment.
   The way from one reading to the next counts only where both are hot enough.
3. The same values give the same judgement: the record is verified by making it again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass
from weighd.domain.duration import words
from weighd.domain.heat_tables import HeatTable, Pair, satisfied
from weighd.domain.moments import milliseconds
from weighd.domain.process import ProcessStep
from weighd.domain.process_run import Outcome, Run, Value
from weighd.domain.temperature import Temperature


class Fault(StrEnum):
    """Why a step is held."""

    TOO_COOL = "too cool"
    TOO_WARM = "too warm"
    TOO_SHORT = "too short"
    TOO_LONG = "too long"
    TOO_SLOW = "too slow"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Hold:
    """Kept from ``since_ms`` for ``time_s`` seconds; nothing measured below ``lowest``."""

    since_ms: int
    time_s: Decimal
    lowest: Temperature


@dataclass(frozen=True, slots=True)
class Judgement:
    """How a step came out. ``took_s``: what its time limits are about, in seconds.

    ``reached``  the published pair that was satisfied; ``hold`` the longest hold at that, or the
                 one that came nearest.
    """

    faults: tuple[Fault, ...]
    took_s: Decimal | None
    reached: Pair | None = None
    hold: Hold | None = None

    @property
    def outcome(self) -> Outcome:
        return Outcome.HELD if self.faults else Outcome.DONE

    def as_json(self) -> dict[str, Any]:
        """As the record has it; only what there is."""
        out: dict[str, Any] = {"faults": [str(one) for one in self.faults]}
        if self.took_s is not None:
            out["took_s"] = mass.text(self.took_s)
        if self.reached is not None:
            out["reached"] = str(self.reached)
        if self.hold is not None:
            out["hold"] = {
                "time_s": mass.text(self.hold.time_s),
                "lowest": str(self.hold.lowest),
            }
        return out


def judge(step: ProcessStep, run: Run, ended: str, failed: str = "") -> Judgement:
    """How a step came out that ended then. ``failed``: why, where a person says that it did."""
    found = _limits(step, run, ended) if step.table is None else _heat(step.table, run)
    if not failed:
        return found
    return Judgement((Fault.FAILED, *found.faults), found.took_s, found.reached, found.hold)


def seconds(earlier_ms: int, later_ms: int) -> Decimal:
    """From one moment to another, in seconds; nothing where the clock was set back."""
    return Decimal(max(later_ms - earlier_ms, 0)) / 1000


def so_far(step: ProcessStep, run: Run, at: str) -> tuple[Fault, ...]:
    """What will hold the step however it goes on, as far as it is known now."""
    if step.table is not None:
        return ()
    coming = {Fault.TOO_SHORT}
    if not step.kept:
        coming |= {Fault.TOO_COOL, Fault.TOO_WARM}
    return tuple(one for one in _limits(step, run, at).faults if one not in coming)


# --- limits ---------------------------------------------------------------------------------------


def _limits(step: ProcessStep, run: Run, ended: str) -> Judgement:
    limits, begun = step.limits, run.begun_ms
    whole = seconds(begun, milliseconds(ended))
    faults: list[Fault] = []
    held_to = run.counted if step.kept else run.counted[-1:]
    if any(limits.too_cool(one.temperature) for one in held_to):
        faults.append(Fault.TOO_COOL)
    if any(limits.too_warm(one.temperature) for one in held_to):
        faults.append(Fault.TOO_WARM)
    if limits.least_s is not None and whole < limits.least_s:
        faults.append(Fault.TOO_SHORT)
    took = whole
    reaches = limits.of_temperature and not step.kept
    if reaches and not faults and (met := reached_at(step, run)) is not None:
        took = seconds(begun, met)
    if limits.most_s is not None and took > limits.most_s:
        faults.append(Fault.TOO_SLOW if reaches else Fault.TOO_LONG)
    return Judgement(tuple(faults), took)


def reached_at(step: ProcessStep, run: Run) -> int | None:
    """When the limits of temperature were first met for good; ``None`` while they are not."""
    since = None
    for one in run.counted:
        met = step.limits.met(one.temperature)
        since = (one.ms if since is None else since) if met else None
    return since


# --- heat treatments ------------------------------------------------------------------------------


def _heat(table: HeatTable, run: Run) -> Judgement:
    holds = {pair: longest(run, pair.temperature) for pair in table.pairs}
    met = [
        pair
        for pair, hold in holds.items()
        if hold is not None and pair in satisfied(table.pairs, hold.lowest, hold.time_s)
    ]
    if met:
        best = next((one for one in met if str(one) == run.pair), met[-1])
        hold = holds[best]
        assert hold is not None
        return Judgement((), hold.time_s, best, hold)
    hot = [(pair, hold) for pair, hold in holds.items() if hold is not None]
    if not hot:
        return Judgement((Fault.TOO_COOL,), None)
    # Nearest is where the largest share of the time was held.
    _, hold = max(hot, key=lambda it: it[1].time_s / it[0].time_s if it[0].time_s else 0)
    return Judgement((Fault.TOO_SHORT,), hold.time_s, None, hold)


def longest(run: Run, least: Temperature) -> Hold | None:
    """The longest hold at a temperature or above; ``None`` where it was never that hot."""
    best: Hold | None = None
    for one in _holds(run, least):
        if best is None or one.time_s > best.time_s:
            best = one
    return best


def holding(run: Run, least: Temperature) -> Hold | None:
    """The hold that still goes on, as far as was measured; ``None`` where the newest is below."""
    values = run.counted
    if not values or values[-1].temperature < least or _struck_since(run, values[-1].ms):
        return None
    return _holds(run, least)[-1]


def _holds(run: Run, least: Temperature) -> list[Hold]:
    """Every hold: from one value hot enough to the last one before a break."""
    out: list[Hold] = []
    part: list[Value] = []
    broken = run.begun_ms - 1
    for one in sorted(run.values, key=lambda value: value.ms):
        if not one.struck and not one.temperature < least:
            part.append(one)
            continue
        if part:
            out.append(_hold(part, broken))
        part, broken = [], one.ms
    return [*out, _hold(part, broken)] if part else out


def _hold(part: list[Value], broken: int) -> Hold:
    since = min(_since(one, broken) for one in part)
    lowest = min(one.temperature for one in part)
    return Hold(since, seconds(since, part[-1].ms), lowest)


def _since(value: Value, broken: int) -> int:
    """From when a value holds. What was measured meanwhile counts before what a person says."""
    said = value.ms - int(value.held_s * 1000)
    return said if said > broken else value.ms


def _struck_since(run: Run, ms: int) -> bool:
    return any(one.struck and one.ms >= ms for one in run.values)


# --- in words -------------------------------------------------------------------------------------


def in_words(step: ProcessStep, judged: Mapping[str, Any]) -> str:
    """Why a step is held, or by what it was done, for a cook; empty for nothing to say."""
    faults, hold = judged["faults"], judged.get("hold")
    if step.table is not None:
        return _heat_in_words(step.table, judged, faults, hold)
    took = words(mass.parse(judged["took_s"])) if "took_s" in judged else ""
    said = {
        Fault.TOO_COOL: f"It was colder than {step.limits.at_least}.",
        Fault.TOO_WARM: f"It was warmer than {step.limits.at_most}.",
        Fault.TOO_SHORT: f"It took {took}, less than the formula asks for.",
        Fault.TOO_LONG: f"It took {took}, more than the formula allows.",
        Fault.TOO_SLOW: f"It took {took} to get there, more than the formula allows.",
        Fault.FAILED: "It failed.",
    }
    return " ".join(said[Fault(one)] for one in faults)


def _heat_in_words(
    table: HeatTable, judged: Mapping[str, Any], faults: list[str], hold: Mapping[str, Any] | None
) -> str:
    told = ["It failed."] if Fault.FAILED in faults else []
    if "reached" in judged:
        told.append(f"It satisfies {judged['reached']} ({table.name}).")
    elif hold is None:
        least = table.pairs[0].temperature
        told.append(f"Nothing measured was as hot as {least} ({least.celsius_at_least()}).")
    else:
        time = words(mass.parse(hold["time_s"]))
        told.append(
            f"It held {hold['lowest']} for {time}: that satisfies no listed pair, and between the "
            "pairs nothing is known."
        )
    return " ".join(told)
