"""A journal's rows held to their chain, whatever somebody put in their place."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.canonical_json import canonical_text
from weighd.domain.chain import Row, Stretch, check_rows
from weighd.domain.errors import RecordError
from weighd.domain.record import Tail, hash_around, seal
from weighd.domain.signing import Signature, read_signature, statement_of_batch

HEX = "0123456789abcdef"


def journal(count: int = 6) -> list[Row]:
    """Entries of no batch, one after the other."""
    tail, out = Tail(), list[Row]()
    for n in range(count):
        at = f"2026-11-27T08:00:{n:02d}Z"
        one = seal("bench é", "lot named", at, {"é": [n, 0.5], "b": None}, tail)
        tail = Tail(one.seq, one.hash)
        text = canonical_text(dict(one.body))
        out.append(
            Row(one.seq, one.station, one.kind, one.at, None, None, text, one.prev, one.hash)
        )
    return out


def check(rows: list[Any]) -> Stretch | None:
    return check_rows(rows, [], lambda *_: True, [], lambda *_: False)


def resealed(row: Row, **other: Any) -> Row:
    """Changed, with a hash that fits what is there now, as its writing gives it."""
    row = row._replace(**other)
    station = json.dumps(row.station, ensure_ascii=False)
    told = (
        f'{{"at":{json.dumps(row.at)},"body":{row.body},"kind":{json.dumps(row.kind)},'
        f'"prev":"{row.prev}","seq":{row.seq},"station":{station}}}'
    )
    return row._replace(hash=sha256(told.encode()).hexdigest())


def test_rows_as_they_were_written_hold() -> None:
    rows = journal()
    found = check([tuple(one) for one in rows])
    assert found is not None
    assert (found.first, found.last, found.after) == (1, 6, rows[-1].hash)
    assert resealed(rows[3]) == rows[3]


DAMAGES: list[tuple[str, Callable[[Row], Row]]] = [
    ("hash-mismatch", lambda row: row._replace(body=row.body.replace("0.5", "0.6"))),
    ("hash-mismatch", lambda row: row._replace(at="2026-11-27T09:00:00Z")),
    ("hash-mismatch", lambda row: row._replace(kind="lot blocked")),
    ("hash-mismatch", lambda row: row._replace(hash="0" * 64)),
    ("hash-mismatch", lambda row: row._replace(prev="0" * 64)),
    ("hash-mismatch", lambda row: row._replace(station="other")),
    ("hash-mismatch", lambda row: row._replace(at=row.at + '","body":{}')),
    ("unreadable-entry", lambda row: row._replace(body=row.body.encode())),
    ("unreadable-entry", lambda row: resealed(row, body=row.body.encode())),
    ("unreadable-entry", lambda row: row._replace(body=None)),
    ("unreadable-entry", lambda row: row._replace(at=12)),
    ("unreadable-entry", lambda row: row._replace(kind=b"lot named")),
    ("unreadable-entry", lambda row: row._replace(hash=row.hash.encode())),
    ("unreadable-entry", lambda row: row._replace(seq=float(row.seq))),
    ("unreadable-entry", lambda row: resealed(row, seq=float(row.seq))),
    ("entry-missing", lambda row: resealed(row, seq=row.seq + 1)),
    ("other-station", lambda row: resealed(row, station="other")),
    ("chain-broken", lambda row: resealed(row, prev="f" * 64)),
]


@pytest.mark.parametrize(("code", "damage"), DAMAGES)
@pytest.mark.parametrize("at", [1, 3, 5])
def test_what_was_changed_is_named(at: int, code: str, damage: Callable[[Row], Row]) -> None:
    rows = journal()
    rows[at] = damage(rows[at])
    with pytest.raises(RecordError) as told:
        check(rows)
    assert told.value.code == code
    assert str(int(rows[at].seq)) in str(told.value.where)


def test_a_stretch_may_begin_with_any_number_and_is_held_to_the_one_before() -> None:
    rows = journal()
    first, second = check(rows[:3]), check(rows[3:])
    assert first is not None
    assert second is not None
    assert first.and_then(second).after == rows[-1].hash
    with pytest.raises(RecordError, match="should come here"):
        check(rows[:2] + rows[3:])


@given(
    st.text(st.characters(codec="utf-8")),
    st.text(st.characters(codec="utf-8")),
    st.integers(-5, 2**70),
)
def test_a_statement_is_rfc_8785(batch: str, station: str, entries: int) -> None:
    """Against the package ``rfc8785``."""
    whole = {
        "weighd_signature": 1,
        "of": "batch",
        "station": station,
        "batch": batch,
        "entries": entries,
        "head": "ab",
        "key": "cd",
    }
    try:
        expected = rfc8785.dumps(whole)
    except ValueError:
        with pytest.raises(ValueError, match=r".*"):
            statement_of_batch(station, batch, entries, "ab", "cd")
        return
    assert statement_of_batch(station, batch, entries, "ab", "cd") == expected


@given(
    st.sampled_from([HEX * 4, HEX * 4 + "\n", HEX.upper() * 4, "", b"0" * 64, None, "٣" * 64]),
    st.sampled_from([1, 7, 0, -1, True, 1.0, "1", None]),
    st.sampled_from([HEX * 4, "x" * 64, 5]),
    st.sampled_from([HEX * 8, HEX * 4, HEX * 8 + "\n", None]),
)
def test_nothing_but_a_signature_is_read_as_one(
    key: Any, entries: Any, head: Any, value: Any
) -> None:
    one = Signature(key, entries, head, value)
    good = (key, head, value) == (HEX * 4, HEX * 4, HEX * 8) and entries in (1, 7)
    if good and type(entries) is int:
        assert read_signature(one.as_json(), "x") == one
        return
    with pytest.raises(RecordError) as told:
        read_signature(one.as_json(), "x")
    assert (told.value.code, told.value.where) == ("unreadable-signature", "x")


def test_hashes_of_rows_are_those_of_entries() -> None:
    for row in journal():
        assert row.hash == hash_around(row.body, row.seq, row.station, row.kind, row.at, row.prev)


def test_stretches_one_after_the_other_are_the_whole_and_nothing_between_may_be_missing() -> None:
    rows = journal(8)
    whole = check(rows)
    for cut in range(1, 8):
        one, other = check(rows[:cut]), check(rows[cut:])
        assert one is not None
        assert other is not None
        assert one.and_then(other) == whole
        assert (one.first, other.last) == (1, 8)
        if cut < 7:
            later = check(rows[cut + 1 :])
            assert later is not None
            with pytest.raises(RecordError) as caught:
                one.and_then(later)
            assert caught.value.where == f"entry {cut + 2}"
    signed = Stretch(1, 4, "a", "b", {"k": {"x"}}, 3, 1, (2, "c", "d"), 0)
    more = Stretch(5, 9, "b", "e", {"k": {"y"}, "l": {"z"}}, 6, 2, (0, "", ""), 7)
    assert signed.and_then(more) == Stretch(
        1, 9, "a", "e", {"k": {"x", "y"}, "l": {"z"}}, 3, 3, (2, "c", "d"), 7
    )
    later_told = replace(more, latest=(8, "f", "g"))
    assert signed.and_then(later_told).latest == (8, "f", "g")
    with pytest.raises(RecordError):
        signed.and_then(replace(more, before="another"))
