"""Signatures along a journal's rows: which are due, and what is said where one is not there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.domain.test_chain import resealed
from tests.domain.test_signing import OURS, THEIRS, check
from tests.storage.entries import Chain
from weighd.domain.away import digest_of, put_away, stub_of
from weighd.domain.canonical_json import canonical_text
from weighd.domain.chain import Row, Stretch, check_away, check_rows, check_whole
from weighd.domain.errors import RecordError
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.signing import Signature, short, signed

ONE, TWO = "kitchen-0001", "kitchen-0002"


def row_of(entry: Entry) -> Row:
    body = entry.body
    text = canonical_text(dict(body))
    batch, key = body.get("batch"), body.get("key")
    return Row(
        entry.seq, entry.station, entry.kind, entry.at, batch, key, text, entry.prev, entry.hash
    )


def batches() -> list[Entry]:
    """Two batches: entries 1 to 3 and 5 to 6 end each; between them one of no batch."""
    chain = Chain()
    return [
        chain.opening(ONE),
        chain.add("restarted", ONE),
        chain.add("batch closed", ONE),
        chain.check("bench"),
        chain.opening(TWO),
        chain.add("batch abandoned", TWO),
        chain.add("corrected", TWO),
    ]


def over(batch: str, seq: int) -> bool:
    """Whether a batch of :func:`batches` was over before an entry."""
    return (batch == ONE and seq > 3) or (batch == TWO and seq > 6)


def checked(
    entries: list[Entry], *signatures: tuple[int, Signature], trusted: tuple[str, ...] = ()
) -> Stretch:
    rows = [row_of(one) for one in entries]
    found = check_rows(rows, signatures, check, trusted, over)
    assert found is not None
    return found


def refused(rows: list[Any], *signatures: tuple[int, Signature], **more: Any) -> tuple[str, str]:
    with pytest.raises(RecordError) as caught:
        check_rows(rows, signatures, check, more.get("trusted", ()), more.get("over", over))
    return caught.value.code, caught.value.where


def at(entries: list[Entry], seq: int, signer: Any = OURS) -> tuple[int, Signature]:
    return seq, signed(signer, entries[seq - 1])


def test_no_rows_are_no_stretch() -> None:
    assert check_rows([], [], check, (), over) is None
    one = at(batches(), 3)
    assert refused([], one) == ("cut-short", "after entry 2")


def test_signed_where_it_was_due() -> None:
    entries = batches()
    all_ = [at(entries, seq) for seq in (3, 6, 7)]
    whole = Stretch(1, 7, "0" * 64, entries[-1].hash, {OURS.key: {ONE, TWO}}, begun=3, unsigned=0)
    assert checked(entries, *all_) == whole
    assert checked(entries, *all_, trusted=(OURS.key,)) == whole
    both = [at(entries, 3, THEIRS), *all_]
    signed_by = {OURS.key: {ONE, TWO}, THEIRS.key: {ONE}}
    assert checked(entries, *both, trusted=(OURS.key,)) == replace(whole, signed=signed_by)


def test_what_is_not_signed_is_counted_and_the_last_of_it_named() -> None:
    entries = batches()
    none = checked(entries)
    said = "is over, and this entry is not signed."
    assert (none.unsigned, none.begun, none.signed) == (3, 0, {})
    assert none.latest == (7, "not-signed", f"Batch {TWO} {said}")
    first = checked(entries[:3])
    assert (first.unsigned, first.latest) == (1, (3, "not-signed", f"Batch {ONE} {said}"))
    # an entry that no batch ends with needs none, and one may be signed all the same
    assert checked(entries[:2]).unsigned == 0
    early = checked(entries[:2], at(entries, 2))
    assert (early.begun, early.signed, early.unsigned) == (2, {OURS.key: {ONE}}, 0)
    # a correction while the batch is open is not due
    _, _, _, _, opened, *_ = entries
    assert opened.seq == 5
    rows = [row_of(one) for one in entries]
    found = check_rows(rows, [], check, (), lambda *_: False)
    assert found is not None
    assert (found.unsigned, found.latest[0]) == (2, 6)


def test_the_wrong_keys_are_named() -> None:
    entries = batches()
    given = [at(entries, seq, signer) for seq in (3, 6) for signer in (OURS, THEIRS)]
    found = checked(entries[:6], *given, trusted=("ef" * 32,))
    assert (found.begun, found.unsigned) == (0, 2)
    keys = f"{short(OURS.key)}, {short(THEIRS.key)}"
    why = f"Batch {TWO} is signed by key {keys}, which is not trusted."
    assert found.latest == (6, "wrong-key", why)


def test_a_signature_has_an_entry_and_the_right_one() -> None:
    entries = batches()
    rows = [row_of(one) for one in entries]
    three, seven = at(entries, 3), at(entries, 7)
    # of an entry before the stretch, of none between, and of one past its end
    assert refused(rows[3:], three) == ("cut-short", "after entry 2")
    assert refused(rows[:6], three, seven) == ("cut-short", "after entry 6")
    six = at(entries, 6)
    assert refused(rows, (3, six[1])) == ("bad-signature", "entry 3")
    assert refused(rows, (7, six[1])) == ("sealed-anew", "entry 7")
    bad = replace(three[1], value="00" * 64)
    assert refused(rows, (3, bad)) == ("bad-signature", "entry 3")
    assert refused(rows, (3, replace(bad, value="x"))) == (
        "unreadable-signature",
        "signature of entry 3",
    )


def test_what_is_signed_can_be_read_and_is_filed_where_it_says() -> None:
    entries = batches()
    rows = [row_of(one) for one in entries]
    moved = [*rows[:2], rows[2]._replace(batch=TWO), *rows[3:]]
    assert refused(moved) == ("column-differs", "entry 3")
    for body in ("[]", "{", "3", '{"batch":' + "[" * 100_000):
        torn = [*rows[:2], resealed(rows[2], body=body)]
        assert refused(torn) == ("unreadable-entry", "entry 3")
    # of no batch, and so over with nothing
    plain = [*rows[:2], resealed(rows[2], body="{}", batch=None)]
    assert check_rows(plain, [], check, (), over) is not None


def away(entries: list[Entry], batch: str, archive: str = "2026") -> list[Entry]:
    return [stub_of(one, archive) if one.body.get("batch") == batch else one for one in entries]


def test_stubs_are_links_and_signed_as_what_stood_there() -> None:
    whole = batches()
    entries = away(whole, ONE)
    all_ = [at(whole, seq) for seq in (3, 6, 7)]
    found = checked(entries, *all_, trusted=(OURS.key,))
    assert (found.away, found.begun, found.unsigned, found.last) == (1, 3, 0, 7)
    assert found.signed == {OURS.key: {ONE, TWO}}
    bare = checked(entries)
    assert (bare.away, bare.unsigned, bare.latest[0]) == (1, 3, 7)
    assert checked(away(whole, TWO)[:5]).away == 5
    rows = [row_of(one) for one in entries]
    # the entry after a stub is held to the hash that stands there
    other = [*rows[:3], resealed(rows[3], prev="f" * 64)]
    assert refused(other) == ("chain-broken", "entry 4")
    assert refused([*rows[:1], *rows[2:]]) == ("entry-missing", "entry 3")
    assert refused([*rows[:2], rows[2]._replace(station="cellar")]) == ("other-station", "entry 3")
    # a stub that does not say what it stands for is nothing that could be due
    for body in ("{}", "[]", "3", "{", "[" * 100_000):
        torn = check_rows([*rows[:2], rows[2]._replace(body=body)], [], check, (), over)
        assert torn is not None
        assert torn.unsigned == 0


def test_a_stub_keeps_how_many_weighings_there_were_and_whose_batch_it_was() -> None:
    entry = batches()[0]
    stub = stub_of(entry, "2026")
    assert stub.body == {
        "batch": ONE,
        "n": 1,
        "was": "batch opened",
        "archive": "2026",
        "kept": {
            "batch_g": "2400",
            "operator": "Ada",
            "formula": {"id": "test-ice", "name": "Test ice"},
            "additions": [1, 2],
        },
    }
    assert (stub.kind, stub.seq, stub.hash, stub.prev) == ("away", 1, entry.hash, entry.prev)


def told(entries: list[Entry], stubs: list[Entry], **more: Any) -> Entry:
    """The entry that puts those stubs away."""
    body = {**put_away("2026", "ab" * 32, {ONE: digest_of(stubs)}, "Ada", "old", "1"), **more}
    last = entries[-1]
    return seal("kitchen", "put away", last.at, body, Tail(last.seq, last.hash))


def test_stubs_are_held_to_what_put_them_away() -> None:
    entries = away(batches(), ONE)
    stubs = [one for one in entries if one.kind == "away"]
    away_entry = told(entries, stubs)
    verifier = check_away([*stubs, away_entry])
    assert (verifier.batches, verifier.archives) == (1, {"2026": "ab" * 32})
    assert checked([*entries, away_entry]).away == 1
    assert checked([*batches(), told(batches(), [])]).away == 8
    changed = [*stubs[:-1], replace(stubs[-1], at="2026-03-01T09:00:00.000Z")]
    torn = [replace(stubs[0], body={})]
    for rows, code, where in (
        (stubs, "entry-emptied", "entry 3"),
        (stubs[1:], "batch-chain-broken", "entry 2"),
        ([*stubs[:2], stubs[1]], "batch-chain-broken", "entry 2"),
        ([*changed, away_entry], "does-not-follow", "entry 8 (put away)"),
        ([*stubs[:2], away_entry], "does-not-follow", "entry 8 (put away)"),
        ([*stubs, told(entries, stubs, archive="2025")], "does-not-follow", "entry 8 (put away)"),
        ([*stubs, told(entries, stubs, by=" ")], "does-not-follow", "entry 8 (put away)"),
        (torn, "unreadable-entry", "entry 1"),
    ):
        with pytest.raises(RecordError) as caught:
            check_away(rows)
        assert (caught.value.code, caught.value.where) == (code, where)


def test_a_whole_journal_begins_with_its_first_entry_and_never_loses_its_key_again() -> None:
    good = Stretch(1, 9, "0" * 64, "ab")
    check_whole(good, ())
    for found, trusted, code, where in (
        (replace(good, first=2), (), "entry-missing", "entry 2"),
        (replace(good, before="1" * 64), (), "chain-broken", "entry 1"),
        (good, (OURS.key,), "not-signed", ""),
        (replace(good, begun=3, latest=(4, "wrong-key", "Why.")), (), "wrong-key", "entry 4"),
    ):
        with pytest.raises(RecordError) as caught:
            check_whole(found, trusted)
        assert (caught.value.code, caught.value.where) == (code, where)
    # what was over before there was a key, and the entry that it begins with
    for latest in (2, 3):
        check_whole(replace(good, begun=3, latest=(latest, "not-signed", "Why.")), (OURS.key,))
    check_whole(replace(good, latest=(4, "not-signed", "Why.")), ())


@pytest.mark.parametrize("seq", [2**52 - 1, 2**52, 2**53 - 1])
def test_numbers_that_json_can_just_hold_are_held_to_their_chain(seq: int) -> None:
    first = seal("kitchen", "restarted", "2026-03-01T08:00:00.000Z", {}, Tail(seq - 2, "ab" * 32))
    second = seal("kitchen", "restarted", first.at, {}, Tail(first.seq, first.hash))
    assert checked([first, second]).last == seq
    worse = [row_of(first), row_of(second)._replace(body='{"a":1}')]
    assert refused(worse) == ("hash-mismatch", f"entry {seq}")
