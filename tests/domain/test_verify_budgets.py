"""Budgets in the record: what is stated goes in and is re-derived; older records still hold."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.domain.test_verify import check
from tests.station.scripted import Hand
from weighd.domain import metrology_before as before
from weighd.domain.accuracy import Accuracy, AccuracyClass
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.verify import Verifier, read_export
from weighd.main.drivers import reread

D = Decimal
OLD = Path(__file__).parents[2] / "fixtures/records/without-budgets.json"
STATED = Accuracy(D("0.03"), None, AccuracyClass.II, D("0.1"), D("0.05"))


def sealed(entries: list[Entry], change: Callable[[str, dict[str, Any]], None]) -> list[Entry]:
    """The same entries, each body changed, under fresh hashes."""
    out: list[Entry] = []
    tail, after = Tail(), "0" * 64
    for one in entries:
        body = copy.deepcopy(dict(one.body))
        change(one.kind, body)
        entry = seal("test", one.kind, one.at, {**body, "after": after}, tail)
        tail, after = Tail(entry.seq, entry.hash), entry.hash
        out.append(entry)
    return out


def weigh(hand: Hand, *totals: str) -> None:
    for total in totals:
        hand.pour(total)
        hand.do("accept")


def whole(accuracy: Accuracy | None = None) -> Hand:
    hand = Hand(accuracy=accuracy)
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    weigh(hand, "812.4", "932.4", "934.4")
    return hand


def accepted(entries: list[Entry]) -> list[Any]:
    return [one.body for one in entries if one.kind == "addition accepted"]


def test_every_figure_stated_goes_into_the_record_and_its_sum() -> None:
    hand = whole(STATED)
    assert check(hand.journal, whole=True).weighings == 3
    opened = hand.journal[0].body["scales"]["bench"]
    assert opened["accuracy_class"] == "II"
    assert (opened["verification_interval_g"], opened["creep_g"]) == ("0.1", "0.05")
    # 500 g on class II, e = 0.1 g: 5000 e, so 2 x 0.5 e; d = 0.1 g; creep for half an hour.
    first, _, last = accepted(hand.journal)
    assert first["budget"] == {
        "rounding": "0.040826",  # 0.1 / sqrt(6), from two rounded parts
        "spread": "0.000000",
        "repeatability": "0.030000",
        "permissible_error": "0.057735",  # 0.1 / sqrt(3)
        "creep": "0.028868",  # 0.05 / sqrt(3)
    }
    squares = sum(D(one) ** 2 for one in first["budget"].values())
    assert abs(D(first["u_g"]) ** 2 - squares) < D("1e-7")
    assert D(first["guard_g"]) == 2 * D(first["u_g"])
    assert D(first["accept_low_g"]) == D(first["low_g"]) + D(first["guard_g"])
    assert D(first["accept_high_g"]) == D(first["high_g"]) - D(first["guard_g"])
    assert last["rule"] == {"name": "guarded", "k": "2"}


def test_what_was_stated_cannot_be_changed_afterwards() -> None:
    for key, value in (("creep_g", "0"), ("accuracy_class", "I"), ("repeatability_g", "0")):

        def forge(kind: str, body: dict[str, Any], key: str = key, value: str = value) -> None:
            if kind == "batch opened":
                body["scales"]["bench"][key] = value
            if key == "repeatability_g" and kind == "addition accepted":
                body[key] = value

        entries = sealed(whole(STATED).journal, forge)
        if key == "accuracy_class":  # 500 g on class I is the same error: nothing follows from it
            check(entries)
            continue
        with pytest.raises(RecordError, match="budget"):
            check(entries)


def test_a_budget_taken_out_is_missed() -> None:
    for kind in ("tared", "addition accepted"):

        def forge(at: str, body: dict[str, Any], kind: str = kind) -> None:
            if at == kind:
                body.pop("budget")

        with pytest.raises(RecordError, match="budget is missing"):
            check(sealed(whole().journal, forge))


def test_creep_grows_with_every_half_hour_and_may_change_a_verdict() -> None:
    """Accepted half an hour later, the same display is judged with twice the creep."""
    hand = Hand(accuracy=Accuracy(creep_g=D("0.15")))
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    weigh(hand, "812.4", "932.4")
    hand.pour("934.4")  # 2 g within 0.3 g: 2 u of 0.1915 g is inside, of 0.3560 g is not
    assert hand.phase == "judged"
    assert hand.station.now.claim is not None
    assert hand.station.now.claim.verdict == "on target"
    while hand.station.now.claim and hand.station.now.claim.verdict == "on target":
        hand.raw(b"934.4\n", 1.5)
        assert hand.t < 1900
    assert hand.t > 1800
    with pytest.raises(OperatorError, match="too close to call"):
        hand.do("accept")
    hand.do("accept", reason="nothing moved")
    last = accepted(hand.journal)[-1]
    assert (last["verdict"], last["budget"]["creep"]) == ("too close to call", "0.173205")
    assert check(hand.journal).weighings == 3


# --- records from before -------------------------------------------------------------------------


def test_a_record_without_budgets_still_holds() -> None:
    """Written by weighd before budgets were kept, and not touched since."""
    verifier = Verifier(whole=False, reread=reread)
    for entry in read_export(json.loads(OLD.read_text("utf-8"))):
        verifier.take(entry)
    report = verifier.finish()
    assert (report.weighings, report.open_batches) == (6, 0)


def as_before(kind: str, body: dict[str, Any]) -> None:
    """An entry as weighd wrote it before budgets were kept (the displays here stand still)."""
    for key in ("budget", "gross_budget", "guard_g", "accept_low_g", "accept_high_g"):
        body.pop(key, None)
    if kind == "batch opened":
        for key in ("max_error_g", "accuracy_class", "verification_interval_g", "creep_g", "min_g"):
            body["scales"]["bench"].pop(key)
    one = before.level([D(0)] * 4, D("0.1"))
    for key in ("tare_u_g", "gross_u_g"):
        if key in body:
            body[key] = str(one.u_g)
    if "u_g" in body:
        body["u_g"] = str(one.u_g if kind == "tared" else before.net_uncertainty(one, one))


def test_a_record_from_before_with_a_changed_uncertainty_does_not_hold() -> None:
    assert check(sealed(whole().journal, as_before)).weighings == 3

    def forge(kind: str, body: dict[str, Any]) -> None:
        as_before(kind, body)
        if kind == "addition accepted":
            body["u_g"] = "0.0001"

    with pytest.raises(RecordError, match="u_g is"):
        check(sealed(whole().journal, forge))


@pytest.mark.parametrize("done", [2, 3, 4])
def test_a_batch_opened_before_goes_on_with_budgets(done: int) -> None:
    """weighd was renewed in the middle of a batch: opened, tared, some accepted by the old one."""
    entries = sealed(whole().journal[:done], as_before)
    hand = Hand(entries, t=100.0)
    left = ("812.4", "932.4", "934.4")[done - 2 :]
    hand.show(("312.4", "812.4", "932.4")[done - 2])
    weigh(hand, *left)
    assert hand.journal[-1].kind == "batch closed"
    with_budget = [one for one in accepted(hand.journal) if "budget" in one]
    assert len(with_budget) == len(left)
    assert check(hand.journal, whole=True).weighings == 3
