"""The table of a check: what is wanted, what a firm level shows, and what becomes of it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.check_world import go, started, stood, terms, weight
from weighd.domain.check import Part, Plan
from weighd.domain.check_record import body_of, reads_of
from weighd.domain.check_steps import Going, Note, Wanted, insist, look

TWO_KILO = Plan(masses=(weight(2000),))
NO_ZERO = Plan(zero=False, masses=(weight(500), weight(2000)))


def wanted(going: Going) -> tuple[str, str, int]:
    return str(going.wanted), str(going.note), len(going.taken)


@pytest.mark.parametrize(
    ("shows", "expected"),
    [
        # nothing is wanted but an empty scale; what shows it empty is also its zero
        ([], ("empty", "", 0)),
        ([None, None], ("empty", "", 0)),
        (["312.4"], ("empty", "odd", 0)),
        (["312.4", None, "0.0"], ("put", "", 1)),
        (["0.3"], ("put", "", 1)),
        # the weight is put on, and counts once it was taken off
        (["0.0", None, "0.1"], ("put", "", 1)),
        (["0.0", None, "2000.1"], ("remove", "", 1)),
        (["0.0", None, "2000.1", None, "0.0"], ("nothing", "", 2)),
        # another load is never taken by itself
        (["0.0", None, "500.0"], ("put", "odd", 1)),
        (["0.0", None, "500.0", None, "0.0"], ("put", "", 1)),
        (["0.0", None, "500.0", None, "2000.0"], ("remove", "", 1)),
        (["0.0", None, "2000.0", None, "2500.0"], ("put", "odd", 1)),
        (["0.0", None, "2000.0", None, "2500.0", None, "2000.0"], ("remove", "", 1)),
        (["0.0", None, "-50.0"], ("put", "odd", 1)),
    ],
)
def test_what_is_wanted_after_levels(
    shows: list[str | None], expected: tuple[str, str, int]
) -> None:
    assert wanted(go(started(TWO_KILO), shows)) == expected


def test_the_newest_levels_before_and_on_are_what_counts() -> None:
    going = go(started(TWO_KILO), ["0.0", None, "0.2", None, "2000.0", None, "2000.3", None, "0.1"])
    assert [(one.empty.grams, one.net_g) for one in reads_of(going)] == [
        (Decimal("0.0"), Decimal("0.0")),
        (Decimal("0.2"), Decimal("2000.1")),
    ]


def test_the_scale_is_emptied_between_two_weights() -> None:
    going = go(started(NO_ZERO), ["0.0", "500.0"])
    assert wanted(going) == ("remove", "", 0)
    going = go(going, ["2000.0"])  # one on top of, or instead of, the other: not asked for yet
    assert wanted(going) == ("put", "odd", 0)
    going = go(going, [None, "500.0", None, "0.0", None, "2000.0", None, "0.0"])
    assert wanted(going) == ("nothing", "", 2)


def test_somebody_may_say_that_an_odd_load_is_the_right_one() -> None:
    going = go(started(TWO_KILO), ["0.0", None])
    assert insist(going) is None
    sure = insist(go(going, ["1850.0"]))
    assert sure is not None
    assert wanted(sure) == ("remove", "", 1)
    going = go(sure, ["1850.1", None, "0.0"])
    assert going.taken[-1].sure
    assert reads_of(going)[-1].net_g == Decimal("1850.1")
    body = body_of(going, by="Ada", began="2026-11-26T08:00:00.000Z", version="0")
    assert body["outcome"] == "fail"
    assert body["steps"][1]["sure"] is True


def test_somebody_may_say_that_the_scale_is_empty_and_then_its_zero_is_judged() -> None:
    going = insist(go(started(TWO_KILO), ["-312.4"]))
    assert going is not None
    going = go(going, [None, "1687.7", None, "-312.4"])
    body = body_of(going, by="Ada", began="2026-11-26T08:00:00.000Z", version="0")
    assert [one["outcome"] for one in body["steps"]] == ["fail", "pass"]
    assert body["steps"][1]["error_g"] == "0.1"


def test_what_somebody_was_sure_of_is_not_carried_to_another_load() -> None:
    sure = insist(go(started(TWO_KILO), ["0.0", None, "1850.0"]))
    assert sure is not None
    going = go(sure, [None, "1500.0"])
    assert wanted(going) == ("put", "odd", 1)
    going = go(going, [None, "2000.0", None, "0.0"])
    assert not going.taken[-1].sure


def test_a_placement_across_a_jump_of_the_zero_is_done_again() -> None:
    going = look(started(TWO_KILO), stood("0.0"))
    going = look(going, stood("2000.0"))
    going = look(going, stood("0.0", shift="-2000.0"))  # its tare key, with the weight on
    assert wanted(going) == ("empty", "zero moved", 1)
    going = look(going, stood("-2000.0", shift="-2000.0"))
    assert wanted(going) == ("empty", "zero moved", 1)
    going = look(going, stood("0.0", shift="-4000.0"))
    assert wanted(going) == ("put", "", 1)


def test_the_zero_of_the_empty_scale_may_be_set_before_a_weight_comes_on() -> None:
    going = look(started(TWO_KILO), stood("0.4"))
    going = look(going, stood("0.0", shift="-0.4"))
    assert wanted(going) == ("put", "", 1)
    assert going.base is not None
    assert going.base.level.grams == 0


def test_a_small_weight_is_not_taken_for_an_empty_scale() -> None:
    light = Plan(zero=False, masses=(weight(1),))
    going = go(started(light, terms(limit="0.4")), ["0.0", None, "1.0"])
    assert wanted(going)[0] == "remove"


@pytest.mark.parametrize("shows", ["10.0", "15.1", "24.0", "40.0"])
def test_another_weight_of_the_check_is_not_taken_however_wide_the_limit(shows: str) -> None:
    plan = Plan(zero=False, masses=(weight(20), weight(10), weight(50)))
    going = go(started(plan, terms(limit="1")), ["0.0", None, shows])
    near = shows in ("15.1", "24.0")
    assert wanted(going)[:2] == (("remove", "") if near else ("put", "odd"))


def test_nothing_happens_once_it_is_done() -> None:
    done = go(started(TWO_KILO), ["0.0", "2000.0", "0.0"])
    assert go(done, ["2000.0", None, "700.0"]) == done
    assert insist(done) is None


@given(st.lists(st.sampled_from([None, "0.0", "0.2", "500.0", "2000.1", "1999.0", "312.4", "-40"])))
def test_whatever_comes_every_placement_has_its_levels_and_none_is_skipped(
    shows: list[str | None],
) -> None:
    plan = Plan(masses=(weight(500), weight(2000)), repeat=weight(500), repeat_n=2)
    going = started(plan)
    for one in shows:
        before = going
        going = go(going, [one])
        assert len(going.taken) - len(before.taken) in (0, 1)
        if one is None:
            assert going.taken == before.taken
    for taken, asked in zip(going.taken, plan.placements, strict=False):
        assert taken.placement == asked
        assert going.is_empty(taken.empty.level.grams)
        if asked.part is not Part.ZERO:
            assert taken.loaded is not None
            assert asked.weight is not None
            net = taken.loaded.level.grams - taken.empty.level.grams
            assert abs(net - asked.weight.nominal_g) <= asked.weight.nominal_g / 20
            assert not taken.sure
    assert (going.wanted is Wanted.NOTHING) is (len(going.taken) == len(plan.placements))
    assert going.note in Note
