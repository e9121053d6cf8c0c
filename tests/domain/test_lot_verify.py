"""Entries of lots that somebody forged who makes the hashes fit: each is refused and named."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.domain.bench_world import LATER, batch
from tests.domain.evolving import ACCEPTED, changed, entry_of
from tests.domain.test_lots import Books
from weighd.domain.batch import Batch
from weighd.domain.corrections import correction_body
from weighd.domain.errors import RecordError
from weighd.domain.kinds import Kind
from weighd.domain.lot_record import BLOCKED, OVERDRAWN
from weighd.domain.lot_shared import overdrawn_body
from weighd.domain.lot_uses import Drawn
from weighd.domain.lot_verify import LotVerifier
from weighd.domain.mass import parse
from weighd.domain.record import Entry, Tail, seal

AT = LATER
NOT = "It could not have been recorded: "


def verifier(books: Books) -> LotVerifier:
    """One that has taken what these books are made of."""
    made = LotVerifier(lambda _: True)
    for one in books.entries:
        made.entry(one)
    return made


def overdrawn(books: Books, lot: str, drawn_g: str) -> Entry:
    """That another station drew so much: as it is recorded, whether it is too much or not."""
    found = books.book.get(lot)
    assert found is not None
    with_it = replace(found, elsewhere=(("cellar", Drawn(parse(drawn_g), parse("0.01"), 1)),))
    body = overdrawn_body(with_it, "kitchen", AT)
    last = books.entries[-1]
    return seal("kitchen", OVERDRAWN, AT, body, Tail(last.seq, last.hash))


@pytest.mark.parametrize(
    ("drawn_g", "is_over"), [("1000", False), ("1000.2", False), ("1000.3", True)]
)
def test_a_lot_is_told_overdrawn_only_where_it_was(drawn_g: str, is_over: bool) -> None:
    """1000 g were there; 0.1 g is what is known of what was drawn, so 0.2 g more are nothing."""
    books = Books()
    entry = overdrawn(books, books.receive(quantity_g="1000"), drawn_g)
    held = verifier(books)
    if is_over:
        held.entry(entry)
        lot = books.enter(OVERDRAWN, dict(entry.body)).body["lot"]
        entry = overdrawn(books, lot, drawn_g)  # and once more, though it is no more than before
    with pytest.raises(RecordError) as caught:
        held.entry(entry)
    error = caught.value
    assert (error.code, error.where) == ("does-not-follow", f"entry {entry.seq} (lot overdrawn)")
    assert error.message == "That lot was not overdrawn by what it keeps."


def test_what_was_never_received_was_not_overdrawn() -> None:
    books = Books()
    entry = overdrawn(books, books.receive(), "2000")
    with pytest.raises(RecordError, match="not overdrawn") as caught:
        verifier(Books()).entry(entry)
    assert caught.value.where == "entry 2 (lot overdrawn)"


# --- of a batch -----------------------------------------------------------------------------------


def stocked() -> Books:
    """Sugar that is good, past its best, past its last day, and blocked; and milk."""
    books = Books()
    books.receive(lot="Good")
    books.receive(lot="Old", best_before="2026-11-20")
    books.receive(lot="Gone", use_by="2026-11-20")
    books.do(BLOCKED, books.receive(lot="Bad"), "a stone in it")
    books.receive("milk", lot="Milk")
    return books


def told(of: Batch, entry: Entry) -> str:
    """What a verifier that knows the stock says of an entry: nothing where it stands."""
    try:
        verifier(stocked()).of_batch(of, entry)
    except RecordError as error:
        assert (error.code, error.where) == ("does-not-follow", f"entry {entry.seq} ({entry.kind})")
        return error.message
    return ""


@pytest.mark.parametrize(
    ("lot", "reason", "said"),
    [
        ("Good", "", ""),
        ("a stranger", "", ""),
        ("Old", "smells fine", ""),
        ("good", "", "lot is good, where the lots before it give Good."),
        ("Good", "so", "reason is so, where the lots before it give none."),
        ("Old", "", f"{NOT}This lot of sugar was best before 2026-11-20."),
        ("Gone", "smells fine", f"{NOT}This lot of sugar was to be used by 2026-11-20."),
        ("Bad", "smells fine", f"{NOT}This lot of sugar is blocked: a stone in it."),
        ("Milk", "", f"{NOT}That is milk; Sugar is being weighed."),
    ],
)
def test_a_lot_was_named_as_it_could_be(lot: str, reason: str, said: str) -> None:
    of = batch()
    body = {"lot": lot, **({"reason": reason} if reason else {})}
    assert told(of, entry_of(of, Kind.LOT_NAMED, **body)) == said


@pytest.mark.parametrize(
    ("new", "although", "said"),
    [
        ("Good", None, ""),
        ("a stranger", None, ""),
        ("", None, ""),
        ("Old", None, ""),  # a correction has its reason
        ("Bad", "lot-blocked", ""),
        ("Gone", "lot-expired", ""),
        ("good", None, "new is good, where the lots before it give Good."),
        ("bad", "lot-blocked", "new is bad, where the lots before it give Bad."),
        ("Bad", None, f"{NOT}This lot of sugar is blocked: a stone in it."),
        ("Gone", None, f"{NOT}This lot of sugar was to be used by 2026-11-20."),
        ("Milk", "lot-blocked", f"{NOT}That is milk; Sugar is being weighed."),
        ("Good", "lot-blocked", "although is lot-blocked, where the lots before it give nothing."),
        ("Bad", "lot-expired",
         "although is lot-expired, where the lots before it give lot-blocked."),
    ],
)  # fmt: skip
def test_a_lot_was_put_right_as_it_could_be(new: str, although: str | None, said: str) -> None:
    _, of = changed(batch(), Kind.ACCEPTED, **ACCEPTED)
    body = correction_body(of, of.n, "lot", "S-1", "Good", "wrong label", "Bo")
    body |= {"new": new, **({"although": although} if although else {})}
    assert told(of, entry_of(of, Kind.CORRECTED, **body)) == said


def test_what_was_put_right_is_drawn_from_the_other_lot() -> None:
    """Of two lots of 1000 g, 995 g were drawn from the wrong one, and other stations drew 10 g of
    each: the one that was put right is overdrawn, and the other is not."""
    books = Books()
    first, second = books.receive(lot="A"), books.receive(lot="B")
    accepted = {**ACCEPTED, "lot": "A", "net_g": "995", "u_g": "0.1"}
    entry, of = changed(batch(), Kind.ACCEPTED, **accepted)
    held = verifier(books)
    held.of_batch(batch(), entry)
    right = correction_body(of, of.n, "lot", "A", "B", "wrong label", "Bo")
    held.of_batch(of, entry_of(of, Kind.CORRECTED, **right))
    books.use(second, "995")
    entry = overdrawn(books, second, "10")
    assert entry.body["over_g"] == "5"
    held.entry(entry)
    books.use(first, "995")
    with pytest.raises(RecordError, match="not overdrawn"):
        held.entry(overdrawn(books, first, "10"))


def test_what_an_addition_drew_counts_in_what_is_overdrawn() -> None:
    books = Books()
    lot = books.receive(quantity_g="1000")
    entry, _ = changed(batch(), Kind.ACCEPTED, **{**ACCEPTED, "lot": lot, "net_g": "995"})
    unaware, aware = verifier(books), verifier(books)
    aware.of_batch(batch(), entry)
    books.use(lot, "995", ACCEPTED["u_g"])
    over = overdrawn(books, lot, "10")
    aware.entry(over)
    with pytest.raises(RecordError, match="not overdrawn"):
        unaware.entry(over)
