"""Heat treatments of a batch: done by a published pair, or held; and nobody waves one through."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.domain.process_world import World, one, refused, tables, verified
from weighd.domain.batch import Status
from weighd.domain.process_judge import in_words
from weighd.domain.process_orders import can
from weighd.domain.process_run import State


def heat(*values: tuple[float, str], table: str = "us-frozen-dessert-mix") -> World:
    world, now = one(f'kind = "heat-treat"\ntable = "{table}"'), 0.0
    for minute, value in values:
        world.wait(minute - now).enter(value)
        now = minute
    return world.do("end step")


@pytest.mark.parametrize(
    ("values", "faults", "reached"),
    [
        ([(20, "69"), (50, "69")], [], "155 °F, 30 min"),
        ([(20, "69"), (35, "74"), (50, "68.4")], [], "155 °F, 30 min"),
        ([(20, "69"), (49, "69")], ["too short"], None),
        ([(20, "69")], ["too short"], None),
        ([(20, "68.3"), (60, "68.3")], ["too cool"], None),
        # between two pairs: hotter than the first and longer than the second, and neither
        ([(20, "79"), (49, "79")], ["too short"], None),
        ([(20, "79.4"), (45, "79.4")], ["too short"], None),
        # a dip ends the hold; what was held before it and after does not add up
        ([(20, "69"), (35, "60"), (36, "69"), (51, "69")], ["too short"], None),
        ([(5, "69"), (20, "60"), (21, "69"), (51, "69")], [], "155 °F, 30 min"),
        ([(20, "80"), (20.5, "80")], [], "175 °F, 25 s"),
        ([(20, "83"), (20.25, "83")], [], "180 °F, 15 s"),
        ([(20, "83"), (50.25, "83")], [], "180 °F, 15 s"),
    ],
)
def test_a_heat_treatment_follows_a_published_pair_or_is_held(
    values: list[tuple[float, str]], faults: list[str], reached: str | None
) -> None:
    world = heat(*values)
    assert world.faults == faults
    assert world.run.judged is not None
    assert world.run.judged.get("reached") == reached
    assert world.state is (State.HELD if faults else State.DONE)
    verified(world.entries)


@pytest.mark.parametrize(
    ("values", "told"),
    [
        (
            [(20, "69"), (50, "69")],
            "It satisfies 155 °F, 30 min (Frozen dessert and eggnog mix, United States).",
        ),
        ([(20, "60")], "Nothing measured was as hot as 155 °F (68.4 °C)."),
        (
            [(20, "69"), (49, "70")],
            (
                "It held 69 °C for 29 min: that satisfies no listed pair, and between the pairs "
                "nothing is known."
            ),
        ),
    ],
)
def test_a_cook_is_told_what_a_treatment_came_to(
    values: list[tuple[float, str]], told: str
) -> None:
    world = heat(*values)
    assert world.batch is not None
    assert world.run.judged is not None
    step = world.batch.steps[0]
    assert in_words(step, world.run.judged) == told
    failed = {**world.run.judged, "faults": ["failed", *world.faults]}
    assert in_words(step, failed) == f"It failed. {told}"


def test_a_reading_of_a_moment_is_enough_where_a_pair_asks_for_no_time() -> None:
    assert heat((20, "98.8"), table="connecticut").faults == ["too short"]
    world = heat((20, "98.9"), table="connecticut")  # 210 °F is 98 8/9 °C
    assert world.faults == []
    assert world.run.judged is not None
    assert world.run.judged["reached"] == "210 °F, 0 s"


def test_a_hold_may_be_said_to_have_lasted_but_not_through_what_was_measured() -> None:
    world = one('kind = "heat-treat"\ntable = "us-frozen-dessert-mix"').wait(10)
    world.enter("80", held="25").do("end step")
    assert (world.faults, world.state) == ([], State.DONE)
    assert world.entries[-3].body["held_s"] == "25"
    world = one('kind = "heat-treat"\ntable = "us-frozen-dessert-mix"').wait(10)
    world.enter("60").wait(0.1).enter("80", held="25").do("end step")
    assert world.faults == ["too short"]


def test_a_pair_may_be_named_and_another_be_reached() -> None:
    world = World().mixed()
    refused(world, "unknown-pair", "begin step", pair="160 °F, 15 min")
    world.do("begin step", pair="175 °F, 25 s").wait(20)
    world.enter("80").wait(31).enter("80").do("end step")
    assert world.run.judged is not None
    assert world.run.judged["reached"] == "175 °F, 25 s"
    world = World().mixed().do("begin step", pair="175 °F, 25 s").wait(20)
    world.enter("70").wait(31).enter("70").do("end step")
    assert world.run.judged is not None
    assert world.run.judged["reached"] == "155 °F, 30 min"


def test_nobody_waves_a_heat_treatment_through() -> None:
    world = World().heat_held()
    assert world.faults == ["too cool"]
    assert set(can(world.batch)) == {"repeat step", "note step", "abandon"}  # type: ignore[arg-type]
    error = refused(world, "heat-treatment-open", "accept step", reason="I am sure")
    assert "68.4 °C" in error.message
    refused(world, "heat-treatment-open", "close batch", reason="I am sure")
    refused(world, "not-now", "begin step", step=2)
    refused(world, "not-this-step", "begin step", step=3)
    world.do("repeat step", reason="hotter").do("begin step").wait(20)
    world.enter("70").wait(30).enter("70").do("end step")
    assert world.batch is not None
    assert world.batch.process.at == 3
    verified(world.entries)


def test_a_batch_whose_treatment_failed_can_be_sent_off() -> None:
    world = World().heat_held().do("abandon", reason="it stood warm all night")
    assert world.batch is not None
    assert (world.batch.status, world.batch.reason) == (
        Status.ABANDONED,
        "it stood warm all night",
    )
    verified(world.entries)


def test_a_value_struck_out_counts_for_nothing_and_joins_no_hold() -> None:
    world = one('kind = "heat-treat"\ntable = "us-frozen-dessert-mix"').wait(10)
    world.enter("96").wait(0.5).enter("96")
    world.do("strike temperature", value=2, reason="read off the wrong dial")
    refused(world, "bad-value", "strike temperature", value=2, reason="again")
    refused(world, "bad-value", "strike temperature", value=3, reason="none")
    world.do("end step")
    assert world.faults == ["too short"]
    # a low one struck out between two halves does not make them one hold
    world = one('kind = "heat-treat"\ntable = "us-frozen-dessert-mix"').wait(10)
    world.enter("70").wait(15).enter("50").wait(0.1).enter("70").wait(15).enter("70")
    world.do("strike temperature", value=2, reason="it must have been 70").do("end step")
    assert world.faults == ["too short"]
    verified(world.entries)


values = st.lists(
    st.tuples(st.integers(0, 40), st.sampled_from(["60", "68.3", "68.4", "72", "79", "80", "83"])),
    min_size=1,
    max_size=7,
)


@settings(max_examples=200, deadline=None)
@given(values)
def test_a_treatment_is_never_done_without_a_listed_pair(taken: list[tuple[int, str]]) -> None:
    """Brute force over every stretch of neighbouring values: an independent route."""
    moments, minute = [], 0
    for gap, value in taken:
        minute += gap
        moments.append((minute, value))
    world = heat(*moments)
    found = False
    for i in range(len(moments)):
        for j in range(i, len(moments)):
            lowest = min(Decimal(value) for _, value in moments[i : j + 1])
            seconds = 60 * (moments[j][0] - moments[i][0])
            for pair in tables()["us-frozen-dessert-mix"].pairs:
                hot = (pair.temperature.value - 32) * 5 <= lowest * 9
                found |= hot and pair.time_s <= seconds
    assert (world.faults == []) is found
