"""Every way to damage a record, over every golden record: refused, named, and with the right word.

The words: *changed* (its content does not give its hash, or is no entry any more), *missing* (an
entry does not follow the one before it), *cut short*, *sealed anew* (changed, with hashes made to
fit), *wrong key*, *bad signature*. The signer is a stand-in; Ed25519 has its own tests.
"""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.domain.forging import sealed_anew
from tests.domain.test_signing import OURS, THEIRS, check
from weighd.domain.errors import RecordError
from weighd.domain.record import Entry, Tail
from weighd.domain.signing import HeadCheck, Signature, root_of, signed, signed_head
from weighd.domain.verify import Report, export, read_checks, read_export, verify_export

SESSIONS = Path(__file__).parents[2] / "fixtures" / "sessions"
NAMES = [one.name.removesuffix(".golden.json") for one in sorted(SESSIONS.glob("*.golden.json"))]
CHANGED = {"hash-mismatch", "unreadable-entry", "not-canonical"}
MISSING = {"batch-chain-broken", "out-of-order", "chain-broken"}


@cache
def golden(name: str) -> tuple[Entry, ...]:
    return tuple(read_export(document(name)))


@cache
def document(name: str) -> Any:
    return json.loads((SESSIONS / f"{name}.golden.json").read_text("utf-8"))


def verified(
    name: str,
    entries: Any,
    signatures: Any = None,
    *trusted: str,
) -> Report:
    """An export with these entries, with the signature that its batch was given."""
    given = [signed(OURS, golden(name)[-1])] if signatures is None else signatures
    whole = document(name)
    made = export(whole["station"], whole["batch"], entries, read_checks(whole), given)
    return verify_export(json.loads(json.dumps(made)), None, check, trusted or (OURS.key,))


def refused(name: str, entries: Any, signatures: Any = None, *trusted: str) -> str:
    with pytest.raises(RecordError) as caught:
        verified(name, entries, signatures, *trusted)
    assert caught.value.where
    return caught.value.code


def anew(entries: Any, change: int = -1) -> list[Entry]:
    """Hashes and links made to fit again, after the time of one entry was changed."""
    forged = list(entries)
    if change >= 0:
        at = forged[change].at
        forged[change] = replace(forged[change], at=at.replace("T", "T0", 1)[: len(at)])
    return sealed_anew(forged, Tail(entries[0].seq - 1, entries[0].prev))


@pytest.mark.parametrize("name", NAMES)
def test_as_it_is_it_holds(name: str) -> None:
    report = verified(name, golden(name))
    assert (report.signed, report.unsigned) == ({OURS.key: 1}, 0)


@pytest.mark.parametrize("name", NAMES)
def test_entries_taken_out_doubled_swapped_or_cut_off(name: str) -> None:
    entries = golden(name)
    for n, one in enumerate(entries):
        rest = entries[n + 1 :]
        assert refused(name, (*entries[:n], one, one, *rest)) in MISSING
        if n == len(entries) - 1:
            assert refused(name, entries[:n]) == "cut-short"
            continue
        assert refused(name, (*entries[:n], *rest)) in MISSING
        assert refused(name, (*entries[:n], rest[0], one, *rest[1:])) in MISSING
        if n:
            assert refused(name, entries[:n]) == "cut-short"
    # A stranger's entry put in.
    other = next(it for it in NAMES if it != name)
    assert refused(name, (*entries[:1], golden(other)[1], *entries[1:])) not in ("", "cut-short")


def flip(value: Any) -> Any:
    match value:
        case bool():
            return not value
        case str():
            return value[:-1] + ("0" if value[-1:] != "0" else "1")
        case int() | float():
            return value + 1
    return "changed"


