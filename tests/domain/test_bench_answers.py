"""What an addition answers to everything that may be asked of it, wherever it stands.

``fixtures/tables/bench.txt`` has every answer: where it stands then with the entries that are made,
or the refusal. A line that changes is a change to what a cook may do, or to what a record says:
``python -m tests.domain.test_bench_answers`` writes the file anew, to be read.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import fields, replace
from functools import partial
from typing import Any

from tests.domain.answering import answer, shown
from tests.domain.bench_world import (
    LATER,
    TARED,
    D,
    batch,
    bench,
    held,
    order,
    planned,
    poured,
    still,
)
from tests.domain.bench_world import shown as looked
from tests.domain.kept import Kept
from weighd.domain.addition import Bench, Do, Link, LinkEvent, Move, Now, Phase
from weighd.domain.batch import Accepted, Batch, Cause, Scale
from weighd.domain.metrology import Verdict
from weighd.domain.vessels import Vessel
from weighd.domain.weighing import can, step

KEPT = Kept("bench.txt")
BOWL, JUG = Vessel("bowl", D("312.4"), D("0.1")), Vessel("jug", D(500), D("0.1"), D(1))
SPARE = Scale("spare", "test", D(1), D(6000))
SMALL = Scale("small", "test", D("0.01"), D(100))

BOTTLE = batch(planned(by_difference=True), planned(2, "2", "0.3"), tare="900")
ALL_IN = Accepted(1, D(120), D(0), Verdict.ON_TARGET, "", "", 5, TARED, entry=4)
#: The first is in, and what it left is to make room.
SECOND = batch(
    planned(by_difference=True),
    planned(2, "50", "1"),
    accepted=(ALL_IN,),
    tare=None,
    left={"bench": still("312.4")},
)


def at(grams: str, phase: Phase, of: Batch | None = None, **now: Any) -> Bench:
    """An addition in a phase, its display still."""
    given = {"tare": None} if of is None and phase is Phase.AWAITING else {}
    here = bench(of, Now(phase, **now), **given)
    return replace(looked(grams, here), sight=None)


def places() -> Iterator[tuple[str, Bench]]:
    for grams in ("0.0", "1.0", "1.1", "312.4", "500.6"):
        yield f"awaiting at {grams}", at(grams, Phase.AWAITING)
    yield "awaiting, moving", bench(now=Now(Phase.AWAITING), tare=None)
    yield "awaiting, vessel chosen", at("312.4", Phase.AWAITING, batch(tare=None, vessel=BOWL))
    yield (
        "awaiting, another than chosen",
        at("500.6", Phase.AWAITING, batch(tare=None, vessel=BOWL)),
    )
    for grams in ("312.7", "312.8"):
        yield f"awaiting the second at {grams}", at(grams, Phase.AWAITING, SECOND)
    source = replace(BOTTLE, tares={})
    for grams in ("0.9", "118.9", "119", "900"):
        yield f"awaiting a bottle at {grams}", at(grams, Phase.AWAITING, source)
    yield "awaiting a bottle, zero off", at("900", Phase.AWAITING, source, below_zero=True)
    yield "off with some in", at("0.0", Phase.AWAITING, batch(), sum_g=D(50))
    yield "ready", at("312.4", Phase.READY)
    yield "ready, another vessel", at("500.0", Phase.READY)
    yield "ready, unsure", at("312.4", Phase.READY, unsure=True)
    yield "ready to pour from", at("900", Phase.READY, BOTTLE)
    yield "pouring", replace(poured("50", Phase.POURING), now=Now(Phase.POURING, gross_g=D(362)))
    yield "settling", replace(poured("50"), now=Now(Phase.SETTLING, gross_g=D(362), sum_g=D(50)))
    yield "taking out", poured("125", Phase.SETTLING, taking_g=D(130))
    for net in ("90", "119", "120", "121", "130"):
        yield f"judged {net}", poured(net, started=LATER, sum_g=D(net))
    yield "judged, swapped", poured("188.2", swapped=True)
    yield "judged, with a lot", with_lot(poured("90"))
    yield "judged from a bottle", poured("130", here=bench(BOTTLE), swapped=True)
    for cause in Cause:
        yield f"held, {cause}", held(poured("130", sum_g=D(130)), cause, sum_g=D(130))
        moving = replace(poured("130"), now=Now(Phase.POURING, sum_g=D(130), unsure=True))
        yield f"held, {cause}, moving", held(moving, cause)
    yield "held, short", held(poured("90", sum_g=D(90)), Cause.SHORT)
    yield "held, on target now", held(poured("120", sum_g=D(120)), Cause.OVER)
    yield "held, with nothing in", held(at("312.4", Phase.READY), Cause.SCALE_LOST)


def with_lot(here: Bench) -> Bench:
    return replace(here, batch=replace(here.batch, lots={1: "S-1"}))


GIVEN: dict[Do, tuple[dict[str, Any], ...]] = {
    Do.TARE: (
        {},
        {"confirm": True},
        {"vessel": BOWL, "vessels": (BOWL, JUG)},
        {"vessel": JUG, "vessels": (BOWL, JUG)},
        {"vessel": JUG, "confirm": True},
    ),
    Do.ACCEPT: ({}, {"reason": "it will do"}, {"reason": "it will do", "on_target_only": True}),
    Do.TOP_UP: ({},),
    Do.TAKE_OUT: ({},),
    Do.RESUME: ({}, {"confirm": True}),
    Do.WEIGH_AGAIN: ({}, {"confirm": True}),
    Do.USE_SCALE: ({}, {"scale": SPARE, "reason": "dead"}, {"scale": SMALL}),
    Do.PUT_RIGHT: ({}, {"reason": "slip"}),
    Do.ABANDON: ({"reason": "burnt"},),
    Do.NAME_LOT: ({"lot": "S-2"}, {}),
    Do.NEXT_LOT: ({"lot": "S-2"}, {"lot": "S-1"}, {}),
}


def moved(was: Now, move: Move) -> str:
    """What is other than it was, and the entries."""
    now = [
        f"{one.name}={shown(getattr(move.now, one.name))}"
        for one in fields(move.now)
        if getattr(move.now, one.name) != getattr(was, one.name)
    ]
    told = [", ".join(now) or "stays"]
    for one in move.drafts:
        body = {key: value for key, value in one.body.items() if key != "evidence"}
        told.append(f"{one.kind} {json.dumps(body)}")
    if move.refused is not None:
        told.append(f"refused {move.refused.code}")
    return " + ".join(told)


def answers() -> Iterator[tuple[str, str, str]]:
    for name, here in places():
        yield name, "can", " / ".join(can(here.batch, here.now))
        for do in Do:
            for given in GIVEN[do]:
                asked = order(do, **given)
                told = " ".join(f"{key}={value_of(one)}" for key, one in given.items())
                said = answer(partial(step, here.batch, here.now, asked), partial(moved, here.now))
                yield name, f"{do} {told}".rstrip(), said
        for link in Link:
            event = LinkEvent(LATER, link, None, "bench")
            yield (
                name,
                str(link),
                answer(partial(step, here.batch, here.now, event), partial(moved, here.now)),
            )
    over = replace(batch(), additions=())
    yield "over", "accept", answer(partial(step, over, Now(), order(Do.ACCEPT)), shown)
    yield "over", "can", " / ".join(can(over, Now()))


def value_of(one: Any) -> str:
    if isinstance(one, tuple):
        return ",".join(map(value_of, one))
    return str(getattr(one, "name", one))


def lines() -> list[str]:
    """The file: what is answered alike at one place stands in one line."""
    alike: dict[tuple[str, str], list[str]] = {}
    for name, done, said in answers():
        alike.setdefault((name, said), []).append(done)
    return [f"{name} | {said} <- {' ~ '.join(done)}" for (name, said), done in alike.items()]


def test_an_addition_answers_as_it_did() -> None:
    assert KEPT.beside(lines()) == ([], [])


def test_whatever_is_offered_is_not_refused_for_the_phase() -> None:
    """What a page offers may still need a word more, but is never out of place."""
    offered = {"accept with reason": Do.ACCEPT, "tare another": Do.TARE}
    for name, here in places():
        for told in can(here.batch, here.now):
            do = offered.get(told) or Do(told)
            given = {"reason": "because", "lot": "S-9", "confirm": True}
            if do is Do.USE_SCALE:
                given |= {"scale": SPARE}
            said = answer(partial(step, here.batch, here.now, order(do, **given)), shown)
            assert not said.startswith(("not-now", "some-is-in", "nothing-poured")), (name, told)


if __name__ == "__main__":
    KEPT.write(lines())
