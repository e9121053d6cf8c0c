"""What people ask of an addition: whole entries, and every refusal with its code and its place."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.domain.bench_world import (
    LATER,
    TARE_READING,
    TARED,
    D,
    batch,
    bench,
    held,
    order,
    planned,
    poured,
)
from weighd.domain.addition import Bench, Do, Draft, Move, Now, Phase
from weighd.domain.batch import Cause, Kind
from weighd.domain.errors import OperatorError
from weighd.domain.orders import (
    abandon,
    accept,
    amiss,
    decide,
    guard,
    name_lot,
    next_lot,
    not_now,
)
from weighd.domain.zero import Moved, ZeroMove

GROSS = {
    "decoder": {"shape": "test-lines"},
    "readings": [{"t": 1.0, "raw": "3433322e34", "grams": "432.4"}],
}


def refused(rule: Any, *given: Any) -> tuple[str, str, bool]:
    """Code, place, and whether it says what to do."""
    with pytest.raises(OperatorError) as caught:
        rule(*given)
    error = caught.value
    assert len(error.message) > 15
    return error.code, error.where, bool(error.remedy)


def last(here: Bench) -> Bench:
    """The same with this addition as the only one."""
    return replace(here, batch=replace(here.batch, additions=(here.planned,)))


# --- whether it is meant for this addition ------------------------------------------------------


def test_a_press_for_another_addition_does_nothing() -> None:
    second = bench(batch(accepted=(object(),)))
    assert second.planned.n == 2
    guard(second, order(Do.ACCEPT))
    guard(second, order(Do.ACCEPT, addition=2))
    before = refused(guard, second, order(Do.ACCEPT, addition=1))
    assert before == ("already-accepted", "batch kitchen-0001", False)
    after = refused(guard, second, order(Do.ACCEPT, addition=3))
    assert after == ("not-current", "batch kitchen-0001", False)


@pytest.mark.parametrize(
    ("do", "phase", "code", "says"),
    [
        (Do.ACCEPT, Phase.READY, "nothing-poured", "Sugar"),
        (Do.ACCEPT, Phase.AWAITING, "nothing-poured", "Sugar"),
        (Do.ACCEPT, Phase.POURING, "not-settled", "rest"),
        (Do.ACCEPT, Phase.HELD, "not-settled", "rest"),
        (Do.TARE, Phase.POURING, "not-now", '"tare" does not go with an addition that is pouring'),
        (Do.RESUME, Phase.READY, "not-now", '"resume" does not go with an addition that is ready'),
    ],
)
def test_a_command_that_does_not_go_with_the_phase_is_told_why(
    do: Do, phase: Phase, code: str, says: str
) -> None:
    told = not_now(bench(now=Now(phase)), do)
    assert (told.code, told.where) == (code, "addition 1")
    assert says in told.message


# --- accepting ----------------------------------------------------------------------------------


def accepted_body(**other: Any) -> dict[str, Any]:
    """120.0 g of sugar as they are accepted, but for what is named."""
    return {
        "addition": 1,
        "ingredient": "sugar",
        "name": "Sugar",
        "target_g": "120",
        "low_g": "119",
        "high_g": "121",
        "tolerance": "1 g",
        "net_g": "120.0",
        "tare_g": "312.4",
        "tare_u_g": "0.028868",
        "gross_g": "432.4",
        "gross_u_g": "0.028868",
        "gross_budget": {"rounding": "0.028868", "spread": "0.000000"},
        "deviation_g": "0.0",
        "u_g": "0.040826",
        "budget": {"rounding": "0.040826", "spread": "0.000000"},
        "verdict": "on target",
        "rule": {"name": "guarded", "k": "2"},
        "guard_g": "0.081652",
        "accept_low_g": "119.081652",
        "accept_high_g": "120.918348",
        "reason": "",
        "scale": "bench",
        "interval_g": "0.1",
        "repeatability_g": "0",
        "operator": "Ada",
        "started": LATER,
        "accepted": LATER,
        "evidence": {
            "decoder": {"shape": "test-lines"},
            "tare": [dict(TARE_READING)],
            "gross": GROSS["readings"],
        },
        "lot": "",
        **other,
    }


def body_of(draft: Draft) -> dict[str, Any]:
    return dict(draft.body)


def test_an_amount_goes_into_the_record_with_all_that_its_verdict_follows_from() -> None:
    move = accept(poured("120", started=LATER), order(Do.ACCEPT))
    assert move.refused is None
    assert move.now == Now(Phase.READY, gross_g=D("432.4"))
    assert [one.kind for one in move.drafts] == [Kind.ACCEPTED]
    assert body_of(move.drafts[0]) == accepted_body()


def test_one_that_was_never_seen_to_grow_began_when_its_vessel_was_tared() -> None:
    move = accept(poured("120"), order(Do.ACCEPT))
    assert body_of(move.drafts[0]) == accepted_body(started=TARED)


def test_whatever_else_is_known_of_it_is_kept_beside() -> None:
    move_of_zero = ZeroMove(4, Moved.TARE_KEY, D("5.0"), TARED)
    here = poured("120", started=LATER, drift_g_min=D("0.06"))
    assert here.tare is not None
    here = replace(
        here,
        tare=replace(here.tare, moves=(move_of_zero, replace(move_of_zero, n=7))),
        batch=replace(here.batch, lots={1: "S-2"}, splits={1: (("S-1", D("80.5")),)}),
    )
    check = {"state": "good", "seq": 3}
    move = accept(here, order(Do.ACCEPT, check=check))
    assert body_of(move.drafts[0]) == accepted_body(
        zero_moves=[4, 7],
        drift_g_min="0.06",
        check=check,
        lot="S-2",
        lots=[{"lot": "S-1", "g": "80.5"}, {"lot": "S-2", "g": "39.5"}],
    )


def test_by_difference_is_said_of_what_was() -> None:
    of = batch(planned(by_difference=True), planned(2, "2", "0.3"), tare="900")
    move = accept(poured("120", here=bench(of)), order(Do.ACCEPT))
    body = body_of(move.drafts[0])
    assert (body["method"], body["net_g"], body["gross_g"]) == ("by difference", "120", "780")
    # the bottle stood there: the next addition's vessel is still to come
    assert move.now == Now(Phase.AWAITING, gross_g=D(780))


def test_the_last_weighing_ends_the_batch_or_leaves_the_bench() -> None:
    move = accept(last(poured("120")), order(Do.ACCEPT))
    assert move.now == Now(Phase.ACCEPTED)
    assert move.drafts[1:] == (Draft(Kind.CLOSED, {"additions": 1}),)
    here = last(poured("120"))
    steps = replace(here, batch=replace(here.batch, steps=(object(),)))
    assert accept(steps, order(Do.ACCEPT)).drafts[1:] == (Draft(Kind.WEIGHED, {"additions": 1}),)


def test_an_amount_that_was_put_right_is_summed_up_when_the_last_is_in() -> None:
    here = last(poured("120"))
    right = replace(here, batch=replace(here.batch, wholes={1: D(121)}))
    body = body_of(accept(right, order(Do.ACCEPT)).drafts[1])
    assert body == {
        "additions": 1,
        "as_weighed": [
            {
                "addition": 1,
                "ingredient": "sugar",
                "name": "Sugar",
                "target_g": "121",
                "net_g": "120.0",
                "u_g": "0.040826",
            }
        ],
    }


def test_on_another_scale_the_next_addition_begins_with_nothing_seen() -> None:
    of = batch(planned(), planned(2, "2", "0.3", scale="fine"))
    move = accept(poured("120", here=bench(of)), order(Do.ACCEPT))
    assert move.now == Now(Phase.AWAITING)


@pytest.mark.parametrize(
    ("net", "cause", "says"),
    [("90", Cause.SHORT, "short"), ("130", Cause.OVER, "over"), ("119", Cause.TOO_CLOSE, "close")],
)
def test_off_target_needs_a_reason_and_is_held_until_there_is_one(
    net: str, cause: Cause, says: str
) -> None:
    here = poured(net, started=LATER)
    move = accept(here, order(Do.ACCEPT))
    assert move.refused is not None
    assert move.refused.code == "needs-reason"
    assert move.refused.remedy
    assert says in move.refused.message
    assert "119 to 121 g" in move.refused.message
    body = {"addition": 1, "cause": str(cause), "scale": "bench", "sum_g": f"{net}.0"}
    assert move.drafts == (Draft(Kind.HELD, body),)
    assert move.now == replace(here.now, phase=Phase.HELD)
    # held already: nothing more is written
    assert refused(accept, held(here, cause), order(Do.ACCEPT)) == ("needs-reason", "", True)
    taken = accept(here, order(Do.ACCEPT, reason="the last of the sack"))
    assert body_of(taken.drafts[0])["reason"] == "the last of the sack"


def test_who_may_accept_only_what_is_on_target_may_not_accept_the_rest() -> None:
    here = poured("130")
    asked = order(Do.ACCEPT, reason="it will do", on_target_only=True)
    assert refused(accept, here, asked) == ("needs-right", "addition 1", False)
    assert accept(poured("120"), asked).drafts


def test_nothing_is_accepted_that_is_not_there() -> None:
    for net in ("0", "-0.5"):
        assert refused(accept, poured(net), order(Do.ACCEPT)) == ("nothing-poured", "", False)
    for by_difference, word in ((False, "less"), (True, "more")):
        of = batch(planned(by_difference=by_difference), tare="900")
        with pytest.raises(OperatorError, match=f"shows {word} than before"):
            accept(poured("-0.5", here=bench(of)), order(Do.ACCEPT))
    assert accept(poured("0.1"), order(Do.ACCEPT, reason="a pinch")).drafts
    moving = replace(poured("120"), now=Now(Phase.SETTLING))
    assert refused(accept, moving, order(Do.ACCEPT)) == ("not-settled", "", False)
    assert refused(accept, replace(poured("120"), tare=None), order(Do.ACCEPT))[0] == "not-settled"


@pytest.mark.parametrize("cause", [Cause.SCALE_LOST, Cause.SCALE_SILENT, Cause.SCALE_AT_ZERO])
def test_held_for_the_scale_neither_accepted_nor_decided(cause: Cause) -> None:
    here = held(poured("130"), cause)
    assert refused(accept, here, order(Do.ACCEPT)) == ("not-settled", "addition 1", False)
    for do in (Do.TOP_UP, Do.TAKE_OUT):
        assert refused(decide, here, order(do)) == ("not-now", "addition 1", False)


def test_accepted_half_an_hour_later_what_creeps_has_crept_on() -> None:
    """Creep is stated for half an hour, and counts again with each one begun."""
    here = poured("120")
    scale = replace(here.scale, accuracy=replace(here.scale.accuracy, creep_g=D("0.3")))
    here = replace(here, scale=scale)
    within, after = "2026-11-27T08:29:59.999Z", "2026-11-27T08:30:00.000Z"
    bodies = [
        body_of(accept(here, order(Do.ACCEPT, at=at, reason="r")).drafts[0])
        for at in (within, after)
    ]
    assert [one["budget"]["creep"] for one in bodies] == ["0.173205", "0.346410"]
    assert [one["accepted"] for one in bodies] == [within, after]


# --- topping up, taking out ---------------------------------------------------------------------


def test_taking_out_opens_the_amount_again_and_remembers_it() -> None:
    here = held(poured("130", sum_g=D("130.0")), Cause.OVER)
    body = {
        "addition": 1,
        "decision": "take out",
        "cause": "over",
        "sum_g": "130.0",
        "by": "Ada",
    }
    move = decide(here, order(Do.TAKE_OUT))
    now = replace(here.now, phase=Phase.SETTLING, claim=None, taking_g=D("130.0"))
    assert move == Move(now, (Draft(Kind.DECIDED, body),))
    # the display wavers: the amount last settled stands for it, and why it was held
    wavers = replace(here, now=replace(here.now, claim=None, sum_g=D("129.0")))
    move = decide(wavers, order(Do.TAKE_OUT))
    assert move.now.taking_g == D("129.0")
    assert move.drafts[0].body == {**body, "sum_g": "129.0"}


def test_topping_up_opens_it_too_and_nothing_is_taken_out() -> None:
    here = poured("90")
    move = decide(here, order(Do.TOP_UP))
    body = {"addition": 1, "decision": "top up", "cause": "short", "sum_g": None, "by": "Ada"}
    now = replace(here.now, phase=Phase.SETTLING, claim=None, taking_g=None)
    assert move == Move(now, (Draft(Kind.DECIDED, body),))


def test_what_makes_no_sense_is_not_decided() -> None:
    for net, do in (("130", Do.TOP_UP), ("90", Do.TAKE_OUT), ("120", Do.TOP_UP)):
        assert refused(decide, poured(net), order(do)) == ("not-now", "addition 1", False)
    for do in (Do.TOP_UP, Do.TAKE_OUT):  # too close may be put right either way
        assert decide(poured("121"), order(do)).drafts
    unsure = replace(poured("130"), now=replace(poured("130").now, unsure=True))
    assert refused(decide, unsure, order(Do.TAKE_OUT)) == ("not-settled", "", False)


def test_what_is_amiss_is_what_stands_there_now_else_what_it_was_held_for() -> None:
    assert amiss(poured("120")) is None
    assert amiss(bench()) is None
    assert amiss(poured("90")) is Cause.SHORT
    assert amiss(held(poured("130"), Cause.SHORT)) is Cause.OVER
    assert amiss(held(poured("120"), Cause.OVER)) is None
    assert amiss(held(bench(), Cause.OVER)) is Cause.OVER


# --- abandoning, lots ---------------------------------------------------------------------------


@pytest.mark.parametrize(("sum_g", "told"), [(None, None), ("50.0", "50.0")])
def test_a_batch_that_is_abandoned_says_what_was_in(sum_g: str | None, told: str | None) -> None:
    here = bench(now=Now(Phase.SETTLING, sum_g=None if sum_g is None else D(sum_g)))
    body = {"addition": 1, "reason": "burnt", "by": "Ada", "sum_g": told}
    move = abandon(here, order(Do.ABANDON, reason="burnt"))
    assert move == Move(here.now, (Draft(Kind.ABANDONED, body),))


def test_a_lot_is_named_with_a_reason_where_one_was_needed() -> None:
    here = bench()
    body = {"addition": 1, "lot": "S-1", "by": "Ada"}
    move = name_lot(here, order(Do.NAME_LOT, lot="S-1"))
    assert move == Move(here.now, (Draft(Kind.LOT_NAMED, body),))
    why = name_lot(here, order(Do.NAME_LOT, lot="S-1", reason="still good"))
    assert why.drafts == (Draft(Kind.LOT_NAMED, {**body, "reason": "still good"}),)
    assert refused(name_lot, here, order(Do.NAME_LOT)) == ("no-lot", "", True)


def with_lot(here: Bench, **more: Any) -> Bench:
    return replace(here, batch=replace(here.batch, lots={1: "S-1"}, **more))


def test_the_next_lot_keeps_the_amount_at_which_the_first_ran_out() -> None:
    here = with_lot(poured("50"))
    move = next_lot(here, order(Do.NEXT_LOT, lot="S-2", reason="old sack"))
    body = {
        "addition": 1,
        "lot": "S-2",
        "by": "Ada",
        "reason": "old sack",
        "scale": "bench",
        "from_g": "50.0",
        "gross_g": "362.4",
        "budget": {"rounding": "0.028868", "spread": "0.000000"},
        "evidence": GROSS,
    }
    assert move == Move(here.now, (Draft(Kind.LOT_NAMED, body),))


def test_a_lot_cannot_run_out_before_it_was_poured_from() -> None:
    asked = order(Do.NEXT_LOT, lot="S-3")
    for net, splits in (("0", ()), ("50", (("S-0", D("50.0")),)), ("49.9", (("S-0", D(50)),))):
        here = with_lot(poured(net), splits={1: splits})
        assert refused(next_lot, here, asked) == ("nothing-poured", "addition 1", True)
    some = with_lot(poured("50.1"), splits={1: (("S-x", D(20)), ("S-0", D("50.0")))})
    assert next_lot(some, asked).drafts[0].body["from_g"] == "50.1"


def test_what_is_no_next_lot_is_told_with_its_place() -> None:
    here = poured("50")
    asked = order(Do.NEXT_LOT, lot="S-1")
    assert refused(next_lot, here, order(Do.NEXT_LOT)) == ("no-lot", "", True)
    assert refused(next_lot, here, asked) == ("no-lot", "addition 1", True)
    assert refused(next_lot, with_lot(here), asked) == ("same-lot", "addition 1", False)
    moving = with_lot(replace(here, now=Now(Phase.POURING)))
    other = order(Do.NEXT_LOT, lot="S-2")
    assert refused(next_lot, moving, other) == ("not-settled", "addition 1", True)