def leaves(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(value, dict) and value:
        return [leaf for key, one in value.items() for leaf in leaves(one, (*path, key))]
    if isinstance(value, list) and value:
        return [leaf for n, one in enumerate(value) for leaf in leaves(one, (*path, n))]
    return [path]


@cache
def places() -> list[tuple[Any, ...]]:
    """Every value of every field of every entry of every golden record."""
    return [
        (name, *path)
        for name in NAMES
        for path in leaves([one.as_json() for one in golden(name)])
        if "evidence" not in path or path[-1] in ("grams", "raw")
    ]


@settings(max_examples=200)
@given(st.data())
def test_a_changed_or_missing_value_is_found_and_its_entry_named(data: st.DataObject) -> None:
    name, *path = data.draw(st.sampled_from(places()))
    rows = copy.deepcopy([one.as_json() for one in golden(name)])
    inside: Any = rows
    for key in path[:-1]:
        inside = inside[key]
    how = data.draw(st.sampled_from(("changed", "taken out", "made nothing")))
    if how == "changed":
        inside[path[-1]] = flip(inside[path[-1]])
    elif how == "taken out":
        del inside[path[-1]]
    elif inside[path[-1]] is not None:
        inside[path[-1]] = None
    else:
        inside[path[-1]] = 0
    with pytest.raises(RecordError) as caught:
        verify_export({**document(name), "entries": rows}, None)
    assert caught.value.code in CHANGED
    named = rows[path[0]].get("seq")
    assert caught.value.where in (f"entry {named}", f"row {path[0] + 1}")


@pytest.mark.parametrize("name", NAMES)
def test_hashes_made_to_fit_need_a_signature_and_that_needs_the_key(name: str) -> None:
    entries = golden(name)
    for n in range(0, len(entries), max(1, len(entries) // 5)):
        forged = anew(entries, n)
        assert forged != list(entries)
        told = refused(name, forged)
        # What the change makes untrue of the evidence is told first.
        assert told in ("sealed-anew", "does-not-follow", "unreadable-entry")
    plain = anew(entries[:-1])
    theirs = [signed(THEIRS, entries[-1])]
    assert refused(name, entries, theirs) == "wrong-key"
    assert verified(name, entries, theirs, THEIRS.key).signed == {THEIRS.key: 1}
    assert refused(name, plain) == "cut-short"
    assert refused(name, entries, []) == "not-signed"


@pytest.mark.parametrize("name", NAMES)
def test_a_signature_serves_nothing_but_what_it_is_of(name: str) -> None:
    entries = golden(name)
    good = signed(OURS, entries[-1])
    moved = replace(entries[-1], body={**entries[-1].body, "batch": "another-0001"})
    elsewhere = replace(entries[-1], station="another")
    for wrong in (
        signed(OURS, moved),
        signed(OURS, elsewhere),
        replace(good, value=flip(good.value)),
        replace(good, key=THEIRS.key),
        replace(good, head=entries[0].hash),
    ):
        assert refused(name, entries, [wrong]) == "bad-signature"
    early = signed(OURS, entries[len(entries) // 2])
    # A good signature of the middle says nothing against the end, and nothing for it.
    assert refused(name, entries, [early]) == "not-signed"
    short = [replace(good, entries=good.entries - 1)]
    assert refused(name, entries, short) == "bad-signature"
    shape: Signature = replace(good, value="00")
    assert refused(name, entries, [shape]) == "unreadable-signature"


def test_a_head_from_before_holds_and_one_of_something_else_does_not() -> None:
    """Of a whole journal: what was added since leaves it true; what was changed before does not."""
    journal = list(golden("plain"))
    for size in range(1, len(journal) + 1):
        count, root = root_of(one.hash for one in journal[:size])
        head = signed_head(OURS, journal[0].station, count, root, "2026-03-01T08:00:00.000Z")
        for entries, due in (
            (journal, ""),
            (anew(journal, 0), "rewritten"),
            (journal[: size - 1], "cut-short"),
        ):
            holding = HeadCheck(head)
            try:
                for one in entries:
                    holding.take(one)
                holding.finish()
                told = ""
            except RecordError as error:
                told = error.code
            assert told == due
