"""What a station's journal has reaches the shared store once and in order, whatever breaks."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import delete, select, text, update

from tests.line import CUT_AFTER, CUT_BEFORE, PASS, SWALLOW, Line
from tests.servers import Postgres
from tests.storage.entries import STATION, Chain
from tests.storage.kitchens import kitchen, weigh
from tests.storage.shared_store import emptied
from tests.storage.test_corrections import corrected
from weighd.domain.away import PUT_AWAY, digest_of, put_away, stub_of
from weighd.domain.errors import JournalError
from weighd.domain.record import Tail, seal
from weighd.main.proving import verify_journal
from weighd.storage.address import read_address
from weighd.storage.journal import SqlJournal, open_journal
from weighd.storage.outbox import MOST, Outbox
from weighd.storage.postgres import PostgresStore
from weighd.storage.putting_away import put_in_place
from weighd.storage.schema import BATCH, ENTRY, LOT_NAME, LOT_SUM, LOT_USE, SIGNATURE
from weighd.storage.sqlite import SqliteStore

TABLES = (ENTRY, SIGNATURE, BATCH, LOT_USE, LOT_SUM, LOT_NAME)


@pytest.fixture(scope="module")
def address(postgres: Postgres) -> str:
    return postgres.create("outbox")


@pytest.fixture
def store(address: str) -> Iterator[PostgresStore]:
    opened = emptied(address)
    yield opened
    opened.close()


@pytest.fixture
def own(tmp_path: Path) -> Iterator[SqlJournal]:
    journal = kitchen(tmp_path, STATION, 3)
    yield journal
    journal.close()


def rows(journal: SqlJournal) -> list[list[Any]]:
    """All of a station's rows in all tables that are sent."""
    return [
        journal.ask(
            lambda it, table=table: sorted(  # type: ignore[misc]
                map(tuple, it.execute(select(table).where(table.c.station == journal.station)))
            )
        )
        for table in TABLES
    ]


def port_of(address: str) -> int:
    return int(read_address(address).options["port"])


def moved(address: str, port: int) -> str:
    """The address of the same store by way of another port."""
    return address.replace(f":{port_of(address)}/", f":{port}/")


def outbox(own: SqlJournal, store: PostgresStore) -> Outbox:
    return Outbox(own, store, store.address.shown)


def send_all(box: Outbox) -> int:
    count = 0
    while sent := box.send().entries:
        count += sent
    return count


def fails(call: Any, code: str) -> str:
    with pytest.raises(JournalError) as caught:
        call()
    assert caught.value.code == code, str(caught.value)
    return str(caught.value)


def test_all_of_a_journal_is_there_with_signatures_and_lists(
    own: SqlJournal, store: PostgresStore
) -> None:
    box, there = outbox(own, store), SqlJournal(store, STATION)
    assert box.there() == Tail()
    assert send_all(box) == own.tail().seq == box.there().seq
    assert rows(there) == rows(own)
    assert len(rows(own)[1]) >= 3
    assert verify_journal(there, [], [])[0] == verify_journal(own, [], [])[0]
    assert box.send().entries == 0
    weigh(own, 3, 1)
    assert send_all(box) > 1
    assert rows(there) == rows(own)
    assert (box.compare(0), box.there()) == (0, own.tail())


def test_lists_drawn_for_many_entries_are_those_drawn_one_by_one(
    tmp_path: Path, store: PostgresStore
) -> None:
    own, chain = open_journal(tmp_path / "weighd.db", STATION), Chain()
    lots = [{"lot": "L-1", "g": "200"}, {"lot": "L-2", "g": "300.10"}]
    for n in range(40):
        entries = [
            chain.opening(f"kitchen-{n:04}"),
            chain.weighing(f"kitchen-{n:04}", lot="L-2", lots=lots, u_g="0.3", ingredient="milk"),
            chain.weighing(f"kitchen-{n:04}", 2, lot="", u_g="0.4", ingredient="sugar"),
            chain.lot("lot received", f"L-{n}", quantity_g="500"),
            chain.add("batch closed" if n % 3 else "batch abandoned", f"kitchen-{n:04}"),
        ]
        own.append(entries)
    own.append(
        [
            corrected(chain, 1, "L-1", "L-3", "200"),
            corrected(chain, 2, "L-2", "L-3", "300.10"),
            chain.add("tared", "kitchen-none", note="of a batch that was never opened"),
            corrected(chain, 2, "L-3", "", "300.10"),
            corrected(chain, 2, "no such", "L-4", "300.10"),
        ]
    )
    box = outbox(own, store)
    assert (box.send().entries, send_all(box)) == (MOST, own.tail().seq - MOST)
    assert rows(SqlJournal(store, STATION)) == rows(own)
    own.close()


