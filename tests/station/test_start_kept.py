"""What a start keeps of the record is a cache: with it, without it, or with a false one a station
stands where its entries have it. Held against taking all entries one by one (no outside source)."""

from __future__ import annotations

import json
import random
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.dose import dose
from tests.station.scripted import Hand, LineDecoder
from weighd.domain.away import stub_of
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.lot_fold import take
from weighd.domain.lots import LotBook
from weighd.domain.record import Entry, seal
from weighd.domain.verify import Verifier
from weighd.main.start_kept import StartKept
from weighd.station.folded import Folded, fold, folded_of
from weighd.station.runner import run_through
from weighd.station.session import Header, header_line, read
from weighd.storage.journal import SqlJournal, open_journal
from weighd.storage.keys import StationKey, station_key
from weighd.storage.memory import MemoryJournal
from weighd.storage.start_file import START_FILE, StartFile

CODES = ("A", "B", "C", "D")
KINDS = ("receive lot", "block lot", "release lot", "adjust lot", "open lot", "use up lot")
CHECKED = Path(__file__).parents[2] / "fixtures/sessions/checked.golden.json"


class Keeper(Hand):
    """Somebody who weighs, books goods in before and after they are used, and puts lots right."""

    def __init__(self, seed: int, journal: list[Entry] | None = None) -> None:
        super().__init__(journal)
        self.dice = random.Random(seed)
        self._check = json.loads(CHECKED.read_text("utf-8"))["checks"][0]["body"]
        self._check.pop("key", None)

    def act(self) -> None:
        """Any one thing; what the station refuses is refused."""
        dice, code = self.dice, self.dice.choice(CODES)
        with suppress(OperatorError):
            what = dice.choice(("lot", "lot", "lot", "weigh", "weigh", "put right", "check"))
            if what == "lot":
                self._lot(dice.choice(KINDS), code)
            elif what == "weigh":
                self._weigh(code)
            elif what == "put right":
                self._put_right(code)
            else:
                body = {**self._check, "outcome": dice.choice(("pass", "fail"))}
                body["scale"] = dice.choice(("bench", "other"))
                run_through(self.station.enter("scale checked", body), self._append)  # type: ignore[arg-type]

    def _lot(self, do: str, code: str) -> None:
        goods: dict[str, Any] = {"change_g": "0"}
        if do == "receive lot":
            goods = {"ingredient": "milk", "quantity_g": "5000", "name": "Milk"}
        elif do == "adjust lot":
            goods = {"count_g": str(self.dice.randrange(100, 3000))}
        elif do in ("use up lot", "block lot", "release lot"):
            goods = {}
        elif do == "open lot":
            goods = {"keeps_days": "3"}
        self.do(do, lot=code, by="Ada", reason="so it is", goods=goods)

    def _weigh(self, code: str) -> None:
        """The milk of a batch, from a lot that is known or not, and no more of it."""
        if self.station.batch is None:
            self.start()
            self.show("312.4")
            self.do("tare")
        batch = self.station.batch
        assert batch is not None
        if batch.accepted:
            self.do("abandon", reason="enough")
            self.lift("0.0")
            return
        self.do("name lot", lot=code)
        self.pour("812.4", step="100")
        self.do("accept")

    def _put_right(self, code: str) -> None:
        done = [one for one in self.journal if one.kind == "addition accepted"]
        if not done:
            return
        one = self.dice.choice(done)
        for old in CODES:  # whichever stands there by now
            with suppress(OperatorError):
                told = {"field": "lot", "old": old, "new": code, "reason": "misread", "by": "Bo"}
                told |= {"confirm": True, "batch": one.body["batch"], "entry": one.body["n"]}
                self.do("correct", **told)


def kept(entries: list[Entry]) -> MemoryJournal:
    journal = MemoryJournal("test")
    journal.append(entries)
    return journal


def told(one: Folded) -> dict[str, Any]:
    """All that a start takes from it."""
    return {
        "tail": one.tail,
        "made": one.made,
        "past": dict(one.past),
        "lots": list(one.book),
        "strangers": one.book.strangers,
        "known": one.book.known,
    }


def by_entries(entries: list[Entry]) -> LotBook:
    """The book as the verification makes it."""
    book = LotBook()
    for entry in entries:
        take(book, entry)
    return book


