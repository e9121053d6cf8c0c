"""What becomes of a batch after weighing, and of the words in it: the whole batch, each time."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tests.domain.bench_world import LATER, TARED, D, batch
from tests.domain.evolving import ACCEPTED, but, changed, wrote
from weighd.domain.batch import Batch, Kind, Status
from weighd.domain.corrections import Correction, Written
from weighd.domain.countersigning import Countersigned
from weighd.domain.draws import Draw, Draws, Quantity
from weighd.domain.process_run import Note, Process, Run, Value
from weighd.domain.record import Entry
from weighd.domain.temperature import read_temperature

OVER = batch(status=Status.CLOSED)


def test_a_countersignature_is_no_hand_in_the_batch() -> None:
    body = {"of": {"n": 3, "hash": OVER.after}, "by": "Cleo", "note": "looked"}
    entry, after = changed(OVER, Kind.COUNTERSIGNED, **body)
    first = Countersigned(4, 3, "Cleo", LATER, "looked")
    assert after == but(OVER, entry, countersigned=(first,))
    del body["note"]
    entry, twice = changed(after, Kind.COUNTERSIGNED, **body)
    assert twice.countersigned == (first, Countersigned(5, 3, "Cleo", LATER, ""))


def test_draws_are_added_and_replaced() -> None:
    weight = {"typed": "2 kg", "g": "2000", "u_g": "288.675"}
    entry, after = changed(OVER, Kind.YIELD, draw=1, weight=weight, by="Ada")
    grams = Quantity(D(2000), D("288.675"), "2 kg")
    first = Draw(1, entry.hash, LATER, "Ada", grams)
    assert after == but(
        OVER,
        entry,
        draws=Draws((first,), 1),
        hands=frozenset({"ada"}),
        written=(wrote(entry, operator="Ada"),),
    )
    names = {"n": 4, "hash": entry.hash}
    again, twice = changed(
        after, Kind.YIELD, draw=2, weight={**weight, "g": "2100"}, by="Bo", corrects=names
    )
    better = Draw(1, again.hash, LATER, "Bo", replace(grams, value=D(2100)))
    assert twice.draws == Draws((better,), 1)


# --- steps after weighing ---------------------------------------------------------------------


def test_words_of_a_step_have_their_place() -> None:
    of = batch(status=Status.IN_PROCESS, steps=(object(),))
    rows: list[tuple[str, dict[str, Any], tuple[int, int]]] = [
        (Kind.STEP_BEGUN, {"begun": TARED, "confirmed": []}, (0, -1)),
        (Kind.VALUE_ENTERED, {"temperature": "4 °C", "taken": TARED}, (0, 0)),
        (Kind.VALUE_ENTERED, {"temperature": "5 °C", "taken": TARED}, (0, 1)),
        (Kind.STEP_NOTED, {"note": "lumpy"}, (0, 0)),
        (Kind.VALUE_STRUCK, {"value": 1, "reason": "misread"}, (0, 0)),
    ]
    for kind, body, place in rows:
        entry, of = changed(of, kind, step=1, by="Ada", **body)
        assert of.written[-1].place == place, kind
        assert of.written[-1].n == entry.body["n"]
        assert of.status is Status.IN_PROCESS
    ms = of.process.runs[0].begun_ms
    values = (
        Value(read_temperature("4 °C"), TARED, "Ada", struck="misread", ms=ms),
        Value(read_temperature("5 °C"), TARED, "Ada", ms=ms),
    )
    run = Run(1, TARED, "Ada", values=values, notes=(Note("lumpy", LATER, "Ada"),), begun_ms=ms)
    assert of.process == Process(1, (run,))


# --- corrections ------------------------------------------------------------------------------


def corrected(of: Batch, n: int, field: str, new: str) -> tuple[Entry, Batch]:
    was = next(one for one in of.written if one.n == n)
    told = {"field": field, "old": was.fields[field], "new": new, "reason": "slip", "by": "Bo"}
    return changed(of, Kind.CORRECTED, of={"n": n, "hash": was.hash}, **told)


def holds(of: Batch, entry: Entry, after: Batch, **changes: Any) -> None:
    """A correction changes what is named, and is kept beside it; Bo has had a hand in it."""
    body = entry.body
    n, name, new = body["of"]["n"], body["field"], body["new"]
    made = Correction(body["n"], name, body["old"], new, "slip", "Bo", LATER)
    written = tuple(
        replace(one, fields={**one.fields, name: new}, made=(*one.made, made))
        if one.n == n
        else one
        for one in of.written
    )
    hands = of.hands | {"bo"} | ({new.casefold()} if name == "operator" else set())
    assert after == but(of, entry, written=written, hands=hands, **changes)


def test_the_words_of_an_acceptance_are_put_right_where_the_batch_has_them() -> None:
    of = batch()
    _, of = changed(of, Kind.ACCEPTED, **{**ACCEPTED, "reason": "thick"})
    body = {**ACCEPTED, "addition": 2, "lot": "K-2", "reason": "late"}
    lots = [{"lot": "K-1", "g": "1"}, {"lot": "K-2", "g": "1.5"}]
    _, of = changed(of, Kind.ACCEPTED, **body, lots=lots)
    one, other = of.accepted
    for n, field, new, change in (
        (4, "lot", "S-9", {"accepted": (replace(one, lot="S-9"), other)}),
        (4, "reason", "thin", {"accepted": (replace(one, reason="thin"), other)}),
        (4, "operator", "Cleo", {}),
        (5, "lot 1", "K-9", {}),  # the batch has the last lot of an addition
        (5, "lot 2", "K-9", {"accepted": (one, replace(other, lot="K-9"))}),
        (5, "reason", "early", {"accepted": (one, replace(other, reason="early"))}),
    ):
        entry, after = corrected(of, n, field, new)
        holds(of, entry, after, **change)


def test_who_opened_it_and_why_it_ended_are_put_right() -> None:
    first = Written(1, "11" * 32, Kind.OPENED, TARED, {"operator": "Ada", "reason": "x"})
    of = batch(written=(first,))
    entry, after = corrected(of, 1, "operator", "Cleo")
    holds(of, entry, after, operator="Cleo")
    entry, after = corrected(of, 1, "reason", "y")
    holds(of, entry, after)
    for kind in (Kind.CLOSED, Kind.ABANDONED):
        _, over = changed(of, kind, reason="burnt", by="Ada", sum_g=None)
        entry, after = corrected(over, 4, "reason", "eaten")
        holds(over, entry, after, reason="eaten")
        entry, after = corrected(over, 4, "operator", "Cleo")
        holds(over, entry, after)


def test_who_drew_is_put_right_in_that_draw_alone() -> None:
    weight = {"typed": "2 kg", "g": "2000", "u_g": "288.675"}
    of = OVER
    for n in (1, 2):
        _, of = changed(of, Kind.YIELD, draw=n, weight=weight, by="Ada")
    entry, after = corrected(of, 5, "operator", "Cleo")
    first, second = of.draws.standing
    holds(of, entry, after, draws=Draws((first, replace(second, by="Cleo")), 2))


def test_the_words_of_a_tare_or_a_lot_are_nowhere_else() -> None:
    _, of = changed(batch(), Kind.LOT_NAMED, addition=1, lot="S-2", by="Ada")
    entry, after = corrected(of, 4, "operator", "Cleo")
    holds(of, entry, after)


def test_the_words_of_a_step_are_put_right_in_its_run() -> None:
    of = batch(status=Status.IN_PROCESS, steps=(object(),))
    _, of = changed(of, Kind.STEP_BEGUN, step=1, by="Ada", begun=TARED, confirmed=[])
    _, of = changed(of, Kind.STEP_NOTED, step=1, by="Ada", note="lumpy")
    entry, after = corrected(of, 5, "note", "smooth")
    run = of.process.runs[0]
    better = replace(run, notes=(replace(run.notes[0], text="smooth"),))
    holds(of, entry, after, process=Process(1, (better,)))
    entry, after = corrected(of, 4, "operator", "Cleo")
    holds(of, entry, after, process=Process(1, (replace(run, by="Cleo"),)))
