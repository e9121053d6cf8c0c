"""Entries that say what their evidence does not, one by one: what each is told.

Forged are entries of batches that were weighed by hand, each against the batch as it stood before
it, as a verification holds them once their hashes are seen to fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from tests.domain.bench_world import LATER, D, batch
from tests.domain.evolving import ACCEPTED, entry_of
from tests.domain.process_world import World
from tests.domain.test_shares import CARRIER, PART, REST, TAKEN, weighed
from tests.domain.test_verify import JOURNAL
from tests.station.planned_kitchen import ICE, TWO, Kitchen
from tests.station.scripted import Hand, LineDecoder
from weighd.domain.batch import Batch, Cause, Held, Kind, opened
from weighd.domain.errors import RecordError
from weighd.domain.fold import evolve
from weighd.domain.following import readable
from weighd.domain.record import Entry
from weighd.domain.rederive import Rederiver


def standing(entries: Sequence[Entry], at: Entry) -> Batch:
    """The batch as it was before an entry."""
    of = opened(entries[0])
    for one in entries[1 : entries.index(at)]:
        of = evolve(of, one)
    return of


def told(of: Batch, entry: Entry, **changes: Any) -> tuple[str, str]:
    """Code and sentence for an entry with these values changed; ``None`` leaves one out."""
    body = {**entry.body, **changes}
    body = {key: value for key, value in body.items() if value is not None}
    with pytest.raises(RecordError) as caught, readable(f"entry {entry.seq}"):
        Rederiver(lambda _: LineDecoder()).check(of, replace(entry, body=body))
    assert caught.value.where.startswith((f"entry {entry.seq}", "reading at"))
    return caught.value.code, caught.value.message


def find(entries: Sequence[Entry], kind: Kind, key: str = "n") -> Entry:
    return next(one for one in entries if one.kind == kind and key in one.body)


# --- tares ----------------------------------------------------------------------------------------


@cache
def planned_batch(*, tipped: bool) -> tuple[Entry, ...]:
    """On two scales: a dish whose content is tipped into the bowl, or is said to be, and is not."""
    kitchen = Kitchen(ICE, TWO)
    while (current := kitchen.batch.current) is not None and current.n < 4:
        kitchen.handle(current.n)
        kitchen.weigh()
    kitchen.handle(4, tip=tipped)
    kitchen.hand.on = "bench"
    kitchen.hand.do("tare", confirm=not tipped)
    return tuple(kitchen.hand.journal)


def test_a_bowl_that_came_back_as_it_should_needed_no_word() -> None:
    entries = planned_batch(tipped=True)
    entry = find(entries, Kind.TARED, "expected_g")
    of = standing(entries, entry)
    Rederiver(None).check(of, entry)
    code, says = told(of, entry, expected_confirmed=True)
    assert code == "does-not-follow"
    assert says == "expected_confirmed is True, where its evidence gives no word of it."


def test_a_bowl_that_did_not_is_told_to_have_been_tared_all_the_same() -> None:
    entries = planned_batch(tipped=False)
    entry = find(entries, Kind.TARED, "expected_confirmed")
    of = standing(entries, entry)
    Rederiver(None).check(of, entry)
    code, says = told(of, entry, expected_confirmed=None)
    assert code == "does-not-follow"
    assert "a word of whoever tared it all the same" in says


def test_where_no_bowl_is_due_none_is_expected() -> None:
    entry = find(JOURNAL, Kind.TARED)
    found = told(standing(JOURNAL, entry), entry, expected_g="312.4")
    assert found == (
        "does-not-follow",
        "expected_g is 312.4, where its evidence gives nothing to expect.",
    )


def test_another_vessel_counted_as_much_as_its_display_says() -> None:
    """500 g of milk, and a vessel set down in place of the first: no sugar was added."""
    hand = Hand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    hand.pour("812.4")
    hand.do("accept")
    hand.lift("0.0")
    hand.lift("1033.0")
    hand.do("tare", confirm=True)
    entry = find(hand.journal, Kind.TARED, "not_added_g")
    of = standing(hand.journal, entry)
    Rederiver(None).check(of, entry)
    code, says = told(of, entry, not_added_g="220.5")
    assert (code, says.partition(",")[0]) == ("does-not-follow", "not_added_g is 220.5")
    code, says = told(replace(of, tares={}), entry)
    assert code == "unreadable-entry"
    assert "nothing was tared" in says


def went_on(**changes: Any) -> tuple[Batch, Entry]:
    """A scale that came back at zero with 40 g in, as it was recorded once: with a new tare."""
    of = batch(budgets=False, held=Held(Cause.SCALE_AT_ZERO, LATER, D(40)), **changes)
    readings = [{"t": n / 10, "raw": "34302e300a", "grams": "40.0"} for n in range(4)]
    body = {"addition": 1, "scale": "bench", "cause": "scale at zero", "sum_g": "40.0"}
    more = {"tare_g": "0.0", "u_g": "0.0408", "evidence": {"decoder": {}, "readings": readings}}
    return of, entry_of(of, Kind.RESUMED, **body, **more)


def test_a_new_tare_is_what_shows_less_what_was_in() -> None:
    """u: sqrt(0.0289² + 0.0289²), a display of 0.1 g before and after."""
    of, entry = went_on()
    Rederiver(None).check(of, entry)
    for key, value in (("tare_g", "0.1"), ("u_g", "0.0409"), ("sum_g", "39.9")):
        code, says = told(of, entry, **{key: value})
        assert code == "does-not-follow"
        assert says.startswith("u_g" if key == "u_g" else "tare_g")
    # Since budgets are kept, one without is none.
    code, says = told(replace(of, budgets=True), entry)
    assert (code, says.partition(",")[0]) == ("does-not-follow", "budget is missing")


def test_nothing_goes_on_from_a_tare_that_there_was_not() -> None:
    code, says = told(*went_on(tare=None))
    assert (code, says.partition(",")[0]) == ("does-not-follow", "tare_g is 0.0")


# --- acceptances and ends -------------------------------------------------------------------------


def test_what_is_not_on_target_has_a_reason() -> None:
    entry = [one for one in JOURNAL if one.kind == Kind.ACCEPTED][-1]
    assert entry.body["verdict"] == "short"
    found = told(standing(JOURNAL, entry), entry, reason="")
    assert found == (
        "does-not-follow",
        "reason is none, where its evidence gives a reason, since it is not on target.",
    )


def test_a_batch_with_steps_is_weighed_and_one_without_is_closed() -> None:
    closed = JOURNAL[-1]
    of = standing(JOURNAL, closed)
    found = told(of, replace(closed, kind=Kind.WEIGHED))
    assert found[1] == "kind is all weighed, where its evidence gives batch closed."
    entries = World().entries
    found = told(standing(entries, entries[1]), replace(entries[1], kind=Kind.CLOSED))
    assert found[1] == "kind is batch closed, where its evidence gives all weighed."


# --- readings -------------------------------------------------------------------------------------


def test_bytes_of_another_step_are_another_display() -> None:
    entry = find(JOURNAL, Kind.TARED)
    evidence = dict(entry.body["evidence"])
    readings = [dict(one) for one in evidence["readings"]]
    readings[-1]["step_g"] = "0.5"
    found = told(standing(JOURNAL, entry), entry, evidence={**evidence, "readings": readings})
    assert found[0] == "evidence-differs"
    assert "of a display with other steps" in found[1]


# --- what is none at all --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "change",
    [
        {"scales": []},
        {"scales": "bench"},
        {"formula": {**JOURNAL[0].body["formula"], "content": []}},
        {"rule": 3},
        {"additions": 3},
    ],
)
def test_an_opening_of_another_shape_is_told_as_such(change: dict[str, Any]) -> None:
    with pytest.raises(RecordError) as caught:
        opened(replace(JOURNAL[0], body={**JOURNAL[0].body, **change}))
    assert caught.value.code == "unreadable-entry"


@pytest.mark.parametrize(("part", "carrier"), [("0", "0"), ("0", "108"), ("12", "0"), ("-1", "1")])
def test_of_a_premix_without_one_of_the_two_nothing_follows(part: str, carrier: str) -> None:
    done = (weighed(1, part),)
    of = batch(PART, CARRIER, TAKEN, REST, accepted=done)
    body = {**ACCEPTED, "addition": 2, "net_g": carrier}
    after = evolve(of, entry_of(of, Kind.ACCEPTED, **body))
    assert after.additions == (PART, CARRIER, TAKEN, REST)


def test_figures_that_nothing_can_be_reckoned_from_are_told() -> None:
    """A tonne of what is one part in 10^40 of its premix: more digits than are reckoned in."""
    tiny = "0." + "0" * 19 + "1"
    tonne = replace(TAKEN.step, whole_g=D(1_000_000))  # type: ignore[type-var]
    of = batch(PART, CARRIER, replace(TAKEN, step=tonne), accepted=(weighed(1, tiny),))
    forged = entry_of(of, Kind.ACCEPTED, **{**ACCEPTED, "addition": 2, "net_g": "9" * 20})
    with pytest.raises(RecordError) as caught:
        evolve(of, forged)
    assert caught.value.code == "unreadable-entry"
    with pytest.raises(RecordError) as caught, readable("entry 7"):
        raise ZeroDivisionError
    assert (caught.value.code, caught.value.where) == ("unreadable-entry", "entry 7")
