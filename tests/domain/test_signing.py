"""Signatures of batches and heads of journals: what they show, and that nothing else passes.

The signer here is a stand-in that anybody can compute: what Ed25519 does is for its own tests.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.forging import sealed_anew
from tests.storage.entries import Chain
from weighd.domain.errors import RecordError
from weighd.domain.record import Entry
from weighd.domain.signed import SignatureVerifier, signatures_of
from weighd.domain.signing import (
    Head,
    HeadCheck,
    Proof,
    Signature,
    check_end,
    check_head,
    check_proof,
    check_signature,
    nothing_trusted,
    prove,
    read_head,
    read_proof,
    read_signature,
    root_of,
    short,
    signed,
    signed_head,
    statement_of_batch,
    statement_of_journal,
)

AT = "2026-03-01T20:00:00.000Z"


def stamp(key: bytes, statement: bytes) -> bytes:
    return hashlib.sha512(key + statement).digest()


def check(key: bytes, value: bytes, statement: bytes) -> bool:
    return stamp(key, statement) == value


@dataclass
class Stamp:
    """A signer whose secret is no secret."""

    key: str = "ab" * 32

    def sign(self, statement: bytes) -> str:
        return stamp(bytes.fromhex(self.key), statement).hex()


OURS, THEIRS = Stamp(), Stamp("cd" * 32)


def batch() -> list[Entry]:
    return list(Chain().whole_batch("kitchen-0001"))


def verified(
    entries: list[Entry],
    signatures: list[Signature],
    *trusted: str,
    whole: bool = False,
    over: int | None = None,
) -> SignatureVerifier:
    """Take an export's entries; the batch is over with the last, or with entry ``over``."""
    verifier = SignatureVerifier(check, trusted, whole=whole)
    ends = over or len(entries)
    for n, one in enumerate(entries, start=1):
        verifier.take(one, [it for it in signatures if it.entries == n], over=n >= ends)
    verifier.finish([it for it in signatures if it.entries > len(entries)], len(entries))
    return verifier


def refused(*arguments: Any, **more: Any) -> str:
    with pytest.raises(RecordError) as caught:
        verified(*arguments, **more)
    assert "entry" in caught.value.where or caught.value.code == "not-signed"
    return caught.value.code


def test_what_was_signed_holds() -> None:
    entries = batch()
    one = signed(OURS, entries[-1])
    assert (one.entries, one.head) == (len(entries), entries[-1].hash)
    done = verified(entries, [one], OURS.key)
    assert done.counted == {OURS.key: 1}
    assert done.unsigned == 0
    assert read_signature(one.as_json(), "") == one


def test_tampering_cutting_and_a_wrong_key_are_told_apart() -> None:
    entries = batch()
    good = signed(OURS, entries[-1])
    # A change with all hashes made to fit.
    chain = Chain()
    forged = list(chain.whole_batch("kitchen-0001"))[:-1]
    forged[1] = replace(forged[1], body={**forged[1].body, "net_g": "1"})
    resealed = sealed_anew([*forged, entries[-1]])
    assert refused(resealed, [good], OURS.key) == "sealed-anew"
    # ... and signed by whoever made it.
    theirs = signed(THEIRS, resealed[-1])
    assert refused(resealed, [theirs], OURS.key) == "wrong-key"
    # Without a key that is trusted anybody's signature is taken, and named.
    assert verified(resealed, [theirs]).counted == {THEIRS.key: 1}
    assert refused(entries[:-1], [good], OURS.key, over=9) == "cut-short"
    assert refused(entries, [], OURS.key) == "not-signed"
    # A batch that is still open is signed by nobody yet.
    assert refused(entries[:-1], [], OURS.key, over=9) == "not-signed"
    assert verified(entries, []).unsigned == 1
    for damaged in (
        replace(good, key=THEIRS.key),
        replace(good, head=entries[0].hash),
        replace(good, value="00" * 64),
    ):
        assert refused(entries, [damaged]) == "bad-signature"


def test_what_was_added_after_the_end_is_signed_again() -> None:
    entries = batch()
    end = len(entries) - 1  # the batch is over one entry before
    before, after = signed(OURS, entries[-2]), signed(OURS, entries[-1])
    assert verified(entries, [before, after], OURS.key, over=end).unsigned == 0
    # The end cut off with its signature: the one before still holds. That is why heads exist.
    assert verified(entries[:-1], [before], OURS.key, over=end).unsigned == 0
    assert refused(entries, [before], OURS.key, over=end) == "not-signed"