@pytest.mark.parametrize(
    ("what", "cut", "arrives"),
    [
        (b"INSERT INTO entry", CUT_BEFORE, {False}),
        (b"INSERT INTO entry", CUT_AFTER, {False}),
        (b"COMMIT", CUT_BEFORE, {False}),
        (b"COMMIT", CUT_AFTER, {False, True}),  # the server may see the line go first
        (b"the answer", CUT_BEFORE, {True}),
    ],
)
def test_a_line_that_is_cut_costs_nothing(
    own: SqlJournal, store: PostgresStore, address: str, what: bytes, cut: str, arrives: set[bool]
) -> None:
    seen = list[bytes]()

    def rule(up: bool, chunk: bytes) -> str:
        for one in (b"INSERT INTO entry", b"COMMIT"):
            if up and one in chunk and (seen or one != b"COMMIT"):
                seen.append(one)
        if what == b"the answer":
            return cut if not up and b"COMMIT" in seen else PASS
        return cut if up and what in seen and what in chunk else PASS

    with Line(port_of(address)) as line:
        through = PostgresStore(read_address(moved(address, line.port)))
        line.rule = rule
        box = outbox(own, through)
        message = fails(box.send, "store-away")
        assert ("Whether this was still recorded" in message) == (what != b"INSERT INTO entry")
        assert line.cuts == 1
        arrived = SqlJournal(store, STATION).tail()
        assert arrived in (Tail(), own.tail())
        assert (arrived == own.tail()) in arrives
        line.rule = None
        send_all(box)
        through.close()
    assert rows(SqlJournal(store, STATION)) == rows(own)


