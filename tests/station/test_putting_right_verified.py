"""A record in which a pour was put right does not verify once it was changed."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.domain.forging import sealed_anew
from tests.station.putting_right import SUCROSE_LAST, Cook, own_mix
from tests.station.scripted import LineDecoder
from weighd.domain.errors import RecordError
from weighd.domain.fold import evolve, fold
from weighd.domain.formula import Ingredient
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.recovery import Trouble, Way
from weighd.domain.recovery_ways import as_it_is, enlarged
from weighd.domain.verify import Verifier


def a_record() -> list[Entry]:
    cook = Cook()
    cook.begin(own_mix(SUCROSE_LAST))
    cook.weigh(until="sucrose")
    cook.add("352")
    cook.choose(enlarged(cook.trouble(Trouble.OVER)))
    cook.settle()
    cook.finish()
    return cook.journal


RECORD = a_record()


def _body(change: Callable[[dict[str, Any]], None]) -> list[Entry]:
    """The record with the entry that puts it right changed by somebody who can compute hashes."""
    out: list[Entry] = []
    tail, after = Tail(), "0" * 64
    for n, one in enumerate(RECORD, start=1):
        body = copy.deepcopy({**one.body})
        if one.kind == "put right":
            change(body)
        entry = seal("test", one.kind, one.at, {**body, "n": n, "after": after}, tail)
        tail, after = Tail(entry.seq, entry.hash), entry.hash
        out.append(entry)
    return out


@pytest.mark.parametrize(
    "change",
    [
        lambda it: it.update(net_g="340.0"),
        lambda it: it.update(rests_on_g="340.0"),
        lambda it: it.update(mass_g="2400"),
        lambda it: it.update(reason=""),
        lambda it: it.update(cause="ran out"),
        lambda it: it.update(cause="wrong ingredient"),  # and not said what it was
        lambda it: it.update(way="shrink"),
        lambda it: it["wholes"][0].update(target_g="1600.00"),
        lambda it: it["wholes"].pop(),
        lambda it: it["additions"][1].update(target_g="90.00"),
        lambda it: it["additions"][0].update(high_g="400"),
        lambda it: it["additions"].pop(),
        lambda it: it["evidence"]["readings"][0].update(grams="2811.0"),
        lambda it: it.pop("evidence"),
        lambda it: it.update(addition=8),
        lambda it: it.update(way="rebalance", keeps=[]) or it["wholes"][0].update(target_g="1"),
    ],
)
def test_the_entry_that_does_not_follow_is_named(change: Callable[[dict[str, Any]], None]) -> None:
    at = next(one.seq for one in RECORD if one.kind == "put right")
    changed = _body(change)
    with pytest.raises(RecordError, match=f"entry {at}"):
        verify(changed)


def verify(entries: list[Entry]) -> None:
    verifier = Verifier(whole=True, reread=lambda _spec: LineDecoder())
    for entry in entries:
        verifier.take(entry)


# --- at the wrong place ---------------------------------------------------------------------------

AT = next(n for n, one in enumerate(RECORD) if one.kind == "put right")
NOT_HERE = {"evidence", "tare_g", "gross_g"}


def refused(*entries: Entry) -> tuple[str, str, str]:
    with pytest.raises(RecordError) as caught:
        verify(sealed_anew(entries))
    return caught.value.code, caught.value.where, caught.value.message


def changed(one: Entry, **body: Any) -> Entry:
    return replace(one, body={**one.body, **body})


def test_an_addition_that_is_not_weighed_is_not_put_right() -> None:
    before, entry = fold(RECORD[:AT]), RECORD[AT]
    assert before is not None
    after = evolve(before, entry)
    assert [one.n for one in after.put_right] == [9]
    for n in (8, 10, None):
        with pytest.raises(RecordError, match="not about the addition being weighed") as caught:
            evolve(before, changed(entry, addition=n))
        assert caught.value.code == "unreadable-entry"


def test_what_was_not_tared_is_known_to_hold_nothing() -> None:
    """Readings without a tare show no amount; that nothing was poured needs none to be shown."""
    opened, entry = RECORD[0], RECORD[AT]
    code, where, message = refused(opened, changed(entry, addition=1))
    assert (code, where) == ("does-not-follow", "entry 2 (put right)")
    assert "net_g is 352.0" in message
    assert "not tared" in message
    body = {key: one for key, one in entry.body.items() if key not in NOT_HERE}
    body |= {"addition": 1, "cause": "wrong ingredient", "way": "start again", "net_g": "0"}
    body |= {"rests_on_g": "0", "wholes": [], "mass_g": opened.body["batch_g"]}
    body["was"] = {"ingredient": "cocoa", "name": "Cocoa", "allergens": [], "caution": ""}
    body["additions"] = opened.body["additions"]
    entries = sealed_anew([opened, replace(entry, body=body)])
    verify(entries)
    batch = fold(entries)
    assert batch is not None
    assert (batch.tares, batch.emptied, batch.additions) == ({}, {}, fold([opened]).additions)  # type: ignore[union-attr]


def emptied(more: str) -> tuple[Entry, ...]:
    """A wrong ingredient taken out again, all but so much, and the vessel tared anew."""
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="powder")
    before = cook.display
    cook.add("60")
    wrong = cook.trouble(Trouble.WRONG, Ingredient("cocoa", "Cocoa"))
    cook.choose(as_it_is(wrong, Way.START_AGAIN), "wrong tin")
    cook.show(str(before + Decimal(more)), 2)
    cook.do("tare", confirm=more != "0")
    return tuple(cook.journal)


@pytest.mark.parametrize(
    ("more", "stood"),
    [
        ("0", {"stood_g": "1"}),
        ("0", {"stood_confirmed": True}),
        ("0", {"stood_confirmed": 1}),
        ("12", {"stood_g": "2092.0"}),
        ("12", {"stood_confirmed": False}),
        ("12", {"stood_confirmed": 0}),
        ("12", {"stood_confirmed": 1}),
        ("12", {"stood_confirmed": "yes"}),
    ],
)
def test_whether_a_vessel_was_as_before_is_told_by_its_tares(
    more: str, stood: dict[str, Any]
) -> None:
    *entries, tared = emptied(more)
    verify([*entries, tared])
    code, where, message = refused(*entries, changed(tared, **stood))
    assert (code, where) == ("does-not-follow", "entry 6 (tared)")
    assert next(iter(stood)) in message
    if "stood_confirmed" in stood:
        assert message.endswith("no word of it." if more == "0" else "tared it all the same.")


def test_a_vessel_that_nothing_was_taken_out_of_was_not_compared() -> None:
    entries = emptied("0")[:2]
    verify([*entries])
    code, where, message = refused(entries[0], changed(entries[1], stood_g="400.0"))
    assert (code, where) == ("does-not-follow", "entry 2 (tared)")
    assert "stood_g is 400.0" in message
    assert "nothing to compare with" in message