@pytest.mark.parametrize("seed", range(dose(4, 60)))
def test_what_is_kept_at_any_moment_comes_to_the_same(seed: int) -> None:
    hand = Keeper(seed)
    for _ in range(50):
        hand.act()
    entries, scales = hand.journal, {"bench"}
    whole = fold(kept(entries), scales)
    assert whole.made == sum(one.kind == "batch opened" for one in entries)
    book = by_entries(entries)
    assert (list(book), book.strangers) == (list(whole.book), whole.book.strangers)
    assert list(hand.station.stock.book) == list(whole.book)  # as the one that never stopped
    for cut in sorted({0, len(entries), *(hand.dice.sample(range(len(entries)), 5))}):
        lines = fold(kept(entries[:cut]), scales).as_lines("test")
        again = folded_of(json.loads(json.dumps(lines)), "test")
        assert again is not None
        again.go_on(kept(entries))
        assert told(again) == told(whole)
        # What was not asked for then is asked for now.
        again.ask(kept(entries), {"bench", "other"})
        assert again.past == fold(kept(entries), {"bench", "other"}).past


def test_the_walk_draws_from_lots_before_they_are_known_and_puts_them_right() -> None:
    kinds, early = set[str](), 0
    for seed in range(4):
        hand = Keeper(seed)
        for _ in range(50):
            before = set(hand.station.stock.book.strangers)
            hand.act()
            early += len(before - set(hand.station.stock.book.strangers))
        kinds |= set(hand.kinds())
    assert early
    assert {"corrected", "scale checked", "lot used up", "lot blocked"} <= kinds


def test_stubs_of_what_was_put_away_are_taken_for_what_they_stand_for() -> None:
    hand = Keeper(1)
    for _ in range(30):
        hand.act()
    entries, whole = hand.journal, fold(kept(hand.journal), {"bench"})
    away = [stub_of(one, "a.archive") if "batch" in one.body else one for one in entries]

    class Stubbed:
        def entries(self, *, after: int = 0) -> list[Entry]:
            return [one for one in away if one.seq > after]

    again = Folded(asked=frozenset({"bench"}))
    again.go_on(Stubbed())  # type: ignore[arg-type]
    assert told(again) == told(whole)


def test_lots_are_looked_for_without_being_read() -> None:
    hand = Keeper(0)
    for code, more in (("A", {}), ("B", {"supplier_lot": "S-1"}), ("C", {})):
        goods = {"ingredient": "milk", "quantity_g": "500", "name": "Milk", **more}
        hand.do("receive lot", lot=code, by="Ada", goods=goods)
    hand.do("use up lot", lot="A", by="Ada", reason="gone", goods={})
    again = folded_of(fold(kept(hand.journal), ()).as_lines("test"), "test")
    assert again is not None
    rows = {one.code: one for one in again.book.later()}
    found = again.book.find("s-1")
    assert found is not None
    assert found.code == "B"
    taken = again.book.suggest("milk", "2026-11-27")
    assert taken is not None
    assert taken.code == "B"
    assert rows["A"]._lot is None  # type: ignore[union-attr]
    used_up = again.book.get("a")
    assert used_up is not None
    assert used_up.used_up


def test_a_recording_begins_with_as_many_lots_as_there_are() -> None:
    hand = Keeper(0)
    goods = {"ingredient": "milk", "quantity_g": "500", "name": "Milk", "note": "x" * 300}
    hand.do("receive lot", lot="A", by="Ada", goods=goods)
    (lot,) = hand.station.stock.book
    lots = tuple(replace(lot, code=f"L{n}") for n in range(3000))
    first = header_line(Header({}, lots=lots))
    assert len(first) > 1_000_000
    header, inputs = read([first])
    assert header.lots == lots
    assert list(inputs) == []


def test_those_there_are_not_those_used_up() -> None:
    hand = Keeper(0)
    for code in ("A", "B"):
        goods = {"ingredient": "milk", "quantity_g": "500", "name": "Milk"}
        hand.do("receive lot", lot=code, by="Ada", goods=goods)
    hand.do("use up lot", lot="A", by="Ada", reason="gone", goods={})
    again = folded_of(fold(kept(hand.journal), ()).as_lines("test"), "test")
    assert again is not None
    for book in (again.book, hand.station.stock.book):
        assert [one.code for one in book.there()] == ["B"]


# --- the file ------------------------------------------------------------------------------------


class Place:
    """A record on the disk, with its key."""

    def __init__(self, folder: Path, entries: list[Entry]) -> None:
        self.folder = folder
        self.key: StationKey = station_key(folder / "station-key.pem")
        self.journal: SqlJournal = open_journal(folder / "weighd.db", "test")
        self.journal.append(entries)

    def begin(self) -> tuple[Folded, bool]:
        """What a start takes, and whether it was out of the file."""
        begun = StartKept(self.journal, self.folder, self.key)
        taken = begun._kept() is not None
        return StartKept(self.journal, self.folder, self.key).begin({"bench"}), taken