@pytest.mark.parametrize("cut", [CUT_BEFORE, CUT_AFTER])
def test_a_sync_may_die_at_every_point(
    own: SqlJournal,
    store: PostgresStore,
    address: str,
    cut: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A sender that is killed is to the store a line that is cut, and keeps nothing of its own."""
    monkeypatch.setattr("weighd.storage.outbox.MOST", 15)
    there, whole = SqlJournal(store, STATION), rows(own)
    passed = at = 0

    def rule(up: bool, chunk: bytes) -> str:
        """Counts what passes once something is sent; cuts at that point."""
        nonlocal passed
        passed += passed > 0 or b"INSERT INTO entry" in chunk
        return cut if passed == at else PASS

    with Line(port_of(address), rule) as line:
        through = read_address(moved(address, line.port))
        # Every other point; the other kind of cut has those between.
        for at in range(1 if cut == CUT_BEFORE else 2, 1000, 2):
            emptied(address).close()
            passed = 0
            try:
                with closing(PostgresStore(through)) as mine:
                    send_all(outbox(own, mine))
            except JournalError as error:
                assert error.code == "store-away"
            sent = there.tail().seq
            assert rows(there)[0] == whole[0][:sent]
            if passed < at:
                break  # it was through before that point came
            send_all(outbox(own, store))
            assert rows(there) == whole
    assert (sent, at > 20) == (own.tail().seq, True)


def test_a_line_that_swallows_what_is_sent_is_given_up(
    own: SqlJournal, store: PostgresStore, address: str
) -> None:
    def rule(up: bool, chunk: bytes) -> str:
        return SWALLOW if up and b"COMMIT" in chunk else PASS

    with Line(port_of(address)) as line:
        through = PostgresStore(read_address(moved(address, line.port)), deadline_s=0.5)
        line.rule = rule
        fails(outbox(own, through).send, "store-away")
        line.rule = None
        send_all(outbox(own, through))
        through.close()
    assert rows(SqlJournal(store, STATION)) == rows(own)


def test_a_record_put_back_from_an_old_copy_sends_nothing(
    own: SqlJournal, store: PostgresStore, tmp_path: Path
) -> None:
    send_all(outbox(own, store))
    before = rows(SqlJournal(store, STATION))
    old = kitchen(tmp_path / "old", STATION, 1)
    said = fails(outbox(old, store).send, "shared-ahead")
    assert f"entry {own.tail().seq} " in said and "new name" in said
    weigh(old, 4, 5)  # goes on, and is longer now
    assert old.tail().seq > own.tail().seq
    assert "another than" in fails(outbox(old, store).send, "shared-forked")
    assert rows(SqlJournal(store, STATION)) == before
    weigh(own, 3, 1)
    send_all(outbox(own, store))  # whose record is there goes on
    assert rows(SqlJournal(store, STATION)) == rows(own)
    old.close()


def test_two_senders_of_one_record_take_turns(own: SqlJournal, store: PostgresStore) -> None:
    """As ``weighd share --now`` beside a running station."""
    weigh(own, 3, 12)
    with ThreadPoolExecutor(3) as pool:
        sent = list(pool.map(lambda _: send_all(outbox(own, store)), range(3)))
    assert sum(sent) == own.tail().seq
    assert rows(SqlJournal(store, STATION)) == rows(own)


def test_two_stations_of_one_name_do_not_interleave(
    own: SqlJournal, store: PostgresStore, tmp_path: Path
) -> None:
    other = kitchen(tmp_path / "other", STATION, 0)
    weigh(other, 1, 1)
    first, second = outbox(own, store), outbox(other, store)
    assert first.send().entries > 0
    fails(second.send, "shared-ahead" if other.tail().seq < first.there().seq else "shared-forked")
    send_all(first)
    assert rows(SqlJournal(store, STATION)) == rows(own)
    other.close()


def test_what_is_altered_in_the_shared_store_is_noticed(
    own: SqlJournal, store: PostgresStore
) -> None:
    box, there = outbox(own, store), SqlJournal(store, STATION)
    send_all(box)
    last = own.tail().seq
    first = last - 20  # in the middle of a batch

    def alter(seq: int, **values: Any) -> None:
        store.write(lambda it: it.execute(update(ENTRY).where(ENTRY.c.seq == seq).values(values)))

    (second,) = own.entries(after=1, limit=1)
    alter(last, body='{"batch":"kitchen-0003"}')
    assert f"Entry {last} " in fails(box.send, "shared-altered")
    # As the message says: what is deleted there from that entry on is sent again.
    for table in (SIGNATURE, LOT_USE, BATCH, ENTRY):
        store.write(lambda it, table=table: it.execute(delete(table).where(table.c.seq >= first)))  # type: ignore[misc]
    send_all(box)
    there.rebuild_batches()  # weighd verify ADDRESS --redraw
    assert rows(there) == rows(own)
    alter(2, at="2026-01-01T00:00:00.000Z")
    assert box.there() == own.tail()  # the tail is as it was: only going through it all shows it
    assert "Entry 2 " in fails(lambda: box.compare(0), "shared-altered")
    with pytest.raises(Exception, match="entry 2"):
        verify_journal(there, [], [])
    alter(2, at=second.at)
    assert box.compare(0) == 0
    store.write(lambda it: it.execute(text("DELETE FROM signature")))
    assert box.compare(0) == 0  # signatures that are missing are sent
    assert rows(there)[:2] == rows(own)[:2]
    store.write(lambda it: it.execute(update(SIGNATURE).values(value="00" * 64)))
    fails(lambda: box.compare(0), "shared-altered")


def test_an_own_record_that_was_edited_is_not_sent(own: SqlJournal, store: PostgresStore) -> None:
    own._store.write(lambda it: it.execute(text("UPDATE entry SET at = 'x' WHERE seq = 3")))
    fails(outbox(own, store).send, "hash-mismatch")
    assert SqlJournal(store, STATION).tail() == Tail()


def test_what_was_sent_may_be_put_away_here(tmp_path: Path, store: PostgresStore) -> None:
    """The shared store keeps all of it; sending and comparing go on over what stands for it."""
    journal = kitchen(tmp_path, STATION, 3)
    assert send_all(outbox(journal, store)) > 0
    name = journal.batches()[-1].id
    whole = list(journal.batch(name))
    journal.close()
    path = next(tmp_path.rglob("*.db"))
    own = SqliteStore(path)
    journal = SqlJournal(own, STATION)
    stubs = [stub_of(one, "old.gz") for one in whole]
    body = put_away("old.gz", "00" * 32, {name: digest_of(stubs)}, "Ada", "old", "0")
    put_in_place(own, STATION, seal(STATION, PUT_AWAY, whole[0].at, body, journal.tail()), stubs)
    box = outbox(journal, store)
    assert send_all(box) == 1
    assert box.compare(0) == 0
    there = SqlJournal(store, STATION)
    assert list(there.batch(name)) == whole
    assert [one.kind for one in journal.batch(name)] == ["away"] * len(whole)
    # A store that is new gets what there is: what stands for the batch, and its lists.
    emptied(store.address.shown).close()
    assert send_all(box) == journal.tail().seq
    assert rows(there) == rows(journal)
    assert (box.compare(0), box.there()) == (0, journal.tail())
    assert verify_journal(there, [], [])[0] == verify_journal(journal, [], [])[0]
    changed = update(ENTRY).where(ENTRY.c.station == STATION, ENTRY.c.seq == whole[0].seq)
    store.write(lambda it: it.execute(changed.values(hash="00" * 32)))
    fails(lambda: box.compare(0), "shared-altered")
    journal.close()
