"""A zero that moved, one case each: what is held, what goes on, and what a person decides.

What every place answers to every jump stands in ``fixtures/tables/zeros.txt``.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.domain.bench_world import D, bench, held, order, poured, seen, still
from tests.domain.test_zero_answers import BOTTLE, at_zero, stood, with_shift
from weighd.domain.addition import Bench, Do, Now, Phase
from weighd.domain.batch import Cause, Kind
from weighd.domain.errors import OperatorError
from weighd.domain.taring import can_swap, tare_vessel
from weighd.domain.weighing import can, step
from weighd.domain.zero import Jump
from weighd.domain.zero_again import can_weigh_again, weigh_again
from weighd.domain.zeroing import zero_moved, zero_moved_idle

POURING = replace(poured("50"), now=Now(Phase.POURING, sum_g=D(50)))


def fell(here: Bench, before: str, after: str = "0.0", *, grows: bool) -> tuple[Phase, list[str]]:
    """In mid-pour, from one display to another: the phase, and the kinds of entry."""
    jump = Jump("tare key", stood(before, settled=False), stood(after), sure=False, grows=grows)
    move = zero_moved(here, seen(after, jump=jump))
    return move.now.phase, [str(one.kind) for one in move.drafts]


def test_the_key_in_mid_pour_is_asked_about() -> None:
    assert fell(POURING, "362.4", grows=True) == (Phase.HELD, ["held"])
    # It shows nothing more, and the vessel is still there: somebody has to look.
    assert fell(with_shift(POURING), "362.4", "312.0", grows=False) == (Phase.HELD, ["held"])


def test_a_fall_in_mid_pour_that_leaves_an_empty_pan_is_a_lift() -> None:
    assert fell(POURING, "362.4", grows=False) == (Phase.POURING, [])


def test_a_fall_from_less_than_the_vessel_weighs_is_none_of_the_key() -> None:
    """The vessel was off by then."""
    assert fell(POURING, "280.0", grows=True) == (Phase.POURING, [])


@pytest.mark.parametrize(("fallen_to", "is_off"), [("-848.9", True), ("-848.8", False)])
def test_held_with_a_bottle_only_all_of_it_is_the_bottle(fallen_to: str, is_off: bool) -> None:
    """900 g less 50 g poured stood there when the scale woke; its zero is at that now. A display
    that fell by all of it, but for the gram that is nothing, is that of the empty pan."""
    here = at_zero(BOTTLE, before=None)
    move = zero_moved_idle(here, seen("0.0", jump=Jump("tare key", stood(fallen_to), stood("0.0"))))
    assert (move.drafts == ()) is is_off
    assert move.now == here.now


def test_a_link_that_came_back_without_its_vessel_waits_for_it() -> None:
    """It was off when the link went, and is off now."""
    gone = Now(Phase.HELD, sum_g=D(50), unsure=True)
    here = held(bench(now=gone), Cause.SCALE_LOST, sum_g=D(50), before=stood("0.0"))
    move = step(here.batch, here.now, seen("0.0"))
    (resumed,) = move.drafts
    assert (move.now.phase, move.now.unsure) == (Phase.AWAITING, False)
    assert resumed.kind is Kind.RESUMED
    assert resumed.body == {"addition": 1, "scale": "bench", "by": "", "cause": "scale lost"}


def test_too_much_on_a_moved_zero_may_be_weighed_again_from_the_empty_pan() -> None:
    """The zero had moved by 432.4 g when the vessel of 312.4 g was weighed on with: on that of the
    empty pan it is 744.8 g, and 874.8 g are 130 g too, which somebody decides."""
    over = with_shift(held(poured("130", sum_g=D(130)), Cause.OVER, sum_g=D(130)))
    here = replace(over, now=replace(over.now, level=still("874.8")))
    assert can_weigh_again(here)
    move = weigh_again(here, order(Do.WEIGH_AGAIN))
    moved, decided = move.drafts
    assert moved.kind is Kind.ZERO_MOVED
    told = {key: moved.body[key] for key in ("cause", "by", "sum_g", "after_g", "tare_g")}
    assert told == {
        "cause": "zeroed empty",
        "by": "Ada",
        "sum_g": "130.0",
        "after_g": "874.8",
        "tare_g": "744.8",
    }
    assert decided.kind is Kind.DECIDED
    assert decided.body == {
        "addition": 1,
        "by": "Ada",
        "cause": "over",
        "decision": "weigh again",
        "sum_g": "130",
    }
    assert (move.now.phase, move.now.claim, move.now.taking_g) == (Phase.SETTLING, None, None)
    unknown = replace(over.batch.held, sum_g=None) if over.batch.held else None
    here = replace(here, batch=replace(here.batch, held=unknown), now=replace(here.now, sum_g=None))
    assert weigh_again(here, order(Do.WEIGH_AGAIN)).drafts[1].body["sum_g"] is None


# --- what is offered ------------------------------------------------------------------------------


def test_while_a_held_amount_moves_it_cannot_be_accepted() -> None:
    here = held(poured("130"), Cause.OVER)
    still_there = can(here.batch, here.now)
    moving = can(here.batch, replace(here.now, claim=None, level=None))
    assert still_there[:2] == ("take out", "accept with reason")
    assert moving[0] == "take out"
    assert "accept with reason" not in moving
    less = held(poured("50"), Cause.SHORT)
    assert can(less.batch, less.now)[:2] == ("top up", "accept with reason")


# --- another vessel -------------------------------------------------------------------------------


def test_only_what_counts_as_too_much_may_be_another_vessel() -> None:
    """It was off while nothing was in; what is judged, or held as too much, is asked about."""
    over = poured("130", swapped=True)
    assert can_swap(over)
    assert can_swap(held(over, Cause.OVER))
    less = held(poured("50", swapped=True), Cause.SHORT)
    assert not can_swap(less)
    assert not can_swap(replace(over, now=replace(over.now, phase=Phase.SETTLING)))
    assert not can_swap(poured("130"))
    assert not can_swap(replace(over, now=replace(over.now, claim=None)))
    with pytest.raises(OperatorError) as caught:
        tare_vessel(replace(less, now=replace(less.now, sum_g=None)), order(Do.TARE))
    assert (caught.value.code, caught.value.where) == ("not-now", "addition 1")
