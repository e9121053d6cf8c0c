"""What cannot be is refused where it is read, by each small part, with its code and its place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from functools import partial
from typing import Any

import pytest

from tests.domain.bench_world import LATER, batch, bench, planned, still
from tests.domain.check_world import started, stood, terms, weight
from tests.domain.evolving import entry_of
from tests.domain.process_world import World
from tests.domain.test_check_answers import CASES, body, entry, played
from tests.domain.test_lot_answers import kitchen
from tests.domain.test_lots import Books
from tests.domain.test_shares import weighed
from tests.station.scripted import formula as scripted_formula
from weighd.domain import duration, moments
from weighd.domain.acts import Act, Handle, acts
from weighd.domain.addition import Link, LinkEvent, Now
from weighd.domain.batch import Kind, Status
from weighd.domain.check import Plan
from weighd.domain.corrections import check_correction
from weighd.domain.countersigning import countersign_body
from weighd.domain.days import plus_days
from weighd.domain.devices import May, may_of
from weighd.domain.errors import OperatorError, RecordError, WeighdError
from weighd.domain.fold import evolve
from weighd.domain.formula_kept import kept_of
from weighd.domain.formula_shared import published_of
from weighd.domain.formula_text import faults, formula_of
from weighd.domain.headroom import fills
from weighd.domain.lot_fold import learned, take
from weighd.domain.lot_json import drawn_of, goods_of, pairs, whole
from weighd.domain.lot_shared import shared_body
from weighd.domain.lots import LotBook
from weighd.domain.pasted import read_pasted
from weighd.domain.pasted_amounts import amount_in
from weighd.domain.plan_words import Into, Role
from weighd.domain.pouring_alone import Alone
from weighd.domain.process_run import Process, place_of, reworded
from weighd.domain.process_run import evolve as run_on
from weighd.domain.record import Tail, seal
from weighd.domain.scan import read_scan
from weighd.domain.steps import Step
from weighd.domain.toml_text import TomlError, load
from weighd.domain.verify import Verifier, read_checks
from weighd.domain.weighing import step
from weighd.domain.whose import stamped
from weighd.domain.yield_record import yield_body

D = Decimal
KEPT = {"formula": "ice", "revision": "1", "how": "page", "by": "", "at": LATER, "content": {}}


def refused(does: Callable[[], Any]) -> tuple[str, str]:
    """Kind or code of what is raised, and its place."""
    with pytest.raises((WeighdError, ValueError, TypeError)) as caught:
        does()
    error = caught.value
    if isinstance(error, WeighdError):
        return error.code, error.where
    assert len(str(error)) > 15
    return type(error).__name__, ""


@pytest.mark.parametrize(
    ("does", "kind"),
    [
        (lambda: duration.read_duration("5", "fortnight"), "ValueError"),
        (lambda: moments.milliseconds("2026-13-01T00:00:00Z"), "ValueError"),
        (lambda: whole(True), "TypeError"),
        (lambda: whole(1.0), "TypeError"),
        (lambda: pairs([1]), "TypeError"),
        (lambda: drawn_of({"g": "1", "u2": "0", "uses": "1"}), "TypeError"),
        (lambda: goods_of({"name": "Sugar", "quantity_g": "5"}), "ValueError"),
        (lambda: kept_of({**KEPT, "content": "x"}), "TypeError"),
        *((partial(kept_of, {**KEPT, key: 5}), "TypeError") for key in KEPT if key != "content"),
        (lambda: published_of({"content": "x"}), "TypeError"),
        (lambda: amount_in("sugar 25 and 26"), "ValueError"),
        (lambda: read_checks({"checks": 3}), "unreadable-entry"),
    ],
)  # fmt: skip
def test_what_is_none_is_told_so(does: Callable[[], Any], kind: str) -> None:
    assert refused(does)[0] == kind


def test_what_just_can_be_is_taken() -> None:
    assert kept_of(KEPT).as_json() == KEPT
    over = batch(status=Status.CLOSED)
    assert countersign_body(over, 3, "Cleo", " " + "x" * 500)["note"] == "x" * 500
    assert refused(lambda: countersign_body(over, 3, "Cleo", "x" * 501)) == ("bad-text", "")


@pytest.mark.parametrize(
    ("day", "days", "said"),
    [
        ("2026-11-27", 3_660_001, "3660001 days are beyond the year 9999"),
        ("2026-11-27", -(10**18), "-1000000000000000000 days are beyond the year 9999"),
        ("2026-11-27", 3_660_000, "is not a day"),
        ("9999-12-31", 1, "is not a day"),
        ("0001-01-01", -1, "is not a day"),
    ],
)
def test_there_is_no_day_beyond_what_a_date_can_hold(day: str, days: int, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        plus_days(day, days)
    assert plus_days("0001-01-01", 3_652_058) == "9999-12-31"  # as the standard library has it


def test_a_device_may_what_there_is_a_word_for() -> None:
    assert [may_of(str(one)) for one in May] == list(May)
    assert refused(lambda: may_of("dance")) == ("bad-value", "may")


def test_a_key_of_very_many_parts_is_named_by_its_line() -> None:
    with pytest.raises(TomlError) as caught:
        load("a = 1\n\n" + ".".join(["x"] * 2000) + " = 1\n")
    assert caught.value.line == 3


def test_a_formula_out_of_values_is_held_like_one_out_of_text() -> None:
    """What a page sends has no lines: the field is named alone."""
    rows = [{"ingredient": "milk", "target": "5 g", "tolerance": "1 g"}]
    fine = {"name": "X", "ingredients": {"milk": {"name": "Milk"}}, "additions": rows}
    assert formula_of(fine, "x.toml").name == "X"
    assert faults(fine, "x.toml") == []
    for change, where in (
        ({"ingredients": []}, "x.toml, ingredients"),
        ({"ingredients": {"milk": "Milk"}}, "x.toml, ingredients.milk"),
        ({"additions": [*rows, "salt"]}, "x.toml, additions"),
    ):
        document = {**fine, **change}
        assert refused(partial(formula_of, document, "x.toml"))[1] == where
        assert [one.where for one in faults(document, "x.toml")] == [where]


# --- weighing -----------------------------------------------------------------------------------


def test_of_a_batch_that_is_over_a_scale_changes_nothing() -> None:
    over = batch(status=Status.CLOSED)
    event = LinkEvent(LATER, Link.LOST, None, "bench")
    assert step(over, Now(), event).now == Now()
    assert refused(lambda: World().do("begin step").do("begin step"))[0] == "not-now"


def test_a_bowl_makes_room_for_a_dish_on_the_same_scale() -> None:
    at = Step(1, Into.BOWL, 0, Role.WHOLE, 1, 1, 0, D(120), D(119), D(121))
    dish = replace(at, of=2, into=Into.DISH, vessel=1)
    done = list(acts([planned(1, step=at), planned(2, step=dish)]))
    assert done == [
        Act(Handle.SET, "bowl", "bench", 1, 1),
        Act(Handle.WEIGH, "bowl", "bench", 1, 0),
        Act(Handle.CLEAR, "bowl", "bench", 2),
        Act(Handle.SET, "dish 1", "bench", 2, 1),
        Act(Handle.WEIGH, "dish 1", "bench", 2, 0),
        Act(Handle.TIP, "dish 1", "bench", 3, 1),
    ]


def test_what_is_poured_from_is_taken_off_and_nothing_is_tipped() -> None:
    """Its own vessel stood on the scale: what left it is in the bowl already."""
    at = Step(1, Into.SOURCE, 1, Role.WHOLE, 1, 1, 0, D(120), D(119), D(121))
    bowl = replace(at, of=2, into=Into.BOWL, vessel=0)
    first, second = planned(1, step=at, by_difference=True), planned(2, step=bowl)
    assert list(acts([first, second])) == [
        Act(Handle.SET, "source 1", "bench", 1, 1),
        Act(Handle.WEIGH, "source 1", "bench", 1, 0),
        Act(Handle.CLEAR, "source 1", "bench", 2, 0),
        Act(Handle.SET, "bowl", "bench", 2, 1),
        Act(Handle.WEIGH, "bowl", "bench", 2, 0),
    ]
    assert list(acts([first]))[-1] == Act(Handle.CLEAR, "source 1", "bench", 2, 0)


def test_what_is_known_of_no_end_is_never_full() -> None:
    here = bench()
    assert fills((), here.scale, D(9999)) is None
    assert fills(here.batch.additions, replace(here.scale, max_g=None), D(9999)) is None
    full = fills(here.batch.additions, here.scale, D(5990))
    assert full is not None
    assert full.n == 1


def test_only_a_scale_that_was_tared_ends_with_an_addition() -> None:
    """What is poured from next may not be on its scale yet."""
    from tests.domain.evolving import ACCEPTED

    of = batch(planned(), planned(2, scale="fine", by_difference=True))
    after = evolve(of, entry_of(of, Kind.ACCEPTED, **ACCEPTED))
    assert after.left == {}
    assert still("1").grams == 1


def test_a_name_that_is_not_whoever_asked_is_not_stamped() -> None:
    assert stamped({"by": "Ada"}, "Bo", ("Bo",), "") == {"by": "Ada"}
    assert stamped({"by": "Ada"}, "ada", (), "Bo") == {"by": "Ada", "allowed_by": "Bo"}
    assert stamped({"by": "Ada"}, "Ada", ("Ada",), "") == {"by": "Ada", "proved": {"Ada": "pin"}}


def test_a_guide_alone_knows_its_interval() -> None:
    assert Alone().interval_g == D("0.1")


# --- lists and codes ----------------------------------------------------------------------------


def test_spoons_beside_a_number_are_no_amount() -> None:
    (line,) = read_pasted("2 tbsp sugar", {}).lines
    assert (line.amount_g, str(line.outcome)) == (None, "not understood")
    assert line.why


@pytest.mark.parametrize(
    ("raw", "kind"), [("https://[/01/04012345678901", "plain"), ("]C1]x9", "gs1")]
)
def test_a_code_that_the_reader_gives_up_on_is_no_crash(raw: str, kind: str) -> None:
    """An address that is none, and a mark of a symbology that there is none of."""
    told = read_scan(raw, 2026)
    assert (told.kind, told.gtin, bool(told.misread)) == (kind, "", kind == "gs1")


# --- lots ---------------------------------------------------------------------------------------


def another(kind: str, seq: int = 9, **more: Any) -> Any:
    return seal("cellar", kind, LATER, {"lot": "X-1", "by": "Bo", **more}, Tail(seq - 1, "0" * 64))


def test_entries_of_lots_that_cannot_be_are_not_folded() -> None:
    books, entries = kitchen()
    received = entries[0]
    for one in (
        received,  # once more
        replace(received, kind="lot opened", body={**received.body, "lot": "nowhere"}),
        replace(received, body={**received.body, "corrects": "0" * 64}),
    ):
        with pytest.raises(ValueError, match=r"lot|newest receipt"):
            take(books.book, one)
    at_home = {"of": {"station": "kitchen", "lot": "R-0001"}, "reason": "x"}
    for book, blocked in (
        (LotBook(), another("lot blocked", reason="x")),
        (books.book, another("lot blocked", **at_home)),  # it is there, under another code
    ):
        with pytest.raises(ValueError, match="lot X-1 is not the one that it is of"):
            learned(book, "kitchen", blocked, "X-1", 3)


def test_what_another_station_did_is_taken_in_only_where_it_can_be() -> None:
    books, _ = kitchen()
    blocked = another("lot blocked", reason="x")
    ours = seal("kitchen", "lot blocked", LATER, dict(blocked.body), Tail(8, "0" * 64))
    for one, code, said in (
        (blocked, "unknown-lot", "not known here yet"),
        (another("batch opened"), "not-shared", "nothing that another station did to a lot"),
        (another("lot blocked", batch="b"), "not-shared", "nothing that another station did"),
        (ours, "not-shared", "nothing that another station did to a lot"),
        (replace(blocked, hash="0" * 64), "not-shared", "does not give the hash it carries"),
    ):
        with pytest.raises(OperatorError, match=said) as caught:
            shared_body(books.book, "kitchen", one)
        assert (caught.value.code, caught.value.where) == (
            code,
            f"entry 9 of station {one.station}",
        )


def test_a_code_that_is_there_is_not_made_again() -> None:
    books = Books()
    for code in ("R-0003", "X", "R-0005"):
        books.receive(lot=code)
    # By how many there are it would be R-0004, then the next one that is free.
    assert [books.receive() for _ in range(3)] == ["R-0004", "R-0006", "R-0007"]


# --- steps --------------------------------------------------------------------------------------


def test_steps_that_cannot_be_are_not_folded() -> None:
    held_at = World().do("begin step").wait(1).do("end step").batch
    assert held_at is not None
    here = held_at.process
    running = World().do("begin step").batch
    assert running is not None
    for process, kind, told in (
        (here, "step begun", {"step": 1}),
        (here, "step decided", {"step": 2, "decision": "accept"}),
        (here, "step decided",
         {"step": 1, "decision": "repeat", "from_step": 2, "reason": "r", "by": "b"}),
        (here, "step decided",
         {"step": 1, "decision": "repeat", "from_step": 0, "reason": "r", "by": "b"}),
        (here, "step noted", {"step": 2}),
        (Process(), "step noted", {"step": 1}),
        (running.process, "temperature struck out", {"step": 1, "value": 1}),
        (here, "temperature entered", {"step": 1}),
    ):  # fmt: skip
        with pytest.raises(ValueError, match=r"step|value|note"):
            run_on(process, kind, told, LATER)


def test_words_of_no_run_stay_as_they_are() -> None:
    assert place_of(Process(), "step noted", {}) == (-1, -1)
    assert reworded(Process(), "step noted", (-1, -1), "note", "x") == Process()
    running = World().do("begin step").batch
    assert running is not None
    assert reworded(running.process, "step begun", (0, -1), "reason", "x") == running.process


# --- yields -------------------------------------------------------------------------------------


def test_of_what_was_not_weighed_nothing_comes_out() -> None:
    kept = {"name": "Test ice", "content": scripted_formula().content()}
    of = replace(batch(planned(), status=Status.CLOSED), formula=kept)
    drawn = {"weight": "1100 g"}
    assert refused(partial(yield_body, of, drawn, "Ada")) == ("nothing-weighed", "")
    nothing = weighed(1, "0")
    none_in = replace(of, accepted=(nothing,))
    assert refused(partial(yield_body, none_in, drawn, "Ada")) == ("nothing-weighed", "")
    some = replace(of, accepted=(weighed(1, "0.1"),))
    assert yield_body(some, drawn, "Ada")["by"] == "Ada"
    unread = replace(some, formula={**kept, "content": {"name": "Test ice"}})
    assert refused(partial(yield_body, unread, drawn, "Ada")) == ("no-formula-kept", "")


# --- checks and corrections -----------------------------------------------------------------------


def test_nothing_is_asked_for_once_a_check_is_done() -> None:
    going = played(*CASES["good"])
    assert going.current is None
    assert not going.is_asked(D(2000))
    only = started(Plan(masses=(weight(2000),)), terms())
    assert only.is_empty(stood("0.0").level.grams)


def test_a_correction_says_what_can_be_said() -> None:
    of = batch(status=Status.CLOSED)
    plain = {"of": {"n": 1, "hash": "0"}, "field": "operator", "old": "a", "new": "b",
             "reason": "r", "by": "Bo"}  # fmt: skip
    nothing = "where the entry it is about gives nothing that could be confirmed"
    for change, said in (
        ({"although": "lot-blocked"}, f"although is lot-blocked, {nothing}."),
        ({"although": "rain", "drew": {}}, f"although is rain, {nothing}."),
        ({"old": 3}, "body is other things, where the entry it is about gives texts."),
        ({"of": {"n": "1"}}, "of is 1, where the entry it is about gives a number."),
    ):
        told = {**plain, **change}
        with pytest.raises(RecordError) as caught:
            check_correction(of, entry_of(of, Kind.CORRECTED, **told))
        assert caught.value.message == said
        assert caught.value.code == "does-not-follow"
        assert caught.value.where == "entry 24 (corrected)"


# --- verifying ------------------------------------------------------------------------------------


def test_entries_of_others_are_not_verified_with_a_batch() -> None:
    from tests.domain.test_verify import JOURNAL

    def after(*entries: Any, whole_: bool = False, **more: Any) -> tuple[str, str]:
        verifier = Verifier(whole=whole_, **more)
        for one in entries[:-1]:
            verifier.take(one)
        return refused(partial(verifier.take, entries[-1]))

    opened = JOURNAL[0]
    body_ = {**opened.body, "batch": "other-0001"}
    other = seal("test", opened.kind, opened.at, body_, Tail(opened.seq, opened.hash))
    assert after(opened, other) == ("other-batch", f"entry {other.seq}")
    moved = seal("cellar", opened.kind, opened.at, dict(opened.body), Tail(1, opened.hash))
    assert after(opened, moved) == ("other-station", "entry 2")
    last = JOURNAL[-1]
    late_body = {**opened.body, "n": last.body["n"] + 1, "after": last.hash}
    late = seal("test", "restarted", last.at, late_body, Tail(last.seq, last.hash))
    assert after(*JOURNAL, late) == ("after-the-end", f"entry {late.seq}")
    recalled = after(*JOURNAL, late, recall=lambda _: JOURNAL)
    assert recalled == ("after-the-end", f"entry {late.seq}")
    again = seal("test", "corrected", last.at, late_body, Tail(last.seq, last.hash))
    assert after(*JOURNAL, again, recall=lambda _: JOURNAL[:3])[0] == "entry-missing"
    check_ = entry(body(played(*CASES["good"])))
    verifier = Verifier(whole=False)
    verifier.take(opened)
    assert refused(lambda: verifier.take_check(check_)) == ("other-station", "entry 1")
    assert refused(lambda: verifier.take_check(opened)) == ("not-a-check", "entry 1")


def test_an_operator_error_is_never_a_record_error() -> None:
    assert not issubclass(OperatorError, RecordError)
