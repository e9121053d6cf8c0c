"""What a batch is after each entry, by laws that hold of every golden record."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from tests.domain.test_damages import NAMES, golden
from weighd.domain.batch import Batch, Kind
from weighd.domain.fold import evolve, opened
from weighd.domain.record import Entry

#: What ends a hold, whatever it was for.
LETS_GO = (Kind.DECIDED, Kind.RESUMED, Kind.TARED, Kind.ACCEPTED)


def walked(entries: tuple[Entry, ...]) -> list[tuple[Entry, Batch, Batch]]:
    """Each entry of a batch with what the batch was before and after it."""
    out = []
    batch: Batch | None = None
    for entry in entries:
        if entry.kind == Kind.OPENED:
            batch = opened(entry)
        elif batch is not None and entry.body.get("batch") == batch.id:
            after = evolve(batch, entry)
            out.append((entry, batch, after))
            batch = after
    return out


@pytest.mark.parametrize("name", NAMES)
def test_a_hold_lasts_until_something_ends_it_and_no_longer(name: str) -> None:
    for entry, before, after in walked(golden(name)):
        if entry.kind == Kind.HELD:
            assert after.held is not None
            assert str(after.held.cause) == entry.body["cause"]
        elif entry.kind in LETS_GO:
            assert after.held is None
        elif entry.kind in (Kind.LOT_NAMED, Kind.RESTARTED):
            assert after.held == before.held


def test_a_batch_that_is_abandoned_while_it_is_held_is_held_no_more() -> None:
    last = golden("abandoned")[-1]
    assert last.kind == Kind.ABANDONED
    held = next(after for it, _, after in walked(golden("over-pour")) if it.kind == Kind.HELD)
    body = {**last.body, "batch": held.id, "n": held.n + 1, "after": held.after}
    gone = evolve(held, replace(last, body=body))
    assert (gone.held, gone.reason) == (None, last.body["reason"])


def test_golden_records_have_holds_that_were_ended_in_more_than_one_way() -> None:
    ended = {
        str(entry.kind)
        for name in NAMES
        for entry, before, after in walked(golden(name))
        if before.held is not None and after.held is None
    }
    assert {"decided", "resumed"} <= ended


@pytest.mark.parametrize("name", NAMES)
def test_what_was_tared_stands_on_its_scale_under_its_name(name: str) -> None:
    for entry, _, after in walked(golden(name)):
        if entry.kind != Kind.TARED:
            continue
        scale, vessel = entry.body["scale"], entry.body.get("vessel")
        assert after.standing[scale] == (vessel["name"] if vessel else "")
        assert after.tares[scale].level.grams == Decimal(entry.body["tare_g"])
        named = {**entry.body, "vessel": {"name": "steel bowl"}}
        batch = next(was for it, was, _ in walked(golden(name)) if it is entry)
        assert evolve(batch, replace(entry, body=named)).standing[scale] == "steel bowl"


@pytest.mark.parametrize("name", NAMES)
def test_a_lot_that_runs_out_is_kept_with_how_far_it_went(name: str) -> None:
    """The first lot of an addition that is named, and then two more in its course."""
    rows = walked(golden(name))
    named = [(entry, before) for entry, before, _ in rows if entry.kind == Kind.LOT_NAMED]
    if not named:
        return
    entry, batch = named[0]
    n = entry.body["addition"]
    plain = {key: entry.body[key] for key in entry.body if key not in ("from_g", "lot")}
    for lot, upto in (("L1", None), ("L2", "5.5"), ("L3", "20")):
        body = {**plain, "lot": lot, **({} if upto is None else {"from_g": upto})}
        # the chain inside the batch is not what is looked at here
        body |= {"n": batch.n + 1, "after": batch.after}
        batch = evolve(batch, replace(entry, body=body))
        assert batch.lots[n] == lot
    assert list(batch.splits[n]) == [("L1", Decimal("5.5")), ("L2", Decimal(20))]
