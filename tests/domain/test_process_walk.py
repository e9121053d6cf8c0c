"""Whatever is asked of a batch in process: it verifies, and no heat treatment is skipped."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.domain.process_world import World, tables, verified
from weighd.domain.batch import Status
from weighd.domain.errors import OperatorError
from weighd.domain.fold import fold
from weighd.domain.heat_tables import satisfied
from weighd.domain.process_judge import longest
from weighd.domain.process_orders import Ask, can

STEPS = """
[[steps]]
kind = "mix"
cautions = [{ name = "hot", text = "It is hot." }]
[[steps]]
kind = "heat-treat"
table = "us-frozen-dessert-mix"
[[steps]]
kind = "cool"
temperature = "at most 4 °C"
time = "within 90 min"
[[steps]]
kind = "age"
temperature = "at most 4 °C"
time = "at least 1 h"
"""
#: Every order is asked now and then; what leads on is asked more often.
asks = st.sampled_from([*Ask, Ask.BEGIN, Ask.ENTER, Ask.ENTER, Ask.ENTER, Ask.END, Ask.END])
acts = st.lists(
    st.fixed_dictionaries(
        {
            "do": asks,
            "wait": st.sampled_from([0, 1, 15, 31, 80, 100]),
            "temperature": st.sampled_from(["3", "4.1", "68.3", "155 F", "70", "80", "83", "nan"]),
            "held": st.sampled_from(["", "", "16", "26", "-1"]),
            "confirmed": st.sampled_from([("hot",), ("hot",), (), ("cold",)]),
            "step": st.sampled_from([None, 0, 1, 2, 3, 4, "present", "present", "present"]),
            "from_step": st.sampled_from([None, 1, 2, 9]),
            "value": st.sampled_from([None, 1, 2]),
            "reason": st.sampled_from(["", "so it is"]),
            "ago": st.sampled_from([None, None, None, 0.1, 5, -5]),
        }
    ),
    max_size=40,
)


@settings(max_examples=150, deadline=None)
@given(acts)
def test_any_orders_leave_a_batch_that_verifies_and_whose_treatment_was_done(
    orders: list[dict[str, Any]],
) -> None:
    world = World(STEPS)
    assert world.batch is not None
    for order in orders:
        one = dict(order)
        do, ago = one.pop("do"), one.pop("ago")
        world.wait(one.pop("wait"))
        if one["step"] == "present":
            one["step"] = world.batch.process.at
        offered, before = can(world.batch), list(world.entries)
        try:
            world.do(do, note="n", taken="" if ago is None else world.at(-ago), **one)
        except OperatorError as error:
            assert world.entries == before
            assert error.message
        else:
            assert do in offered  # nothing is taken that was not offered
        if world.batch.is_over:
            break
    assert fold(world.entries) == world.batch
    verified(world.entries)
    process = world.batch.process
    if process.at > 2:
        run = process.done(2)
        assert run is not None
        assert run.decision is None
        pairs = tables()["us-frozen-dessert-mix"].pairs
        holds = [longest(run, pair.temperature) for pair in pairs]
        assert any(one and satisfied(pairs, one.lowest, one.time_s) for one in holds)
    if world.batch.status is Status.CLOSED:
        assert process.at > 2
