"""Every value of every kind of entry, changed or taken out by somebody who makes the hashes fit.

What becomes of each stands in ``fixtures/records/forged.txt``, a line a place: refused, with the
code and the field that is named, or ``stands``, since nothing else in the record says it (a name, a
reason, bytes that no decoder was handed in for). A line that changes is a change to what a record
is held to: ``python -m tests.domain.test_forged_values`` writes the file anew, to be read.
"""

from __future__ import annotations

import copy
import json
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from tests.domain.kept import Kept
from tests.domain.process_world import World
from tests.domain.test_damages import NAMES, golden
from tests.domain.test_verify import JOURNAL, flip, leaves
from tests.station import everything
from tests.station.scripted import Hand
from weighd.domain.batch import Batch, Kind
from weighd.domain.corrections import check_correction
from weighd.domain.countersigning import check_countersigned
from weighd.domain.errors import RecordError
from weighd.domain.fold import evolve, opened
from weighd.domain.following import readable
from weighd.domain.opening_verify import check_opening
from weighd.domain.record import Entry
from weighd.domain.rederive import Rederiver
from weighd.domain.verify import read_export
from weighd.domain.whose import BINDS, check_names
from weighd.domain.yield_verify import check_yield

RECORDS = Path(__file__).parents[2] / "fixtures" / "records"
KEPT = Kept("forged.txt", RECORDS)


def records() -> Iterator[tuple[Entry, ...]]:
    """Golden records, older ones, one driven by hand, and one with every step after weighing."""
    yield from (golden(one) for one in NAMES)
    for file in sorted(RECORDS.glob("*.json")):
        yield tuple(read_export(json.loads(file.read_text("utf-8"))))
    yield tuple(JOURNAL)
    yield tuple(World().finished().entries)
    yield everything.planned()
    yield everything.put_right()
    yield another_vessel()


def another_vessel() -> tuple[Entry, ...]:
    """A vessel that was set down in the place of the one that was tared, and a lot that ran out."""
    hand = Hand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    hand.show("312.4")
    hand.lift("0.0")
    hand.lift("400.0")
    hand.do("tare", confirm=True)
    hand.show("400.0")
    hand.do("name lot", lot="M-1")
    hand.pour("600")
    hand.do("next lot", lot="M-2")
    hand.pour("900")
    hand.do("accept")
    hand.do("abandon", reason="enough")
    return tuple(hand.journal)


def hold(batch: Batch | None, entry: Entry) -> None:
    """An entry against the batch before it, as a verification does once hashes are seen to fit."""
    with readable(f"entry {entry.seq}"):
        check_names(entry)
        if batch is None:
            check_opening(opened(entry), entry)
            return
        rederiver = Rederiver(None)
        rederiver.check(batch, entry)
        if entry.kind == Kind.YIELD:
            check_yield(batch, entry, rederiver)
        elif entry.kind == Kind.CORRECTED:
            check_correction(batch, entry)
        elif entry.kind == Kind.COUNTERSIGNED:
            check_countersigned(batch, entry)
        evolve(batch, entry)


def answer(batch: Batch | None, entry: Entry) -> str:
    """What a forged entry is answered with."""
    try:
        hold(batch, entry)
    except RecordError as error:
        if error.code == "does-not-follow":
            assert error.where == f"entry {entry.seq} ({entry.kind})"
            named = re.match(r"(\S+) is .*", error.message, re.DOTALL)
            told = re.sub(r"\d+", "#", named[1]) if named else "in words"
            return f"{error.code}: {told}"
        if error.code == "too-little-evidence":
            assert error.where
        elif error.where:
            assert error.where == f"entry {entry.seq}"
        else:  # told by the fold, which names the entry in its message
            assert f"Entry {entry.seq} (" in error.message
        return error.code
    return "stands"


@cache
def forged() -> dict[tuple[str, str, str], set[str]]:
    """By kind of entry, place in it and what was done there: the answers that were given."""
    found: dict[tuple[str, str, str], set[str]] = defaultdict(set)
    for entries in records():
        batch: Batch | None = None
        seen = set[Any]()
        for entry in entries:
            if entry.kind != Kind.OPENED and (batch is None or entry.body.get("batch") != batch.id):
                continue
            # nothing is weighed in the world of steps, of a formula that asks for something
            shape = (entry.kind, frozenset(entry.body))
            for path in leaves(dict(entry.body)) if entry.body.get("additions") != [] else ():
                place = ".".join("#" if isinstance(key, int) else key for key in path)
                if path[0] in BINDS or (shape, place) in seen:
                    continue
                seen.add((shape, place))
                for done, body in changes(entry, path):
                    said = answer(batch, replace(entry, body=body))
                    found[entry.kind, place, done].add(said)
            batch = opened(entry) if batch is None else evolve(batch, entry)
    return found


def changes(entry: Entry, path: tuple[Any, ...]) -> Iterator[tuple[str, Any]]:
    """The body with one value changed, and with it taken out."""
    for done in ("changed", "gone"):
        body = copy.deepcopy(dict(entry.body))
        inside: Any = body
        for key in path[:-1]:
            inside = inside[key]
        if done == "gone":
            del inside[path[-1]]
        else:
            inside[path[-1]] = flip(inside[path[-1]])
        yield done, body


def lines() -> str:
    rows = [
        f"{kind} | {place} | {done} | {', '.join(sorted(said))}"
        for (kind, place, done), said in sorted(forged().items())
    ]
    return "\n".join(rows) + "\n"


def test_each_value_of_a_record_is_held_to_what_it_follows_from() -> None:
    assert KEPT.beside(lines().splitlines()) == ([], [])


def test_what_a_weighing_follows_from_cannot_be_changed_at_all() -> None:
    """Whatever the file says: no amount, no verdict and no limit stands once it was changed."""
    for (kind, place, done), said in forged().items():
        if kind == Kind.ACCEPTED and (place.endswith("_g") or place == "verdict"):
            assert "stands" not in said, (place, done)


if __name__ == "__main__":
    KEPT.write(lines().splitlines())
