"""The transition table: whole, honest about where it leads, and drawn in DEVELOPERS.md."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.dose import dose
from tests.station.scripted import Hand
from weighd.domain import weighing
from weighd.domain.addition import Bench, Do, Link, Move, Phase, Sight
from weighd.domain.errors import OperatorError
from weighd.domain.weighing import LEADS_TO, TABLE

DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"

#: Pairs that change nothing, each on purpose: the test below insists that a new phase or sight
#: is thought about for every pair.
NO_CHANGE = {
    (Phase.AWAITING, Sight.RISING),
    (Phase.AWAITING, Sight.MOVING),
    (Phase.AWAITING, Sight.UNUSABLE),
    (Phase.READY, Sight.EMPTY),
    (Phase.READY, Sight.MOVING),
    (Phase.READY, Sight.UNUSABLE),
    (Phase.POURING, Sight.RISING),
    (Phase.POURING, Sight.UNUSABLE),
    (Phase.SETTLING, Sight.MOVING),
    (Phase.SETTLING, Sight.UNUSABLE),
    (Phase.HELD, Sight.GONE),
    (Phase.HELD, Sight.EMPTY),
    (Phase.HELD, Sight.RISING),
    (Phase.HELD, Sight.MOVING),
    (Phase.HELD, Sight.UNUSABLE),
}
#: Can come in any phase, and would only fill the picture.
LEFT_OUT = (Do.ABANDON, Do.NAME_LOT, Do.NEXT_LOT, *Link)
LIVE = [one for one in Phase if one is not Phase.ACCEPTED]


def test_every_pair_of_phase_and_sight_is_decided() -> None:
    for phase in LIVE:
        for sight in Sight:
            assert ((phase, sight) in TABLE) != ((phase, sight) in NO_CHANGE), (phase, sight)


def test_every_command_without_a_row_is_refused_in_words() -> None:
    """Every phase is reached by hand, and every command that has no row there is refused."""
    reached = set()
    for phase, hand in walk_to_every_phase():
        reached.add(phase)
        for do in Do:
            if (phase, do) not in TABLE:
                before = list(hand.journal)
                with pytest.raises(OperatorError) as caught:
                    hand.do(do, reason="because", lot="L")
                assert len(str(caught.value)) > 20
                assert hand.journal == before
    assert reached == set(LIVE)


def walk_to_every_phase() -> Iterator[tuple[Phase, Hand]]:
    hand = Hand()
    hand.start()
    hand.show("312.4")
    yield Phase.AWAITING, hand
    hand.do("tare")
    hand.show("312.4")
    yield Phase.READY, hand
    hand.pour("600", settle=0)
    yield Phase.POURING, hand
    hand.show("600", 0.5)
    yield Phase.SETTLING, hand
    hand.show("600")
    yield Phase.JUDGED, hand
    hand.pour("830")
    yield Phase.HELD, hand


def test_rules_lead_where_they_say(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every rule that the random walk runs leads where ``LEADS_TO`` says it may."""
    seen: set[tuple[str, Phase]] = set()

    def watched(rule: weighing.Rule) -> weighing.Rule:
        def run(here: Bench, event: Any) -> Move:
            move = rule(here, event)
            to = None if move.now.phase is here.now.phase else move.now.phase
            assert {to, move.now.phase} & {*LEADS_TO[rule]}, (rule, here.now.phase, to)
            seen.add((rule.__name__, move.now.phase))
            return move

        return run

    for pair, rule in list(TABLE.items()):
        monkeypatch.setitem(TABLE, pair, watched(rule))
    from hypothesis import settings
    from hypothesis.stateful import run_state_machine_as_test

    from tests.station.test_walk import Walk

    run_state_machine_as_test(
        Walk,
        settings=settings(
            max_examples=dose(25, 60),
            stateful_step_count=40,
            deadline=None,
            derandomize=True,
            database=None,
        ),
    )
    assert len(seen) > 12


def diagram() -> str:
    """The table as a state diagram; pairs that go the same way share an arrow."""
    arrows: dict[tuple[str, str], list[str]] = {}
    for (phase, came), rule in TABLE.items():
        for to in LEADS_TO[rule]:
            if to is not None and to is not phase and came not in LEFT_OUT:
                arrows.setdefault((phase, to), []).append(str(came))
    out = ["```mermaid", "stateDiagram-v2"]
    names = {one: one.name.lower() for one in Phase}
    out += [f'    state "{one}" as {names[one]}' for one in Phase]
    out += [
        f"    {names[Phase(a)]} --> {names[Phase(b)]} : {', '.join(sorted(set(came)))}"
        for (a, b), came in arrows.items()
    ]
    return "\n".join([*out, "```"])


def test_the_diagram_in_developers_md_is_that_of_the_table() -> None:
    text = DEVELOPERS.read_text("utf-8")
    found = re.search(r"<!-- table -->\n(.*?)\n<!-- /table -->", text, re.DOTALL)
    assert found, "DEVELOPERS.md has lost its table"
    assert found[1] == diagram(), f"put this into DEVELOPERS.md:\n{diagram()}"