def test_a_journal_may_be_older_than_its_key_but_not_go_without_it_again() -> None:
    chain = Chain()
    first, second = list(chain.whole_batch("kitchen-0001")), list(chain.whole_batch("kitchen-0002"))
    verifier = SignatureVerifier(check, [OURS.key], whole=True)
    for one in first:
        verifier.take(one, [], over=one is first[-1])
    for one in second:
        ends = one is second[-1]
        verifier.take(one, [signed(OURS, one)] if ends else [], over=ends)
    verifier.finish([], len(first) + len(second))
    assert verifier.unsigned == 1
    third = list(chain.whole_batch("kitchen-0003"))
    for one in third[:-1]:
        verifier.take(one, [], over=False)
    with pytest.raises(RecordError) as caught:
        verifier.take(third[-1], [], over=True)
    assert caught.value.code == "not-signed"
    assert caught.value.where == f"entry {third[-1].seq}"


@given(st.data())
def test_no_statement_is_another_s(data: st.DataObject) -> None:
    """Fields cannot be moved about between statements: what is signed is one thing only."""
    names = st.text(st.characters(codec="ascii"), max_size=4)
    counts, hashes = st.integers(0, 9), st.sampled_from(["0" * 64, "1" * 64])
    one = data.draw(st.tuples(names, names, counts, hashes, hashes))
    other = data.draw(st.tuples(names, names, counts, hashes, hashes))
    assert (statement_of_batch(*one) == statement_of_batch(*other)) == (one == other)
    head = statement_of_journal(one[0], one[2], one[3], one[1], one[4])
    assert head != statement_of_batch(*one)


# --- heads and proofs ------------------------------------------------------------------------


def journal() -> list[Entry]:
    chain = Chain()
    return [one for n in range(1, 8) for one in chain.whole_batch(f"kitchen-{n:04d}")]


def head_of(entries: list[Entry]) -> Head:
    size, root = root_of(one.hash for one in entries)
    return signed_head(OURS, entries[0].station, size, root, AT)


def held(head: Head, entries: list[Entry]) -> None:
    check_head(head, check)
    holding = HeadCheck(head)
    for one in entries:
        holding.take(one)
    holding.finish()


def test_a_head_holds_for_the_journal_and_whatever_is_added_to_it() -> None:
    entries = journal()
    for upto in (1, 2, 13, len(entries)):
        head = head_of(entries[:upto])
        assert read_head(head.as_json(), "") == head
        held(head, entries)


def test_a_journal_that_was_rewritten_or_cut_is_not_that_of_the_head() -> None:
    entries = journal()
    head = head_of(entries)
    rewritten = sealed_anew([replace(entries[0], at=AT), *entries[1:]])
    for other, code in (
        (rewritten, "rewritten"),
        (entries[:-1], "cut-short"),
        ([replace(one, station="cellar") for one in entries], "other-station"),
    ):
        with pytest.raises(RecordError) as caught:
            held(head, other)
        assert caught.value.code == code
    for damaged in (replace(head, entries=3), replace(head, at=""), replace(head, root="0" * 64)):
        with pytest.raises(RecordError) as caught:
            check_head(damaged, check)
        assert caught.value.code == "bad-signature"


@given(st.integers(0, 27), st.integers(1, 27))
def test_a_proof_shows_its_own_entry_and_no_other(at: int, other: int) -> None:
    entries = journal()
    hashes = [one.hash for one in entries]
    proof = prove(hashes, at + 1, head_of(entries))
    assert read_proof(proof.as_json(), "") == proof
    check_proof(proof, entries[at], check)
    wrong = entries[(at + other) % len(entries)]
    for bad, entry in (
        (proof, wrong),
        (replace(proof, seq=wrong.seq), wrong),
        (replace(proof, seq=wrong.seq), entries[at]),
        (replace(proof, path=proof.path[:-1]), entries[at]),
        (replace(proof, head=head_of(entries[:-1])), entries[at]),
        (Proof(replace(proof.head, root="0" * 64), proof.seq, proof.path), entries[at]),
        (proof, replace(entries[at], station="cellar")),
    ):
        with pytest.raises(RecordError) as caught:
            check_proof(bad, entry, check)
        assert caught.value.code in ("not-in-journal", "bad-signature")


# --- reading ---------------------------------------------------------------------------------


def broken(row: dict[str, Any]) -> list[Any]:
    out: list[Any] = [None, [], "x", {}, {**row, "more": 1}]
    for name in row:
        out.append({key: value for key, value in row.items() if key != name})
        for value in (None, True, 0, -1, -1.5, [1], {"a": 1}, "Ä" * 64, "AB" * 32, "0" * 63):
            if name not in ("station", "at") or not isinstance(value, str):
                out.append({**row, name: value})
    return out


