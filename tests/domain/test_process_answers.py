"""What a batch in process answers to everything that may be asked of it, wherever it stands.

``fixtures/tables/process.txt`` has every answer: the entries that are made, whole, or the refusal.
A line that changes is a change to what a cook may do, or to what a record says of it:
``python -m tests.domain.test_process_answers`` writes the file anew, to be read.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from tests.domain.answering import answer, short
from tests.domain.kept import Kept
from tests.domain.process_world import DRY_ICE, World
from weighd.domain.addition import Draft
from weighd.domain.fold import fold
from weighd.domain.process_orders import Ask, StepOrder, ask

KEPT = Kept("process.txt")

#: A batch wherever it may stand.
WORLDS: dict[str, Callable[[], World]] = {
    "mix to begin": World,
    "mixing": lambda: World().do("begin step").wait(1),
    "mixed too short": lambda: World().do("begin step").wait(1).do("end step"),
    "to be treated": lambda: World().mixed(),
    "treated at 69 °C": lambda: World().mixed().do("begin step").wait(5).enter("69 °C").wait(5),
    "not treated": lambda: World().heat_held(),
    "cooling": lambda: World().treated().do("begin step").wait(95).enter("3.9 °C").wait(2),
    "ageing": lambda: World().cooled().do("begin step").wait(60).enter("3 °C").wait(100),
    "to be frozen": lambda: World().aged(),
    "freezing": lambda: World().aged().do("begin step", confirmed=DRY_ICE).wait(5),
    "over": lambda: World().finished(),
    "discarded": lambda: World().mixed().do("abandon", reason="spilt"),
}

#: How it may be asked: beside the step and whoever asks.
GIVEN: dict[Ask, tuple[dict[str, Any], ...]] = {
    Ask.BEGIN: (
        {},
        {"confirmed": DRY_ICE},
        {"confirmed": DRY_ICE, "dry_ice": {"asked": {"room_m3": "30", "charge_g": "400"}}},
        {"confirmed": DRY_ICE[:1], "dry_ice": {"asked": {"room_m3": "30"}}},
        {"dry_ice": {"asked": {"room_m3": "30"}}},
        {"pair": "155 °F for 30 min"},
        {"pair": "1 °C for 1 s"},
        {"taken": -1},
        {"taken": 1},
    ),
    Ask.ENTER: (
        {"temperature": "69.5 °C"},
        {"temperature": "3 °C", "held": "30 min"},
        {"temperature": "70 °C", "held": "24 h"},
        {"temperature": "160 F", "taken": -1},
        {"temperature": "160 F", "taken": -200},
        {"temperature": "160 F", "taken": 1},
        {"temperature": "warm"},
        {"temperature": "4", "held": "long"},
        {},
    ),
    Ask.STRIKE: (
        {"value": 1, "reason": "misread"},
        {"value": 1},
        {"value": 0, "reason": "misread"},
        {"value": 2, "reason": "misread"},
        {"reason": "misread"},
    ),
    Ask.END: ({}, {"taken": -1}, {"taken": -300}, {"taken": 1}),
    Ask.FAIL: ({"reason": "lumpy"}, {}, {"reason": "lumpy", "taken": -1}),
    Ask.REPEAT: (
        {"reason": "again"},
        {},
        {"from_step": 1, "reason": "again"},
        {"from_step": 0, "reason": "again"},
        {"from_step": 3, "reason": "again"},
    ),
    Ask.ACCEPT: ({"reason": "good enough"}, {}),
    Ask.NOTE: ({"note": "smooth"}, {"note": " "}, {"note": "x" * 501}, {}),
    Ask.CLOSE: ({}, {"reason": "eaten"}),
    Ask.DISCARD: ({"reason": "spilt"}, {}),
}


def drafts(made: tuple[Draft, ...]) -> str:
    return " + ".join(f"{one.kind} {json.dumps(plain(one.body))}" for one in made)


def plain(value: Any) -> Any:
    """JSON, with what dry ice is reckoned to left to its own tests."""
    if isinstance(value, dict):
        return {key: sorted(one) if key == "dry_ice" else plain(one) for key, one in value.items()}
    return [plain(one) for one in value] if isinstance(value, list | tuple) else value


def answers() -> Iterator[tuple[str, str]]:
    for name, make in WORLDS.items():
        world = make()
        assert world.batch is not None
        at = world.batch.process.at
        for do in Ask:
            for given in GIVEN[do]:
                more = {**given}
                if "taken" in more:
                    more["taken"] = world.at(more["taken"])
                order = StepOrder(world.at(), do, "Bo", step=at, **more)
                told = " ".join(f"{key}={one!r}" for key, one in given.items())
                yield f"{name} | {do} {told}", answer(partial(ask, world.batch, order), drafts)
            for step in (None, at - 1, at + 1):
                order = StepOrder(world.at(), do, "Bo", step=step, **GIVEN[do][0])
                named = "none" if step is None else "the last" if step < at else "the next"
                said = answer(partial(ask, world.batch, order), drafts)
                yield f"{name} | {do} of {named}", said


def lines() -> list[str]:
    """The file: what is answered alike, where a batch stands alike, in one line."""
    alike: dict[tuple[str, str], list[str]] = {}
    for what, said in answers():
        name, _, done = what.partition(" | ")
        alike.setdefault((name, said), []).append(short(done).strip())
    return [f"{name} | {said} <- {' ~ '.join(done)}" for (name, said), done in alike.items()]


def test_a_batch_in_process_answers_as_it_did() -> None:
    assert KEPT.beside(lines()) == ([], [])


def test_whatever_is_done_can_be_folded_and_done_again() -> None:
    """The worlds above are what their entries say."""
    for name, make in WORLDS.items():
        world = make()
        assert fold(world.entries) == world.batch, name


if __name__ == "__main__":
    KEPT.write(lines())
