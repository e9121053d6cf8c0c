"""What every journal must do, wherever it keeps its entries.

Another database joins by one more opener.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.servers import Postgres
from tests.storage.entries import STATION, Chain, intact
from tests.storage.shared_store import emptied
from weighd.domain.errors import JournalError
from weighd.domain.record import Entry, Tail, canonical, seal
from weighd.station.ports import BatchRow, Journal
from weighd.storage.journal import SqlJournal, open_journal
from weighd.storage.memory import MemoryJournal

OPENERS: dict[str, Callable[[Path, str], Journal]] = {
    "memory": lambda folder, address: MemoryJournal(STATION),
    "sqlite": lambda folder, address: open_journal(folder / "weighd.db", STATION),
    "postgresql": lambda folder, address: SqlJournal(emptied(address), STATION),
}


@pytest.fixture(scope="module")
def address(postgres: Postgres) -> str:
    return postgres.create("contract")


@pytest.fixture(params=sorted(OPENERS))
def journal(request: pytest.FixtureRequest, tmp_path: Path, address: str) -> Iterator[Journal]:
    opened = OPENERS[request.param](tmp_path, address)
    yield opened
    opened.close()


def everything(journal: Journal) -> list[Entry]:
    return list(journal.entries())


def refused(journal: Journal, entries: list[Entry], code: str) -> JournalError:
    """Append, see it refused, and see that nothing came of it."""
    before = everything(journal), journal.tail(), list(journal.batches())
    with pytest.raises(JournalError) as caught:
        journal.append(entries)
    assert caught.value.code == code
    assert (everything(journal), journal.tail(), list(journal.batches())) == before
    return caught.value


def test_an_empty_journal_says_so(journal: Journal) -> None:
    assert journal.tail() == Tail(0, "0" * 64)
    assert everything(journal) == []
    assert list(journal.batch("kitchen-0001")) == []
    assert list(journal.open_batch()) == []
    assert list(journal.batches()) == []
    assert journal.count_batches() == 0
    assert journal.entry_for_key("k") is None


def test_checks_are_found_newest_first_among_everything_else(journal: Journal) -> None:
    chain, made = Chain(), []
    for n in range(25):
        made.append(chain.check(f"scale-{n % 2}"))
        journal.append([made[-1], *chain.whole_batch(f"kitchen-{n:04}")])
    assert list(journal.checks()) == made[::-1]
    assert list(journal.checks(before=made[7].seq)) == made[:7][::-1]
    assert list(journal.checks(before=made[0].seq)) == []
    accepted = list(journal.entries(kind="addition accepted"))
    assert len(accepted) == 50
    assert [one.seq for one in accepted] == sorted(one.seq for one in accepted)
    later = list(journal.entries(after=made[20].seq, kind="addition accepted", limit=3))
    assert later == [one for one in accepted if one.seq > made[20].seq][:3]
    assert [*journal.lines_of(["no", "kitchen-0003"])] == ["kitchen-0003"]
    assert journal.count_batches() == 25
    assert [row.accepted for row in journal.batches(limit=2)] == [2, 2]


def test_what_was_appended_is_read_back_and_the_tail_moves(journal: Journal) -> None:
    chain = Chain()
    first = [chain.opening("kitchen-0001")]
    rest = [chain.weighing("kitchen-0001", n) for n in (1, 2)]
    journal.append(first)
    assert journal.tail() == Tail(1, first[0].hash)
    journal.append(rest)
    journal.append([])
    assert journal.tail() == chain.tail
    assert everything(journal) == first + rest
    assert list(journal.batch("kitchen-0001")) == first + rest
    assert intact(everything(journal))


@pytest.mark.parametrize(
    "value",
    [
        "0.10",
        "1179.60",
        "-0.0",
        "12345678901234567890.123456789",
        0.1,
        12.0,
        1e21,
        5e-324,
        -0.0,
        333333333.3333333,
        2**53 - 1,
        'é\u2028\u0000\U0001f9c2"\\',
        {"ö": 1, "o\u0308": 2, "": [], "\r": {}},
        [None, True, False],
    ],
)
def test_a_body_comes_back_byte_for_byte(journal: Journal, value: Any) -> None:
    entry = Chain().add("tared", "kitchen-0001", value=value)
    journal.append([entry])
    (back,) = everything(journal)
    assert canonical(back.body) == canonical(entry.body)
    assert intact([back])


def test_masses_are_texts_that_keep_their_zeros(journal: Journal) -> None:
    journal.append([Chain().add("tared", "kitchen-0001", tare_g="251.300")])
    assert everything(journal)[0].body["tare_g"] == "251.300"


def test_what_is_kept_shares_nothing_with_what_was_handed_over(journal: Journal) -> None:
    body: dict[str, Any] = {"batch": "kitchen-0001", "evidence": {"readings": ["a"]}}
    journal.append([seal(STATION, "tared", "2026-03-01T08:00:00.000Z", body, Tail())])
    body["evidence"]["readings"].append("b")
    assert everything(journal)[0].body["evidence"] == {"readings": ["a"]}


def test_the_open_batch_is_the_one_not_closed_or_abandoned(journal: Journal) -> None:
    chain = Chain()
    journal.append(chain.whole_batch("kitchen-0001"))
    assert list(journal.open_batch()) == []
    second = [chain.opening("kitchen-0002"), chain.weighing("kitchen-0002")]
    journal.append(second)
    assert list(journal.open_batch()) == second
    journal.append([chain.add("batch abandoned", "kitchen-0002", reason="spilt")])
    assert list(journal.open_batch()) == []


def test_batches_are_listed_newest_first_with_what_became_of_them(journal: Journal) -> None:
    chain = Chain()
    first = chain.whole_batch("kitchen-0001")
    journal.append(first)
    second = chain.opening("kitchen-0002", additions=3)
    journal.append([second, chain.weighing("kitchen-0002")])
    third = [chain.opening("kitchen-0003"), chain.add("batch abandoned", "kitchen-0003", reason="")]
    journal.append(third)
    words = ("test-ice", "Test ice", "2400", "Ada")
    assert list(journal.batches()) == [
        BatchRow("kitchen-0003", *words, third[0].at, third[1].at, "abandoned", 2, 0),
        BatchRow("kitchen-0002", *words, second.at, None, "open", 3, 1),
        BatchRow("kitchen-0001", *words, first[0].at, first[3].at, "closed", 2, 2),
    ]


def test_the_list_of_batches_is_turned_over_page_by_page(journal: Journal) -> None:
    chain = Chain()
    # The order is that of opening, not that of the names.
    names = [f"kitchen-{n}" for n in (8, 9, 10, 11, 12)]
    for name in names:
        journal.append([chain.opening(name), chain.add("batch closed", name)])
    assert journal.count_batches() == 5
    seen: list[str] = []
    while page := journal.batches(limit=2, before=seen[-1] if seen else None):
        assert len(page) <= 2
        seen += [one.id for one in page]
    assert seen == names[::-1]
    assert list(journal.batches(limit=0)) == []
    assert list(journal.batches(before="kitchen-8")) == []
    assert list(journal.batches(before="never-heard-of")) == []


def test_a_key_finds_the_entry_it_made_and_cannot_make_another(journal: Journal) -> None:
    chain = Chain()
    journal.append([chain.opening("kitchen-0001", key="k1"), chain.weighing("kitchen-0001")])
    found = journal.entry_for_key("k1")
    assert found is not None
    assert (found.seq, found.kind) == (1, "batch opened")
    assert journal.entry_for_key("k2") is None
    tail = chain.tail
    error = refused(journal, [chain.weighing("kitchen-0001", 2, key="k1")], "key-used")
    assert "k1" in str(error)
    chain.tail = tail
    twice = [
        chain.weighing("kitchen-0001", 2, key="k2"),
        chain.add("batch closed", "kitchen-0001", key="k2"),
    ]
    refused(journal, twice, "key-used")


def test_entries_without_a_key_do_not_get_in_each_others_way(journal: Journal) -> None:
    chain = Chain()
    entries = [chain.opening("kitchen-0001"), chain.weighing("kitchen-0001", 1, key="")]
    journal.append(
        [*entries, chain.weighing("kitchen-0001", 2, key=""), chain.weighing("kitchen-0001")]
    )
    assert journal.tail().seq == 4
    assert journal.entry_for_key("") is None


def test_entries_are_read_from_any_place_on(journal: Journal) -> None:
    chain = Chain()
    journal.append([chain.opening("kitchen-0001")])
    journal.append([chain.add("tared", "kitchen-0001", tare_g="1") for _ in range(304)])

    def numbers(**how: Any) -> list[int]:
        return [one.seq for one in journal.entries(**how)]

    assert numbers() == list(range(1, 306))
    assert numbers(after=100, limit=3) == [101, 102, 103]
    assert numbers(limit=205) == list(range(1, 206))
    assert numbers(after=300) == [301, 302, 303, 304, 305]
    assert numbers(after=305) == []
    assert numbers(limit=0) == []


def test_a_fork_is_refused(journal: Journal) -> None:
    chain = Chain()
    journal.append([chain.opening("kitchen-0001")])
    one = journal.tail()
    refused(journal, [Chain().opening("kitchen-0009")], "journal-forked")
    refused(journal, [Chain(Tail(2, one.hash)).weighing("kitchen-0001")], "journal-forked")
    refused(journal, [Chain(Tail(1, "f" * 64)).weighing("kitchen-0001")], "journal-forked")
    journal.append([chain.weighing("kitchen-0001")])  # and can be used as before


def test_all_or_none_when_the_second_of_three_is_bad(journal: Journal) -> None:
    chain = Chain()
    journal.append([chain.opening("kitchen-0001")])
    start = chain.tail
    good = chain.weighing("kitchen-0001", 1, key="k1")
    last = chain.add("batch closed", "kitchen-0001")
    skipped = Chain(Tail(chain.tail.seq, good.hash)).weighing("kitchen-0001", 2)
    refused(journal, [good, skipped, last], "journal-forked")

    chain.tail = start
    good = chain.weighing("kitchen-0001", 1, key="k1")
    again = chain.opening("kitchen-0001")
    refused(journal, [good, again, chain.add("batch closed", "kitchen-0001")], "batch-exists")
    assert journal.entry_for_key("k1") is None

    chain.tail = start
    journal.append([chain.weighing("kitchen-0001", 1, key="k1")])
    assert journal.batches()[0].accepted == 1


def test_what_would_never_verify_is_not_stored(journal: Journal) -> None:
    entry = Chain().opening("kitchen-0001")
    changed = Entry(
        1, STATION, entry.kind, entry.at, {**entry.body, "batch_g": "2"}, entry.prev, entry.hash
    )
    refused(journal, [changed], "hash-mismatch")
    strange = Entry(
        1, STATION, "tared", entry.at, {"batch": "b", "t": float("nan")}, entry.prev, ""
    )
    refused(journal, [strange], "unreadable-entry")
    refused(journal, [Chain().add("batch opened", "kitchen-0001")], "unreadable-entry")
    refused(journal, [seal(STATION, "tared", "", {"batch": 7}, Tail())], "unreadable-entry")


def test_another_stations_entry_is_refused(journal: Journal) -> None:
    error = refused(journal, [Chain(station="cellar").opening("cellar-0001")], "other-station")
    assert "cellar" in str(error)


def test_an_entry_of_a_batch_that_was_never_opened_here_is_kept_without_a_line(
    journal: Journal,
) -> None:
    entry = Chain().weighing("kitchen-0001")
    journal.append([entry])
    assert list(journal.batch("kitchen-0001")) == [entry]
    assert list(journal.batches()) == []


def test_it_can_be_read_from_other_threads_while_it_is_written(journal: Journal) -> None:
    chain, done, wrong = Chain(), threading.Event(), list[object]()
    journal.append([chain.opening("kitchen-0001")])

    def read() -> None:
        try:
            while not done.is_set():
                entries = everything(journal)
                # Two at a time were written, so an even number after the first is read.
                if len(entries) % 2 != 1 or not intact(entries):
                    wrong.append(len(entries))
                journal.entry_for_key("k")
                journal.batches()
        except Exception as error:  # noqa: BLE001  (whatever it is, the test shows it)
            wrong.append(error)

    readers = [threading.Thread(target=read) for _ in range(3)]
    for one in readers:
        one.start()
    for _ in range(40):
        journal.append([chain.weighing("kitchen-0001"), chain.weighing("kitchen-0001")])
    done.set()
    for one in readers:
        one.join()
    assert wrong == []
    assert journal.tail().seq == 81


def test_a_closed_journal_says_that_it_is_closed(journal: Journal) -> None:
    journal.close()
    journal.close()
    for call in (journal.tail, journal.open_batch, lambda: journal.append([Chain().opening("b")])):
        with pytest.raises(JournalError) as caught:
            call()
        assert caught.value.code == "store-closed"


def test_a_journal_of_any_kind_holds_the_same_bytes(tmp_path: Path, address: str) -> None:
    texts = []
    for opener in OPENERS.values():
        journal = opener(tmp_path, address)
        chain = Chain()
        for n in range(3):
            journal.append(chain.whole_batch(f"kitchen-{n:04}"))
        texts.append(
            [
                json.dumps([one.as_json() for one in journal.entries()]),
                list(journal.batches()),
                journal.count_batches(),
                journal.tail(),
            ]
        )
        journal.close()
    assert all(one == texts[0] for one in texts)


def test_each_batch_in_process_is_found_with_its_entries(journal: Journal) -> None:
    chain = Chain()
    first, second = chain.all_weighed("kitchen-0001"), chain.all_weighed("kitchen-0002")
    journal.append([*first, *second])
    journal.append(chain.whole_batch("kitchen-0003"))
    journal.append([chain.opening("kitchen-0004")])
    assert [list(one) for one in journal.in_process()] == [first, second]
    assert [one.body["batch"] for one in journal.open_batch()] == ["kitchen-0004"]
    statuses = [one.status for one in journal.batches()]
    assert statuses == ["open", "closed", "in process", "in process"]
    assert journal.batches()[-1].closed is None
    journal.append([chain.add("batch closed", "kitchen-0001")])
    assert [list(one) for one in journal.in_process()] == [second]
    journal.append([chain.add("batch abandoned", "kitchen-0002", reason="warm")])
    assert list(journal.in_process()) == []


def test_what_was_drawn_from_lots_is_found_by_lot_and_by_batch(journal: Journal) -> None:
    chain = Chain()
    lots = [chain.lot("lot received", f"L-{n}", quantity_g="500") for n in (1, 2)]
    journal.append(lots)
    for n in range(3):
        batch = f"kitchen-{n:04}"
        split = {"lots": [{"lot": "L-1", "g": "100.10"}, {"lot": "L-2", "g": "400"}]}
        journal.append(
            [
                chain.opening(batch),
                chain.weighing(batch, 1, lot="L-1", u_g="0.3", ingredient="milk"),
                chain.weighing(batch, 2, lot="L-2", u_g="0.4", ingredient="milk", **split),
            ]
        )
    assert list(journal.lot_entries()) == lots
    drawn = journal.drawn()
    assert {lot: (one.g, one.uses) for lot, one in drawn.items()} == {
        "L-1": (Decimal("1800.60"), 6),
        "L-2": (Decimal(1200), 3),
    }
    assert drawn["L-1"].u2 == Decimal("0.75")  # three times 0.3 and 0.4 squared
    found = journal.uses_of_lots(["L-2", "L-9"])
    assert [(one.batch, one.addition, one.g) for one in found] == [
        (f"kitchen-{n:04}", 2, Decimal(400)) for n in range(3)
    ]
    inside = journal.uses_in_batches(["kitchen-0001"])
    assert [(one.lot, one.g, one.ingredient) for one in inside] == [
        ("L-1", Decimal("500.10"), "milk"),
        ("L-1", Decimal("100.10"), "milk"),
        ("L-2", Decimal(400), "milk"),
    ]
    masses = journal.masses_of_batches(["kitchen-0001", "kitchen-0009"])
    assert masses == {"kitchen-0001": Decimal("1000.20")}
    many = [f"kitchen-{n:04}" for n in range(1000)]
    assert len(journal.uses_in_batches(many)) == 9
    assert journal.uses_of_lots([]) == []


def test_an_acceptance_that_cannot_be_read_is_recorded_all_the_same(journal: Journal) -> None:
    chain = Chain()
    journal.append([chain.opening("kitchen-0001"), chain.weighing("kitchen-0001", 1, lots="?")])
    assert (len(everything(journal)), journal.drawn()) == (2, {})