def test_what_is_no_signature_head_or_proof_is_refused_in_words() -> None:
    entries = journal()
    head = head_of(entries)
    proof = prove([one.hash for one in entries], 3, head)
    one = signed(OURS, entries[3])
    for row, read in (
        (one.as_json(), read_signature),
        (head.as_json(), read_head),
        (proof.as_json(), read_proof),
    ):
        for bad in broken(row):
            with pytest.raises(RecordError) as caught:
                read(bad, "here")
            is_head = isinstance(bad, dict) and bad.get("weighd_head") == 1
            code = "unreadable-signature" if read is not read_head or is_head else "not-a-head"
            if caught.value.code != code:  # what a proof has for a head may be none
                assert (read, caught.value.code) == (read_proof, "not-a-head")
            assert caught.value.where == "here"
    with pytest.raises(RecordError) as caught:
        signatures_of({"signatures": {}})
    assert caught.value.code == "unreadable-signature"
    with pytest.raises(RecordError) as caught:
        signatures_of({"signatures": [one.as_json(), {}]})
    assert (caught.value.code, caught.value.where) == ("unreadable-signature", "signature 2")
    assert signatures_of({}) == []
    assert signatures_of({"signatures": [one.as_json()]}) == [one]


def test_a_key_is_told_by_its_beginning() -> None:
    assert short("0123456789abcdef" * 4) == "0123-4567-89ab-cdef"


@pytest.mark.parametrize("row", [None, 3, [], {}, {"weighd_head": 99}, {"weighd_head": "1"}])
def test_what_is_no_head_has_a_code_of_its_own(row: object) -> None:
    with pytest.raises(RecordError) as caught:
        read_head(row, "a file")
    assert (caught.value.code, caught.value.where) == ("not-a-head", "a file")


def test_what_is_signed_is_these_bytes() -> None:
    """RFC 8785: no spaces, the names in order."""
    key, hash_ = "ab" * 32, "cd" * 32
    assert (
        statement_of_batch("kitchen", "b-1", 3, hash_, key)
        == (
            f'{{"batch":"b-1","entries":3,"head":"{hash_}","key":"{key}","of":"batch",'
            '"station":"kitchen","weighd_signature":1}'
        ).encode()
    )
    assert (
        statement_of_journal("kitchen", 3, hash_, AT, key)
        == (
            f'{{"at":"{AT}","entries":3,"key":"{key}","of":"journal","root":"{hash_}",'
            '"station":"kitchen","weighd_signature":1}'
        ).encode()
    )


def test_as_a_file_has_them() -> None:
    key, hash_, value = "ab" * 32, "cd" * 32, "ef" * 64
    one = Signature(key, 3, hash_, value)
    assert one.as_json() == {"key": key, "entries": 3, "head": hash_, "value": value}
    head = Head("kitchen", 3, hash_, AT, key, value)
    whole = {
        "weighd_head": 1,
        "station": "kitchen",
        "entries": 3,
        "root": hash_,
        "at": AT,
        "key": key,
        "value": value,
    }
    assert head.as_json() == whole
    assert Proof(head, 2, (hash_,)).as_json() == {"head": whole, "seq": 2, "path": [hash_]}
    # one entry is enough, and its first may be proved
    assert read_signature({**one.as_json(), "entries": 1}, "").entries == 1
    assert read_proof({"head": whole, "seq": 1, "path": []}, "").seq == 1


def test_where_something_does_not_hold_is_said() -> None:
    entries = journal()
    head, one = head_of(entries), signed(OURS, entries[3])
    rewritten = sealed_anew([replace(entries[0], at=AT), *entries[1:]])
    proof = prove([it.hash for it in entries], 3, head)
    elsewhere = [replace(it, station="cellar") for it in entries]
    told = (
        (lambda: held(head, rewritten), "rewritten", f"entry {len(entries)}"),
        (lambda: held(head, entries[:5]), "cut-short", "entry 6"),
        (lambda: held(head, elsewhere), "other-station", "entry 1"),
        (
            lambda: check_head(replace(head, at=""), check),
            "bad-signature",
            f"head of {len(entries)} entries",
        ),
        (lambda: check_proof(proof, entries[3], check), "not-in-journal", "entry 4"),
        (lambda: check_end(one, "b", 5, one.head, "here"), "sealed-anew", "here"),
        (lambda: check_end(one, "b", 4, "0" * 64, "here"), "sealed-anew", "here"),
        (lambda: check_signature(one, "cellar", "b", check, "here"), "bad-signature", "here"),
        (lambda: verified(entries[:4], [], OURS.key), "not-signed", "entry 4"),
        (lambda: verified(entries[:3], [one]), "cut-short", "after entry 3"),
    )
    for does, code, where in told:
        with pytest.raises(RecordError) as caught:
            does()
        assert (caught.value.code, caught.value.where) == (code, where)
    check_end(one, "b", 4, one.head, "here")
    none = nothing_trusted()
    assert (none.code, none.where, bool(none.remedy)) == ("not-signed", "", True)


def test_more_entries_after_a_head_may_be_anything() -> None:
    entries = journal()
    holding = HeadCheck(head_of(entries[:3]))
    for one in [*entries[:3], replace(entries[3], station="cellar", hash="not even a hash")]:
        holding.take(one)
    holding.finish()
