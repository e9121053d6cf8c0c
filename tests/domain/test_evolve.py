"""What each kind of entry makes of a batch: the whole batch, so that nothing else changes by it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.domain.bench_world import LATER, TARE_READING, TARED, D, batch, planned, still
from tests.domain.evolving import ACCEPTED, BUDGET, but, changed, entry_of, wrote
from weighd.domain.accuracy import Accuracy
from weighd.domain.batch import Accepted, Cause, Held, Kind, Scale, Status, Tare
from weighd.domain.corrections import Drew
from weighd.domain.errors import RecordError
from weighd.domain.fold import evolve, fold
from weighd.domain.metrology import Budget, Level, Verdict
from weighd.domain.zero import Moved, Stood, ZeroMove

EVIDENCE = {"decoder": {"shape": "test-lines"}, "readings": [dict(TARE_READING)]}
#: A level with that budget.
U = (D("0.05"), D("0.03"), D("0.04"))
DRAFT = Level(D("2.5"), D("0.1"), D("0.06"), D("0.08"))


def stood(grams: str, settled: bool = True) -> Stood:
    return Stood(Level(D(grams), *U), settled, EVIDENCE)


HELD = Held(Cause.SCALE_LOST, TARED, D(40), stood("352.4", False))


def test_held_for_a_cause_with_what_was_in_and_what_stood() -> None:
    of = batch(shifts={"bench": DRAFT, "fine": Level(D(9), D(1))})
    entry, after = changed(of, Kind.HELD, addition=1, cause="over", scale="bench", sum_g="130.0")
    assert after == but(of, entry, held=Held(Cause.OVER, LATER, D("130.0"), shift=DRAFT))
    entry, after = changed(
        of,
        Kind.HELD,
        addition=1,
        cause="scale at zero",
        scale="elsewhere",
        before_g="352.4",
        before_u_g="0.05",
        before_budget=BUDGET,
        settled=False,
        after_g="0.1",
        after_u_g="0.05",
        after_budget=BUDGET,
        evidence={"before": EVIDENCE, "after": EVIDENCE},
    )
    held = Held(Cause.SCALE_AT_ZERO, LATER, None, stood("352.4", False), stood("0.1"))
    assert after == but(of, entry, held=held)


def test_held_again_it_keeps_what_stood_before() -> None:
    of = batch(held=HELD)
    entry, after = changed(of, Kind.HELD, cause="scale at zero", scale="bench", sum_g=None)
    held = Held(Cause.SCALE_AT_ZERO, LATER, None, HELD.before)
    assert after == but(of, entry, held=held)


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        (Kind.DECIDED, {"decision": "take out", "cause": "over", "sum_g": None}),
        (Kind.RESUMED, {"scale": "bench", "cause": "scale lost"}),
    ],
)
def test_what_lets_go_of_a_hold_changes_nothing_else(kind: Kind, body: dict[str, Any]) -> None:
    of = batch(held=HELD)
    entry, after = changed(of, kind, addition=1, **body)
    assert after == but(of, entry, held=None)
    entry, after = changed(of, Kind.RESTARTED, version="1")
    assert after == but(of, entry)


def test_a_zero_that_moved_as_it_was_recorded_once() -> None:
    """The new tare stood in the entry that went on."""
    was = Tare(Level(D("312.4"), D("0.4"), D("0.4"), D(0)), (TARE_READING,), TARED)
    more = {"scale": "bench", "tare_g": "12.4", "u_g": "0.05", "budget": BUDGET}
    of = batch(tares={"bench": was, "fine": was}, held=HELD)
    entry, after = changed(of, Kind.RESUMED, evidence={"readings": [{"t": 9}]}, **more)
    tare = Tare(Level(D("12.4"), *U), ({"t": 9},), LATER)
    # 0.4 and 0.03 of rounding, 0.04 of spread, as root sum of squares
    shift = Level(D("-300.0"), D("0.403112"), D("0.401123"), D("0.040000"))
    expected = but(of, entry, held=None, tares={"bench": tare, "fine": was})
    assert after == replace(expected, shifts={"bench": shift})
    again = batch(tares={"bench": was}, shifts={"bench": DRAFT}, held=HELD)
    _, after = changed(again, Kind.RESUMED, evidence={"readings": []}, **more)
    assert after.shifts["bench"].grams == D("-297.5")


def test_a_vessel_that_is_tared_ends_what_was_known_of_its_scale() -> None:
    of = batch(
        shifts={"bench": DRAFT, "fine": DRAFT},
        keyed=frozenset({"bench"}),
        emptied={"bench": DRAFT, "fine": DRAFT},
        standing={"fine": "jug"},
        held=HELD,
    )
    body = {
        "scale": "bench",
        "tare_g": "1.01",
        "u_g": "0.05",
        "budget": BUDGET,
        "evidence": EVIDENCE,
        "by": "Bo  Li",
        "vessel": {"name": "steel bowl"},
    }
    entry, after = changed(of, Kind.TARED, **body)
    tare = Tare(Level(D("1.01"), *U), (dict(TARE_READING),), LATER)
    expected = but(
        of,
        entry,
        tares={"bench": tare},
        shifts={"fine": DRAFT},
        emptied={"fine": DRAFT},
        keyed=frozenset(),
        standing={"fine": "jug", "bench": "steel bowl"},
        held=None,
        hands=frozenset({"bo li"}),
        written=(wrote(entry, operator="Bo  Li", vessel="steel bowl"),),
    )
    assert after == expected
    # a gram and less shows no vessel: what the empty pan shows is not known then
    entry, after = changed(of, Kind.TARED, **{**body, "tare_g": "1.00"})
    assert after.keyed == {"bench"}
    assert changed(batch(), Kind.TARED, **{**body, "tare_g": "1.00"})[1].keyed == {"bench"}
    del body["vessel"], body["budget"]
    entry, after = changed(of, Kind.TARED, **body)
    assert after.standing["bench"] == ""
    assert after.tares["bench"].level == Level(D("1.01"), D("0.05"), D(0), D("0.05"))


MOVE = {
    "addition": 1,
    "scale": "bench",
    "tare_g": "12.4",
    "u_g": "0.05",
    "budget": BUDGET,
    "shift_g": "-300",
    "shift_u_g": "0.05",
    "shift_budget": BUDGET,
}


def test_a_zero_that_moves_takes_the_tare_along() -> None:
    of = batch(shifts={"fine": DRAFT}, held=HELD)
    was = of.tares["bench"]
    entry, after = changed(of, Kind.ZERO_MOVED, cause="tare key", sum_g="40.0", by="", **MOVE)
    move = ZeroMove(4, Moved.TARE_KEY, D("40.0"), LATER)
    tare = replace(was, level=Level(D("12.4"), *U), moves=(move,))
    shifts = {"fine": DRAFT, "bench": Level(D(-300), *U)}
    assert after == but(of, entry, tares={"bench": tare}, shifts=shifts)
    # once more: both moves, the one after the other
    body = {**MOVE, "shift_g": "2"}
    entry, twice = changed(after, Kind.ZERO_MOVED, cause="scale at zero", sum_g=None, **body)
    second = ZeroMove(5, Moved.AT_ZERO, None, LATER)
    assert twice.tares["bench"].moves == (move, second)
    assert twice.shifts["bench"] == Level(D(-298), D("0.070711"), D("0.042426"), D("0.056569"))
    # back at the zero of the empty pan: nothing has moved any more
    entry, back = changed(twice, Kind.ZERO_MOVED, cause="zeroed empty", sum_g=None, **MOVE)
    assert back.shifts == {"fine": DRAFT}
    assert back.tares["bench"].moves[2] == ZeroMove(6, Moved.EMPTIED, None, LATER)


def test_what_is_still_to_come_on_a_scale_is_weighed_on_another() -> None:
    figures = {"driver": "test", "interval_g": "1", "max_g": None}
    on = [planned(n, "10", "1", scale="fine" if n == 3 else "bench") for n in (1, 2, 3)]
    done = Accepted(1, D(10), D(0), Verdict.ON_TARGET, "", "", 5, TARED)
    of = batch(
        *on,
        accepted=(done,),
        shifts={"bench": DRAFT, "spare": DRAFT, "fine": DRAFT},
        keyed=frozenset({"bench", "spare", "fine"}),
        held=HELD,
    )
    tare = of.tares["bench"]
    of = replace(of, tares={"bench": tare, "spare": tare, "fine": tare})
    entry, after = changed(of, Kind.SCALE_CHANGED, to="spare", figures=figures, **{"from": "bench"})
    spare = Scale("spare", "test", D(1), None, Accuracy())
    assert after == but(
        of,
        entry,
        scales={**of.scales, "spare": spare},
        additions=(on[0], replace(on[1], scale="spare"), on[2]),
        tares={"fine": tare},
        shifts={"fine": DRAFT},
        keyed=frozenset({"fine"}),
        held=None,
    )


def test_what_is_accepted_stands_there_as_the_next_tare() -> None:
    of = batch(standing={"bench": "steel bowl"}, held=HELD)
    entry, after = changed(of, Kind.ACCEPTED, **ACCEPTED)
    budget = Budget(D("0.03"), D("0.04"), creep_g=D("0.02"))
    done = Accepted(
        1, D("120.3"), D("0.3"), Verdict.ON_TARGET, "", "S-1", 24, LATER, budget, "steel bowl", 4
    )
    drew = {"lot": Drew(1, "sugar", "120.3", "0.07")}
    assert after == but(
        of,
        entry,
        accepted=(done,),
        tares={"bench": Tare(Level(D("432.7"), *U), ({"t": 8},), LATER)},
        held=None,
        hands=frozenset({"ada"}),
        written=(wrote(entry, drew, lot="S-1", operator="Ada"),),
    )
    # before budgets were kept, all of it counts as spread; by difference it goes into no vessel
    old = {key: one for key, one in ACCEPTED.items() if key not in ("budget", "gross_budget")}
    _, after = changed(of, Kind.ACCEPTED, **old, method="by difference")
    assert after.accepted[0].budget == Budget(D(0), D("0.07"))
    assert after.accepted[0].vessel == ""
    assert after.tares["bench"].level == Level(D("432.7"), D("0.05"), D(0), D("0.05"))


def test_what_is_poured_from_stands_aside_when_its_addition_ends() -> None:
    of = batch(planned(by_difference=True), planned(2, scale="fine", by_difference=True))
    fine = Tare(still("77"), (), TARED)
    of = replace(of, tares={**of.tares, "fine": fine})
    _, after = changed(of, Kind.ACCEPTED, **ACCEPTED)
    assert (after.tares, after.left) == (
        {},
        {"bench": Level(D("432.7"), *U), "fine": fine.level},
    )


@pytest.mark.parametrize("named_before", [True, False])
def test_lots_are_named_and_run_out(named_before: bool) -> None:
    of = batch(lots={1: "S-1", 2: "K-1"} if named_before else {2: "K-1"})
    entry, after = changed(of, Kind.LOT_NAMED, addition=1, lot="S-2", by="Ada")
    expected = but(
        of,
        entry,
        lots={1: "S-2", 2: "K-1"},
        hands=frozenset({"ada"}),
        written=(wrote(entry, operator="Ada"),),
    )
    assert after == expected
    entry, more = changed(after, Kind.LOT_NAMED, addition=1, lot="S-3", from_g="70.5")
    assert more == but(after, entry, lots={1: "S-3", 2: "K-1"}, splits={1: (("S-2", D("70.5")),)})


ON_THE_SCALES: dict[str, Any] = {
    "shifts": {"bench": DRAFT},
    "left": {"bench": DRAFT},
    "bowls": {"bench": DRAFT},
    "standing": {"bench": "jug"},
    "keyed": frozenset({"bench"}),
    "held": HELD,
}


def test_when_all_is_weighed_nothing_stands_on_the_scales_any_more() -> None:
    of = batch(**ON_THE_SCALES)
    entry, after = changed(of, Kind.WEIGHED, additions=1)
    none: dict[str, Any] = {name: {} for name in ("tares", "shifts", "left", "bowls", "standing")}
    assert after == but(
        of,
        entry,
        status=Status.IN_PROCESS,
        weighed=LATER,
        keyed=frozenset(),
        held=None,
        **none,
    )


def test_a_batch_is_closed_or_abandoned() -> None:
    of = batch(held=HELD)
    entry, after = changed(of, Kind.CLOSED, additions=1)
    assert after == but(of, entry, status=Status.CLOSED, closed=LATER, held=None)
    entry, after = changed(of, Kind.CLOSED, reason="eaten", by="Ada")
    assert (after.reason, after.status) == ("eaten", Status.CLOSED)
    entry, after = changed(of, Kind.ABANDONED, addition=1, reason="burnt", by="Ada", sum_g=None)
    assert after == but(
        of,
        entry,
        status=Status.ABANDONED,
        closed=LATER,
        reason="burnt",
        held=None,
        hands=frozenset({"ada"}),
        written=(wrote(entry, operator="Ada", reason="burnt"),),
    )


# --- strangers --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        (Kind.OPENED, {}),
        (Kind.HELD, {"cause": "bored", "scale": "bench"}),
        (Kind.TARED, {"scale": "bench"}),
        (Kind.LOT_NAMED, {"addition": 1, "lot": "x", "from_g": "5"}),  # none was named before
        (Kind.COUNTERSIGNED, {"of": None, "by": "Cleo"}),
        (Kind.CORRECTED, {"of": {"n": 1, "hash": "0"}, "field": "operator"}),
        (Kind.YIELD, {"draw": 1, "by": 3, "corrects": {"hash": "0"}}),
        ("danced", {}),
    ],
)
def test_what_is_no_such_entry_is_named(kind: str, body: dict[str, Any]) -> None:
    with pytest.raises(RecordError) as caught:
        changed(batch(), kind, **body)
    assert (caught.value.code, caught.value.where) == ("unreadable-entry", "")
    assert f"Entry 24 ({kind})" in caught.value.message


def test_an_entry_of_another_batch_is_told_from_one_that_cannot_be_read() -> None:
    entry = entry_of(batch(), Kind.RESTARTED)
    for body, code in (
        ({**entry.body, "batch": "kitchen-0002"}, "not-this-batch"),
        ({"n": 4}, "unreadable-entry"),
    ):
        with pytest.raises(RecordError) as caught:
            evolve(batch(), replace(entry, body=body))
        assert caught.value.code == code
        assert "24" in caught.value.message
    with pytest.raises(RecordError, match="does not open") as caught:
        fold([entry])
    assert caught.value.code == "not-a-batch"
    assert fold([]) is None