@pytest.fixture
def place(tmp_path: Path) -> Any:
    hand = Keeper(2)
    for _ in range(30):
        hand.act()
    made = Place(tmp_path, hand.journal)
    yield made
    made.journal.close()


def more(place: Place, n: int) -> None:
    for _ in range(n):
        body = {"lot": f"X{place.journal.tail().seq}", "by": "Ada", "ingredient": "milk"}
        body |= {"name": "Milk", "quantity_g": "5"}
        at = "2026-11-26T09:00:00.000Z"
        place.journal.append([seal("test", "lot received", at, body, place.journal.tail())])


def test_the_second_start_takes_what_the_first_kept(place: Place) -> None:
    first, taken = place.begin()
    assert not taken
    more(place, 3)
    second, taken = place.begin()
    assert taken
    assert told(second) == told(fold(place.journal, {"bench"}))
    assert second.tail.seq == first.tail.seq + 3


def test_it_is_written_again_once_enough_was_added(place: Place) -> None:
    begun = StartKept(place.journal, place.folder, place.key)
    begun.begin({"bench"})
    before = (place.folder / START_FILE).read_bytes()
    more(place, 4)
    begun.keep_up(5)
    assert (place.folder / START_FILE).read_bytes() == before
    more(place, 1)
    begun.keep_up(5)
    lines = StartFile(place.folder / START_FILE, place.key).read()
    assert lines is not None
    assert json.loads(lines[0])["seq"] == place.journal.tail().seq
    (place.folder / START_FILE).unlink()
    more(place, 9)
    begun.keep_up(5)  # nothing to go on from: the next start begins anew
    assert not (place.folder / START_FILE).exists()


@pytest.mark.parametrize("how", ["gone", "torn", "empty", "changed", "other key", "other version"])
def test_a_file_that_is_not_as_it_was_kept_is_as_none(place: Place, how: str) -> None:
    whole, _ = place.begin()
    path = place.folder / START_FILE
    lines = whole.as_lines("test")
    if how == "gone":
        path.unlink()
    elif how == "torn":
        path.write_bytes(path.read_bytes()[:-200])
    elif how == "empty":
        path.write_bytes(b"")
    elif how == "changed":
        path.write_bytes(path.read_bytes().replace(b'"made":', b'"made":9', 1))
    elif how == "other key":
        StartFile(path, station_key(place.folder / "other.pem")).write(lines)
    else:
        head = {**json.loads(lines[0]), "start": "1 of weighd 0.0.1"}
        StartFile(path, place.key).write([json.dumps(head), *lines[1:]])
    again, taken = place.begin()
    assert not taken
    assert told(again) == told(whole)
    assert place.begin()[1]  # and it is kept anew


def test_what_was_kept_of_another_history_is_not_taken(place: Place, tmp_path: Path) -> None:
    """A record put back from a copy: shorter, or as long and another."""
    whole, _ = place.begin()
    lines = whole.as_lines("test")
    for change in ({"hash": "0" * 64}, {"seq": whole.tail.seq + 1}, {"station": "other"}):
        head = {**json.loads(lines[0]), **change}
        StartFile(place.folder / START_FILE, place.key).write([json.dumps(head), *lines[1:]])
        again, taken = place.begin()
        assert not taken
        assert told(again) == told(whole)


def test_a_false_one_by_who_has_the_key_changes_no_record(tmp_path: Path) -> None:
    """It can have a station take a blocked lot. The entries then do not follow, and are named."""
    hand = Keeper(0)
    goods = {"ingredient": "milk", "quantity_g": "5000", "name": "Milk"}
    hand.do("receive lot", lot="A", by="Ada", goods=goods)
    hand.do("block lot", lot="A", by="Ada", reason="recalled", goods={})
    place = Place(tmp_path, hand.journal)
    true, _ = place.begin()
    lot = true.book.get("A")
    assert lot is not None
    true.book.put(replace(lot, blocks=()))
    StartFile(place.folder / START_FILE, place.key).write(true.as_lines("test"))
    false, taken = place.begin()
    assert taken
    hand.station.stock.book = false.book
    place.journal.close()
    hand._weigh("A")
    assert "addition accepted" in hand.kinds()
    verifier = Verifier(whole=True, reread=lambda _spec: LineDecoder())
    with pytest.raises(RecordError) as refused:  # noqa: PT012 - which one it is, is the question
        for entry in hand.journal:
            verifier.take(entry)
    assert "blocked" in str(refused.value)
