"""A record in which a pour was put right does not verify once it was changed."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from tests.station.putting_right import SUCROSE_LAST, Cook, own_mix
from tests.station.scripted import LineDecoder
from weighd.domain.errors import RecordError
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.recovery import Trouble
from weighd.domain.recovery_ways import enlarged
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
