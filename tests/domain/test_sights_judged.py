"""What is made of what a scale shows: amounts judged, pours begun and ended, links gone."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.domain.bench_world import (
    EVIDENCE,
    INTERVAL,
    LATER,
    TARED,
    D,
    batch,
    bench,
    held,
    planned,
    poured,
    seen,
    shown,
    still,
)
from weighd.domain.addition import Draft, Link, LinkEvent, Move, Now, Phase
from weighd.domain.batch import Cause, Kind
from weighd.domain.metrology import Verdict, level
from weighd.domain.settling import Phase as Load
from weighd.domain.sights import (
    claim,
    emptied,
    judge_amount,
    lifted,
    link_gone,
    pour,
    slowed,
    watch,
)
from weighd.domain.zero import Stood

#: By difference, a litre bottle of vanilla stands there.
FROM_BOTTLE = batch(planned(target="120", by_difference=True), tare="900")


# --- judged -----------------------------------------------------------------------------------


def test_a_claim_says_what_stands_there_and_how_well_it_is_known() -> None:
    here = shown("432.4")
    found = claim(here, LATER)
    assert (found.gross, found.net_g) == (still("432.4"), D("120.0"))
    # two displays that stand still: d / sqrt(12) each, kept to a microgram (GUM 5.1.2)
    assert found.budget.u_g == found.u_g == D("0.040826")
    assert (found.verdict, found.carried_g) == (Verdict.ON_TARGET, D(0))


@pytest.mark.parametrize(
    ("net", "verdict"),
    [
        # 119 to 121 g allowed, less and plus a guard of two standard uncertainties (0.08165 g)
        ("118.91", Verdict.SHORT),
        ("118.92", Verdict.TOO_CLOSE),
        ("119.08", Verdict.TOO_CLOSE),
        ("119.09", Verdict.ON_TARGET),
        ("120.91", Verdict.ON_TARGET),
        ("120.92", Verdict.TOO_CLOSE),
        ("121.08", Verdict.TOO_CLOSE),
        ("121.09", Verdict.OVER),
    ],
)
def test_the_verdict_keeps_its_guard(net: str, verdict: Verdict) -> None:
    """Guarded acceptance, JCGM 106:2012, 8.3."""
    assert poured(net).now.claim is not None
    assert claim(poured(net), LATER).verdict is verdict


def test_an_amount_on_target_is_judged_and_begun_when_it_was_first_seen() -> None:
    here = shown("432.4")
    move = judge_amount(here, seen("432.4"))
    assert move == Move(
        replace(
            here.now, phase=Phase.JUDGED, claim=claim(here, LATER), sum_g=D("120.0"), started=LATER
        )
    )
    begun = replace(here, now=replace(here.now, started=TARED, taking_g=D(130)))
    again = judge_amount(begun, seen("432.4")).now
    assert (again.started, again.taking_g) == (TARED, None)


def test_an_over_pour_is_held_durably_with_what_is_in() -> None:
    here = shown("442.4")
    move = judge_amount(here, seen("442.4"))
    draft = Draft(Kind.HELD, {"addition": 1, "cause": "over", "scale": "bench", "sum_g": "130.0"})
    now = replace(
        here.now, phase=Phase.HELD, claim=claim(here, LATER), sum_g=D("130.0"), started=LATER
    )
    assert move == Move(now, (draft,))


@pytest.mark.parametrize(
    ("display", "phase"),
    [
        ("442.4", Phase.SETTLING),
        ("442.2", Phase.SETTLING),
        ("442.6", Phase.SETTLING),
        ("442.1", Phase.HELD),
        ("442.7", Phase.HELD),
    ],
)
def test_what_is_being_taken_out_of_is_held_again_only_once_it_is_another_amount(
    display: str, phase: Phase
) -> None:
    """Two intervals either way are the same amount still."""
    taking = bench(now=Now(Phase.SETTLING, taking_g=D("130.0")))
    move = judge_amount(shown(display, taking), seen(display))
    assert move.now.phase is phase
    assert move.now.taking_g == (D("130.0") if phase is Phase.SETTLING else None)
    assert len(move.drafts) == (0 if phase is Phase.SETTLING else 1)


# --- what else is seen ------------------------------------------------------------------------


def test_a_pour_begins_once() -> None:
    here = shown("332.4", load=Load.POURING)
    first = pour(here, seen("332.4", Load.POURING))
    assert first == Move(replace(here.now, phase=Phase.POURING, started=LATER))
    later = replace(here, now=replace(first.now, phase=Phase.SETTLING))
    assert pour(later, seen("332.4", Load.POURING, at="another")).now.started == LATER


def test_settling_changes_nothing_but_the_phase() -> None:
    here = poured("50", Phase.POURING, started=TARED)
    assert slowed(here, seen("362.4")) == Move(replace(here.now, phase=Phase.SETTLING))


def test_settled_with_nothing_in_was_no_pour() -> None:
    here = bench(now=Now(Phase.POURING, sum_g=D(3), started=TARED, swapped=True, unsure=True))
    assert emptied(here, seen("312.4")) == Move(Now(Phase.READY, unsure=True))


@pytest.mark.parametrize(
    ("phase", "by_difference", "sum_g", "was", "swapped"),
    [
        (Phase.READY, False, None, False, True),
        (Phase.READY, False, "0.2", False, True),  # two intervals are nothing
        (Phase.READY, False, "0.21", False, False),
        (Phase.SETTLING, False, None, False, True),
        (Phase.POURING, False, None, False, False),  # taken off with the spoon still going
        (Phase.POURING, False, None, True, True),
        (Phase.POURING, True, None, False, True),
        (Phase.POURING, True, "30", False, False),
    ],
)
def test_lifted_with_nothing_in_what_comes_next_may_be_another_vessel(
    phase: Phase, by_difference: bool, sum_g: str | None, was: bool, swapped: bool
) -> None:
    of = FROM_BOTTLE if by_difference else batch()
    now = Now(phase, sum_g=None if sum_g is None else D(sum_g), swapped=was, started=TARED)
    move = lifted(bench(of, now), seen("0"))
    assert move == Move(replace(now, phase=Phase.AWAITING, swapped=swapped))


def test_held_for_the_amount_it_is_kept_judged_and_nothing_is_decided() -> None:
    here = held(poured("130"), Cause.OVER)
    later = shown("432.4", here)
    move = watch(later, seen("432.4"))
    assert move == Move(replace(later.now, claim=claim(later, LATER), sum_g=D("120.0")))
    gone = held(poured("130"), Cause.SCALE_LOST)
    assert watch(gone, seen("432.4")) == Move(gone.now)


# --- the link ---------------------------------------------------------------------------------


def lost(here: Any, before: Stood | None = None, link: Link = Link.LOST) -> Move:
    return link_gone(here, LinkEvent(LATER, link, before, "bench"))


def drifting(here: Any, **more: Any) -> Any:
    return replace(here, now=replace(here.now, drift_g_min=D("0.06"), low_t=3.0, **more))


@pytest.mark.parametrize("link", [Link.LOST, Link.SILENT])
def test_what_was_under_way_is_held_with_what_was_in(link: Link) -> None:
    here = drifting(poured("50", Phase.SETTLING, started=TARED))
    move = lost(here, link=link)
    assert move == Move(
        Now(Phase.HELD, sum_g=D("50.0"), started=TARED, unsure=True),
        (
            Draft(
                Kind.HELD,
                {"addition": 1, "cause": str(link), "scale": "bench", "sum_g": "50.0"},
            ),
        ),
    )


def test_what_stood_there_when_the_link_went_goes_before_what_was_seen() -> None:
    stood = Stood(
        level([D("372.4")] * 3, INTERVAL),
        False,
        {"decoder": dict(EVIDENCE.decoder), "readings": list(EVIDENCE.readings)},
    )
    move = lost(drifting(poured("50", Phase.POURING)), stood)
    assert move.now == Now(Phase.HELD, sum_g=D("60.0"), unsure=True)
    assert move.drafts == (
        Draft(
            Kind.HELD,
            {
                "addition": 1,
                "cause": "scale lost",
                "scale": "bench",
                "sum_g": "60.0",
                "before_g": "372.4",
                "before_u_g": "0.028868",
                "before_budget": {"rounding": "0.028868", "spread": "0.000000"},
                "settled": False,
                "evidence": {
                    "before": {
                        "decoder": {"shape": "test-lines"},
                        "readings": [{"t": 1.0, "raw": "3433322e34", "grams": "432.4"}],
                    }
                },
            },
        ),
    )


def test_a_vessel_that_was_off_when_the_link_went_says_nothing_of_what_is_in() -> None:
    here = poured("50", Phase.SETTLING, sum_g=D("50.0"))
    move = lost(here, Stood(still("0"), True, {}))
    assert move.drafts[0].body == {
        "addition": 1,
        "cause": "scale lost",
        "scale": "bench",
        "sum_g": "50.0",
    }
    off = shown("0", bench(now=Now(Phase.AWAITING, sum_g=D(33))))
    assert lost(off).now.sum_g == D(33)
    assert lost(shown("311.9")).now.sum_g == 0  # no less than nothing is ever in


def test_before_there_is_a_tare_there_is_nothing_to_hold() -> None:
    here = drifting(shown("432.4", bench(tare=None, now=Now(Phase.AWAITING, sum_g=D(3)))))
    assert lost(here) == Move(Now(Phase.AWAITING))


def test_a_hold_for_the_scale_is_not_held_twice_and_one_for_the_amount_is() -> None:
    for cause in (Cause.SCALE_LOST, Cause.SCALE_SILENT, Cause.SCALE_AT_ZERO):
        move = lost(held(poured("130"), cause))
        assert move.drafts == ()
        assert (move.now.phase, move.now.unsure, move.now.gross_g) == (Phase.HELD, True, None)
        assert (move.now.claim, move.now.level) == (None, None)
    again = lost(held(poured("130"), Cause.OVER))
    assert [one.body["sum_g"] for one in again.drafts] == ["130.0"]
    assert again.now.sum_g == Decimal("130.0")
