"""What becomes of an addition when a display jumps, or comes back after it was gone: as a whole.

``fixtures/tables/zeros.txt`` has it, wherever the addition stands. A line that changes is a change
to what is weighed on with after a scale's own key or its sleep:
``python -m tests.domain.test_zero_answers`` writes the file anew, to be read.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Any

from tests.domain.answering import answer
from tests.domain.bench_world import INTERVAL, D, batch, bench, held, planned, poured, seen, still
from tests.domain.kept import Kept
from tests.domain.test_bench_answers import at, moved
from weighd.domain.addition import Bench, Climb, Now, Phase, Seen
from weighd.domain.batch import Batch, Cause
from weighd.domain.metrology import Level, level
from weighd.domain.weighing import step
from weighd.domain.zero import (
    Jump,
    Moved,
    Stood,
    ZeroMove,
    as_body,
    far_from_zero,
    lost_zero,
    near_zero,
    new_tare,
    of_body,
    shown_level,
    too_little,
)

KEPT = Kept("zeros.txt")
BOTTLE = batch(planned(by_difference=True), planned(2, "2", "0.3"), tare="900")
SHIFT = Level(D("-432.4"), D("0.05"), D("0.03"), D("0.04"))


CLIMB = Climb(6.0, 9.0, D(100), 5)


def stood(grams: str, settled: bool = True) -> Stood:
    shown = still(grams) if settled else level([D(grams), D(grams) + D("0.3")], INTERVAL)
    return Stood(shown, settled, {"decoder": {}, "readings": []})


def with_shift(here: Bench, shift: Level = SHIFT) -> Bench:
    return replace(here, batch=replace(here.batch, shifts={"bench": shift}))


def keyed(here: Bench) -> Bench:
    """The key was pressed in this addition before."""
    assert here.tare is not None
    move = ZeroMove(4, Moved.TARE_KEY, D(40), "2026-11-27T08:00:30.000Z")
    tare = replace(here.tare, moves=(move,))
    of = replace(here.batch, tares={"bench": tare})
    return replace(here, batch=of, tare=tare)


def at_zero(of: Batch | None = None, **more: Any) -> Bench:
    """Held, since the scale came back at zero."""
    given = {"sum_g": D(50), "before": stood("362.4"), "after": stood("0.1"), **more}
    here = bench(of, Now(Phase.HELD, sum_g=D(50), unsure=True))
    return held(here, Cause.SCALE_AT_ZERO, **given)


def places() -> Iterator[tuple[str, Bench]]:
    yield "awaiting", at("312.4", Phase.AWAITING)
    yield "off with some in", at("0.0", Phase.AWAITING, batch(), sum_g=D(50))
    yield "off, poured onto", at("100", Phase.AWAITING, batch(), sum_g=D(50), climb=CLIMB)
    yield "off, shifted", with_shift(at("0.0", Phase.AWAITING, batch(), sum_g=D(50)))
    yield "ready", at("312.4", Phase.READY)
    yield "ready, restarted", at("312.4", Phase.READY, unsure=True, restarted=True)
    yield "pouring", replace(poured("50"), now=Now(Phase.POURING, sum_g=D(50)))
    yield "pouring, unsure", replace(poured("50"), now=Now(Phase.POURING, sum_g=D(50), unsure=True))
    yield "pouring, keyed", keyed(replace(poured("50"), now=Now(Phase.POURING, sum_g=D(50))))
    yield "pouring, shifted", with_shift(replace(poured("50"), now=Now(Phase.POURING)))
    yield "judged", poured("120", sum_g=D(120))
    yield "held, over", held(poured("130", sum_g=D(130)), Cause.OVER, sum_g=D(130))
    yield "from a bottle", replace(poured("50", here=bench(BOTTLE)), now=Now(Phase.POURING))
    for cause in (Cause.SCALE_LOST, Cause.SCALE_SILENT):
        gone = Now(Phase.HELD, sum_g=D(50), unsure=True)
        yield f"{cause}", held(bench(now=gone), cause, sum_g=D(50), before=stood("362.4"))
        yield f"{cause}, nothing known", held(bench(now=replace(gone, sum_g=None)), cause)
    yield (
        "lost with a bottle",
        held(bench(BOTTLE, Now(Phase.HELD, unsure=True)), Cause.SCALE_LOST, before=stood("850")),
    )
    yield (
        "lost while lifted",
        held(
            bench(now=Now(Phase.HELD, sum_g=D(50), unsure=True)),
            Cause.SCALE_LOST,
            sum_g=D(50),
            before=stood("0.0"),
        ),
    )
    yield "at zero", at_zero()
    yield "at zero, nothing known", at_zero(before=None, sum_g=None)
    yield "at zero, shifted before", with_shift(at_zero(shift=SHIFT))
    yield "at zero, shifted since", with_shift(at_zero())
    yield "at zero, with a bottle", at_zero(BOTTLE, before=stood("850"))
    yield "at zero, with a bottle, nothing known", at_zero(BOTTLE, before=None, sum_g=None)


def jump(why: str, before: str, after: str = "0.0", **more: Any) -> dict[str, Any]:
    return {"jump": Jump(why, stood(before), stood(after), **more)}


SEEN: tuple[tuple[str, str | None, dict[str, Any]], ...] = (
    ("the key", "0.0", jump("tare key", "362.4")),
    ("the key, unsure", "0.0", jump("tare key", "362.4", sure=False)),
    ("the key on an empty pan", "0.0", jump("tare key", "0.3")),
    ("the key on less", "0.0", jump("tare key", "280.0")),
    ("the key on a bottle", "0.0", jump("tare key", "850.0")),
    ("the key in mid-pour", "0.0", jump("tare key", "362.4", grows=True)),
    ("the key in mid-pour on less", "0.0", jump("tare key", "280.0", grows=True)),
    ("a fall in mid-pour", "0.0", jump("tare key", "362.4", grows=False)),
    ("a fall in mid-pour of a bottle", "0.0", jump("tare key", "850.0", grows=False)),
    ("asleep", "0.0", jump("asleep", "362.4")),
    ("asleep with nothing on", "0.2", jump("asleep", "0.2", "0.2")),
    ("asleep with a bottle", "0.0", jump("asleep", "850.0")),
    ("back at zero", "0.0", {}),
    ("back at a gram", "1.0", {}),
    ("back at more", "1.1", {}),
    ("back at the vessel", "312.4", {}),
    ("back at what was in", "362.4", {}),
    ("back at a little more", "362.7", {}),
    ("back at more than that", "362.8", {}),
    ("back at half", "156.1", {}),
    ("back far below", "-432.4", {}),
    ("back at the bottle", "850.0", {}),
    ("moving", "100.0", {"finding": {"level": None, "firm": False}}),
    ("no number", None, {"finding": {"level": None, "firm": False}}),
)


def answers() -> Iterator[tuple[str, str, str]]:
    for name, here in places():
        for title, grams, more in SEEN:
            given = {"nought": lambda: stood("0.2"), **more}
            event: Seen = seen(grams, **{key: one for key, one in given.items() if key != "sure"})
            told = answer(partial(step, here.batch, here.now, event), partial(moved, here.now))
            yield name, title, told
    for before in ("0", "3", "5", "5.1", "11", "900", "-900"):
        for shown in ("0", "0.3", "0.31", "0.6", "1", "1.1", "449", "450", "-1.1", "-450"):
            one, other = D(before), D(shown)
            told = (
                f"{lost_zero(one, other, INTERVAL)} {too_little(one, other, INTERVAL)} "
                f"{too_little(one, other, INTERVAL, falls=True)}"
            )
            yield "lost", f"{before} to {shown}", told
    for grams in ("0", "1", "-1", "1.01", "5", "-5", "5.01", "10", "10.1"):
        for d in ("0.1", "1"):
            one = D(grams)
            yield "zero", f"{grams} by {d}", f"{near_zero(one, D(d))} {far_from_zero(one, D(d))}"
    yield from tares()


def tares() -> Iterator[tuple[str, str, str]]:
    tare, before, after = still("312.4"), still("362.4"), still("0.1")
    for cause in Moved:
        for shift in (None, SHIFT):
            for known in (None, before):
                for change in (None, D(50)):
                    made = partial(new_tare, cause, tare, shift, known, after, change, INTERVAL)
                    title = f"{cause} shift {bool(shift)} before {bool(known)} change {change}"
                    yield "tare", title, answer(made)
    for grams in (["1.0"], ["1.0", "1.1"], ["1.0", "2.0", "1.5"]):
        for settled in (True, False):
            shown = shown_level([D(one) for one in grams], INTERVAL, settled=settled)
            yield "shown", f"{' '.join(grams)} {settled}", str(shown)
    for one, other in ((None, None), (stood("5", False), None), (None, stood("6"))):
        body = as_body(one, other)
        back = of_body(body, "before") == one and of_body(body, "after") == other
        yield "body", f"{bool(one)} {bool(other)}", f"{sorted(body)} {back}"


def lines() -> list[str]:
    """The file: what is answered alike at one place stands in one line."""
    alike: dict[tuple[str, str], list[str]] = {}
    for name, done, said in answers():
        alike.setdefault((name, said), []).append(done)
    return [f"{name} | {said} <- {' ~ '.join(done)}" for (name, said), done in alike.items()]


def test_a_jump_is_answered_as_it_was() -> None:
    assert KEPT.beside(lines()) == ([], [])


if __name__ == "__main__":
    KEPT.write(lines())
