"""A key that looked like a lift: what is poured on, what is set down, what a lift then shows."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.domain.bench_world import D, batch, bench, held, seen
from tests.domain.test_zero_answers import BOTTLE, SHIFT, stood, with_shift
from weighd.domain.addition import Bench, Climb, Now, Phase
from weighd.domain.batch import Batch, Cause
from weighd.domain.sights import look
from weighd.domain.weighing import step
from weighd.domain.zero_moves import below_empty
from weighd.domain.zero_unseen import perhaps_on
from weighd.domain.zeroing import is_off

POURED = Climb(10.0, 12.0, D(40), 3)
NOUGHT = stood("0.2")


def off(climb: Climb | None = POURED, of: Batch | None = None, sum_g: str = "50") -> Bench:
    """The vessel of 312.4 g is off, as far as is known, with 50 g in it."""
    return bench(of, Now(Phase.AWAITING, sum_g=D(sum_g), climb=climb))


def rests(here: Bench, grams: str, **more: Any) -> tuple[Phase, str | None]:
    """The display stands there: the phase, and what stood after, as it is held."""
    given = {"nought": lambda: NOUGHT, "t": 13.0, **more}
    move = step(here.batch, here.now, seen(grams, **given))
    return move.now.phase, move.drafts[0].body.get("after_g") if move.drafts else None


def test_what_is_poured_onto_nothing_is_asked_about_from_the_zero_it_began_at() -> None:
    assert rests(off(), "100") == (Phase.HELD, "0.2")
    assert rests(off(), "433") == (Phase.HELD, "0.2")  # more than the vessel by now


@pytest.mark.parametrize(
    ("here", "grams"),
    [
        (off(None), "100"),  # nobody saw it at zero
        (off(replace(POURED, grams=D(100), times=2)), "100"),  # two growths are a thing set down
        (off(replace(POURED, grams=D(100), t=11.0)), "100"),  # so is what came within a second
        (off(), "5.0"),  # dirt
        (off(), "0.0"),
        (off(sum_g="0.2"), "100"),  # nothing was in: it may be tared anew
        (off(of=batch(tare="5.0")), "1.0"),  # so light a vessel is not told from none
    ],
)
def test_anything_else_is_a_thing_on_the_pan_while_the_vessel_is_off(
    here: Bench, grams: str
) -> None:
    assert rests(here, grams) == (Phase.AWAITING, None)


def test_where_no_reading_of_the_zero_is_left_the_vessel_is_awaited() -> None:
    assert rests(off(), "100", nought=lambda: None) == (Phase.AWAITING, None)


@pytest.mark.parametrize(
    ("here", "grams"),
    [
        (off(), "362.4"),  # what stood there, by whatever way
        (off(), "362.7"),
        (off(replace(POURED, t=11.0)), "433"),
        (off(sum_g="0.2"), "433"),
    ],
)
def test_a_vessel_that_is_set_back_is_weighed(here: Bench, grams: str) -> None:
    assert rests(here, grams)[0] in (Phase.JUDGED, Phase.HELD)
    assert rests(here, grams)[1] is None


def test_a_little_off_what_stood_there_and_poured_it_is_asked_about() -> None:
    assert rests(off(), "362.8") == (Phase.HELD, "0.2")


def test_a_light_vessel_or_one_tared_at_zero_is_weighed_as_it_comes() -> None:
    """Of these a display of next to nothing does not say that they were off."""
    for tare in ("5.0", "0.0", "-20"):
        here = off(of=batch(tare=tare))
        assert rests(here, "60")[1] is None, tare


def test_a_bottle_that_is_set_back_is_weighed_as_it_comes() -> None:
    assert rests(off(of=BOTTLE), "800")[1] is None


@pytest.mark.parametrize(("grams", "phase"), [("-5.0", Phase.AWAITING), ("-5.1", Phase.HELD)])
def test_an_empty_pan_does_not_show_less_than_nothing(grams: str, phase: Phase) -> None:
    """With the vessel off, its display says that it was zeroed under something."""
    told = rests(off(None), grams)
    assert told == (phase, None if phase is Phase.AWAITING else grams)


def test_less_than_nothing_is_counted_from_the_zero_that_is_known() -> None:
    here = off(None)
    assert below_empty(here, D("-5.1"), None)
    assert not below_empty(here, SHIFT.grams - 5, SHIFT)  # zeroed with 432.4 g on it
    assert below_empty(here, SHIFT.grams - D("5.1"), SHIFT)
    assert rests(with_shift(here), "-437.4") == (Phase.AWAITING, None)
    assert rests(with_shift(here), "-437.5") == (Phase.HELD, "-437.5")
    keyed = off(None, batch(keyed=frozenset({"bench"})))  # what the vessel weighs is not known
    assert not below_empty(keyed, D(-400), None)
    assert not below_empty(off(None, batch(tare="5.0")), D(-400), None)


def test_with_the_vessel_off_nobody_can_say_that_it_is_on() -> None:
    below = {"sum_g": D(50), "before": None, "after": stood("-362.4")}
    here = held(off(None), Cause.SCALE_AT_ZERO, **below)
    assert is_off(here, D("-362.4"))
    assert is_off(here, D("-362.1"))
    assert not is_off(here, D("-362.0"))
    assert not is_off(held(off(None), Cause.SCALE_LOST, **below), D("-362.4"))
    assert not is_off(held(off(None), Cause.SCALE_AT_ZERO, **{**below, "after": None}), D(0))
    at = {**below, "after": stood("-5.0")}
    assert not is_off(held(off(None), Cause.SCALE_AT_ZERO, **at), D("-5.0"))
    assert not is_off(off(None), D("-362.4"))
    # The key was pressed meanwhile, with something else on: the same pan shows as much less.
    assert is_off(with_shift(here), D("-794.8"))
    assert not is_off(with_shift(here), D("-362.4"))
    before = held(off(None), Cause.SCALE_AT_ZERO, shift=SHIFT, **below)
    assert not is_off(with_shift(before), D("-362.4"))


@pytest.mark.parametrize(
    ("here", "grams", "may"),
    [
        (off(None), "0.0", True),
        (off(None), "1.0", True),
        (off(None), "-1.0", True),
        (off(None), "1.1", False),
        (off(sum_g="0.2"), "0.0", False),  # nothing is in: it is off, and may be another one
        (off(of=BOTTLE), "0.0", False),  # it is in the hand, to be poured from
        (bench(now=Now(Phase.JUDGED, sum_g=D(50))), "0.0", False),
    ],
)
def test_awaited_at_zero_with_some_in_it_may_stand_there(
    here: Bench, grams: str, *, may: bool
) -> None:
    assert perhaps_on(look(here, seen(grams))) is may
    moving = {"finding": {"level": None, "firm": False}}
    assert not perhaps_on(look(here, seen(grams, **moving)))


# --- how what shows came --------------------------------------------------------------------------


def climbs(*rows: tuple[float, str | None], here: Bench | None = None) -> Climb | None:
    here = here or off(None)
    for t, grams in rows:
        more = {"finding": {"level": None, "firm": False}} if grams is None else {}
        here = look(here, seen(grams, t=t, **more))
    return here.now.climb


@pytest.mark.parametrize(
    ("rows", "climb"),
    [
        (((1.0, "50"), (1.1, "60")), None),  # it never showed nothing
        (((1.0, "0.4"),), Climb(1.0, 1.0)),
        (((1.0, "0.0"), (1.1, "-1.0")), Climb(1.1, 1.1)),
        (((1.0, "0.0"), (1.1, "-1.1")), None),
        (((1.0, "0.0"), (1.5, "2.0")), Climb(1.0, 1.5, D("2.0"), 1)),
        (((1.0, "0.0"), (1.5, "2.0"), (1.6, "2.2")), Climb(1.0, 1.5, D("2.0"), 1)),  # it trembles
        (((1.0, "0.0"), (1.5, "2.0"), (1.6, "2.3")), Climb(1.0, 1.6, D("2.3"), 2)),
        (((1.0, "0.0"), (1.5, "20"), (1.6, "10")), Climb(1.0, 1.5, D(20), 1)),
        (((1.0, "0.0"), (1.5, "20"), (1.6, None)), Climb(1.0, 1.5, D(20), 1)),
        (
            ((1.0, "0.0"), (1.5, "20"), (1.6, "156.2")),
            Climb(1.0, 1.5, D(20), 1, 1.6, D("156.2"), D("156.2")),
        ),
        (((1.0, "0.0"), (1.5, "20"), (1.6, "156.1")), Climb(1.0, 1.6, D("156.1"), 2)),
        (((1.0, "0.0"), (1.5, "20"), (1.6, "0.9")), Climb(1.6, 1.6)),
    ],
)
def test_a_climb_begins_at_nothing_and_counts_what_grows(
    rows: tuple[tuple[float, str | None], ...], climb: Climb | None
) -> None:
    assert climbs(*rows) == climb


def test_only_while_the_vessel_is_awaited_is_it_looked_at() -> None:
    for phase in (Phase.READY, Phase.POURING, Phase.HELD):
        assert climbs((1.0, "0.0"), here=bench(now=Now(phase, climb=POURED))) is None
    assert climbs((1.0, "0.0"), here=bench(batch(tare=None), Now(Phase.AWAITING))) is None


STOOD = D("362.4")


def test_a_pour_takes_more_than_a_second_and_three_growths() -> None:
    assert POURED.poured(STOOD)
    assert not replace(POURED, t=11.0).poured(STOOD)
    assert replace(POURED, t=11.1).poured(STOOD)
    assert not replace(POURED, times=2).poured(STOOD)


def flowing(*rows: tuple[float, str]) -> Climb:
    """The display shows nothing at 10 s, and then rises like that past half the vessel (156.2)."""
    found = climbs((10.0, "0.0"), *rows)
    assert found is not None
    return found


def test_a_pour_that_passes_the_vessel_within_a_second_flows_on() -> None:
    steady = [(10 + n / 10, str(20 * n)) for n in range(1, 25)]
    it = flowing(*steady)
    assert (it.times, it.t) == (7, 10.7)
    assert (it.landed_g, it.flow_t, it.flow_g) == (D(200), 12.4, D(480))
    assert it.poured(STOOD)
    assert not it.poured(D(210))  # as much as stood there came within the second
    assert it.poured(D(211))


@pytest.mark.parametrize(
    ("rows", "poured"),
    [
        ([(10.2, "312"), (10.4, "313"), (11.2, "330")], False),  # set down, then a pause
        ([(10.2, "312"), (10.6, "320"), (11.1, "340")], True),
        ([(10.2, "312"), (10.6, "320"), (11.11, "340")], False),  # paused for longer than half
        ([(10.2, "312"), (10.6, "320"), (11.0, "340")], False),  # all within the second
        ([(10.2, "312"), (10.7, "320"), (11.2, "336.8")], False),  # a filter's tail: one in twenty
        ([(10.2, "312"), (10.7, "320"), (11.2, "336.9")], True),
        ([(10.2, "312"), (10.7, "320"), (11.2, "320.2")], False),  # it trembles
        ([(10.6, "312"), (11.1, "400")], False),  # nothing between for long: a slow scale
    ],
)
def test_what_is_set_down_flows_on_only_after_a_pause(
    rows: list[tuple[float, str]], poured: bool
) -> None:
    assert flowing(*rows).poured(STOOD) is poured


def test_a_first_growth_beyond_half_after_a_second_is_where_it_had_come_to() -> None:
    it = flowing((10.9, "150"), (11.3, "160"), (11.6, "170"))
    assert (it.landed_g, it.flow_g) == (D(160), D(170))
    assert it.poured(STOOD)
