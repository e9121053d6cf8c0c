"""What checks do to acceptances, and how both are proved."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import pytest

from tests.station.check_hand import (
    BARS,
    FLAGS,
    check,
    drawn,
    kept,
    poured,
    put,
    refused,
    verified,
    weigh,
)
from tests.station.scripted import Hand
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.verify import export, verify_export
from weighd.station.check_history import doubted, history, of_batch, said_of


@pytest.fixture
def hand() -> Hand:
    it = Hand(check=FLAGS)
    it.show("0.0")
    return it


# --- acceptances ----------------------------------------------------------------------------------


def test_without_a_check_an_acceptance_is_what_it_was() -> None:
    plain = Hand()
    plain.show("0.0")
    entry = weigh(plain)
    assert "check" not in entry.body
    assert "check" not in plain.journal[0].body["scales"]["bench"]


def test_an_acceptance_names_the_check_by_its_hash(hand: Hand) -> None:
    made = check(hand)
    entry = weigh(hand)
    assert entry.body["check"] == {
        "standing": "good",
        "last": {"seq": 1, "hash": made.hash, "at": made.at, "outcome": "pass"},
    }
    report = verified(hand.journal)
    assert (report.weighings, report.flagged, report.doubted) == (1, 0, 0)


@pytest.mark.parametrize(
    ("shows", "wait_h", "standing"),
    [
        (None, 0, "never checked"),
        ("2000.0", 25, "overdue"),
        ("2003.0", 0, "failed"),
        ("2000.5", 0, "too close to call"),
    ],
)
def test_flagged_or_barred_as_configured(shows: str | None, wait_h: int, standing: str) -> None:
    for routine in (FLAGS, BARS):
        hand = Hand(check=routine)
        hand.show("0.0")
        if shows is not None:
            check(hand, shows)
        hand.tick(wait_h * 3600)
        hand.show("0.0")
        assert drawn(hand)["standing"] == standing
        if routine is FLAGS:
            assert weigh(hand).body["check"]["standing"] == standing
            report = verified(hand.journal)
            assert (report.weighings, report.flagged) == (1, 1)
        else:
            with pytest.raises(OperatorError) as caught:
                hand.start()
            assert caught.value.code == "scale-not-checked"
            check(hand)
            assert weigh(hand).body["check"]["standing"] == "good"


def test_a_check_that_runs_out_in_the_middle_is_made_with_the_vessel_off() -> None:
    hand = poured("800.0")
    hand.tick(25 * 3600)
    hand.found()
    hand.show("800.0")
    assert refused(hand, "accept") == "scale-not-checked"
    assert refused(hand, "start check", scale="bench", by="Ada") == "scale-in-use"
    hand.lift("0.0")
    assert hand.phase == "awaiting vessel"
    made = check(hand)
    assert hand.phase == "awaiting vessel"
    hand.lift("800.0")
    hand.do("accept")
    assert hand.journal[-1].kind == "addition accepted"
    assert hand.journal[-1].body["check"]["last"]["seq"] == made.seq
    assert hand.journal[-1].body["net_g"] == "500.0"
    verified(hand.journal)


def test_a_weight_left_on_after_a_check_is_no_amount(hand: Hand) -> None:
    check(hand)
    hand.start()
    hand.lift("300.0")
    hand.do("tare")
    hand.pour("500.0")
    hand.lift("0.0")
    hand.do("start check", scale="bench", by="Ada")
    hand.show("0.0")
    hand.lift("2000.0")
    assert refused(hand, "tare") == "scale-being-checked"
    hand.do("stop check", scale="bench")
    hand.show("2000.0", seconds=4)
    assert hand.phase == "awaiting vessel"
    assert drawn(hand)["clearing"]
    assert refused(hand, "tare") == "scale-being-checked"
    hand.lift("0.0")
    hand.lift("500.0")
    assert not drawn(hand)["clearing"]
    hand.pour("800.0")
    hand.do("accept")
    assert hand.journal[-1].body["net_g"] == "500.0"


def test_a_batch_may_be_abandoned_while_its_scale_is_checked(hand: Hand) -> None:
    hand.start()
    hand.do("start check", scale="bench", by="Ada")
    hand.do("abandon", reason="no time")
    hand.show("0.0")
    put(hand)
    assert hand.kinds() == ["batch opened", "batch abandoned", "scale checked"]
    verified(hand.journal)


def test_what_a_scale_learned_is_not_forgotten_in_a_check(hand: Hand) -> None:
    hand.do("start check", scale="bench", by="Ada")
    with pytest.raises(OperatorError, match="or checked"):
        hand.do("forget scale", scale="bench")


def test_a_vessel_tared_by_the_scales_own_key_leaves_the_zero_out(hand: Hand) -> None:
    hand.start()
    hand.show("0.0")
    hand.do("tare", confirm=True)
    hand.pour("500.0")
    hand.lift("-300.0")
    hand.do("start check", scale="bench", by="Ada")
    hand.show("-300.0")
    hand.do("it is right", scale="bench")
    hand.lift("1700.0")
    hand.lift("-300.0")
    body = hand.journal[-1].body
    assert (body["outcome"], body["left_out"]) == ("pass", ["zero"])
    hand.lift("500.0")
    hand.do("accept")
    assert hand.journal[-1].body["net_g"] == "500.0"
    verified(hand.journal)


# --- a restart, the whole, and a batch alone ------------------------------------------------------


def test_a_restarted_station_knows_the_checks(hand: Hand) -> None:
    good = check(hand)
    failed = check(hand, "2003.0")
    assert failed.body["last_good"]["seq"] == good.seq
    again = Hand(hand.journal, check=FLAGS)
    again.show("0.0")
    assert drawn(again)["standing"] == "failed"
    assert check(again).body["last_good"]["hash"] == good.hash
    verified(again.journal)


def test_a_failed_check_puts_in_doubt_what_was_weighed_since_the_good_one(hand: Hand) -> None:
    good = check(hand)
    weigh(hand)
    hand.do("abandon", reason="a test")
    hand.lift("0.0")
    failed = check(hand, "2003.0")
    journal = kept(hand)
    assert doubted(journal, good) == []
    assert doubted(journal, failed) == [{"batch": "test-0001", "additions": [1]}]
    newest, oldest = history(journal, "bench")
    assert (newest["seq"], newest["outcome"]) == (failed.seq, "fail")
    assert newest["doubted"][0]["batch"] == "test-0001"
    assert (oldest["seq"], oldest["doubted"]) == (good.seq, [])
    assert "empty" not in newest["steps"][0]
    assert history(journal, "bench", before=failed.seq, limit=5) == [oldest]
    report = verified(hand.journal)
    assert (report.flagged, report.doubted) == (0, 1)
    batch = journal.batch("test-0001")
    alone = export("test", "test-0001", batch, of_batch(journal, batch))
    assert [one["seq"] for one in alone["checks"]] == [good.seq, failed.seq]
    report = verify_export(alone, None)
    assert (report.checks, report.weighings, report.doubted) == (2, 1, 1)
    flags = said_of(batch, of_batch(journal, batch))
    assert flags == [
        {
            "addition": 1,
            "scale": "bench",
            "standing": "good",
            "failed": {"seq": failed.seq, "at": failed.at},
        }
    ]


def test_a_check_that_could_not_tell_does_not_hide_a_failure(hand: Hand) -> None:
    check(hand)
    weigh(hand)
    hand.do("abandon", reason="a test")
    hand.lift("0.0")
    check(hand, "2000.5")
    check(hand, "2003.0")
    assert verified(hand.journal).doubted == 1
    journal = kept(hand)
    batch = journal.batch("test-0001")
    assert said_of(batch, of_batch(journal, batch))[0]["failed"]["seq"] == hand.journal[-1].seq


def exported(hand: Hand) -> dict[str, Any]:
    journal = kept(hand)
    batch = journal.batch("test-0001")
    return copy.deepcopy(export("test", "test-0001", batch, of_batch(journal, batch)))


def resealed(entry: Entry, **body: Any) -> Entry:
    """The entry with another body, as a forger would hash it."""
    return seal(
        entry.station, entry.kind, entry.at, {**entry.body, **body}, Tail(entry.seq - 1, entry.prev)
    )


def test_an_export_without_the_check_it_names_does_not_verify(hand: Hand) -> None:
    check(hand)
    weigh(hand)
    document = exported(hand)
    assert verify_export(document, None).checks == 1
    del document["checks"]
    with pytest.raises(RecordError) as caught:
        verify_export(document, None)
    assert caught.value.code == "check-missing"


def test_a_check_that_was_changed_is_found_out(hand: Hand) -> None:
    made = check(hand, "2003.0")
    weigh(hand)
    steps = copy.deepcopy(list(made.body["steps"]))
    steps[1]["outcome"] = "pass"
    for forged, code in (
        (replace(made, body={**made.body, "outcome": "pass"}), "hash-mismatch"),
        (resealed(made, outcome="pass"), "does-not-follow"),
        (resealed(made, steps=steps, outcome="pass"), "does-not-follow"),
        (resealed(made, steps=[]), "too-little-evidence"),
        (resealed(made, steps=3), "unreadable-entry"),
        (resealed(made, by="Bo"), "does-not-follow"),  # another hash than the acceptance names
    ):
        document = exported(hand)
        document["checks"] = [forged.as_json()]
        with pytest.raises(RecordError) as caught:
            verify_export(document, None)
        assert caught.value.code == code, forged
    loaded = copy.deepcopy(steps)
    loaded[1]["loaded"]["readings"] = loaded[1]["loaded"]["readings"][:2]
    with pytest.raises(RecordError) as caught:
        verified([resealed(made, steps=loaded)])
    assert caught.value.code == "too-little-evidence"


def test_in_the_whole_journal_an_acceptance_must_name_the_newest_check(hand: Hand) -> None:
    first = check(hand)
    check(hand, "2003.0")
    entry = weigh(hand)
    assert entry.body["check"]["standing"] == "failed"
    told = {
        "standing": "good",
        "last": {"seq": 1, "hash": first.hash, "at": first.at, "outcome": "pass"},
    }
    with pytest.raises(RecordError, match="check is"):
        verified([*hand.journal[:-1], resealed(entry, check=told)])
    without = {key: value for key, value in entry.body.items() if key != "check"}
    bare = seal("test", entry.kind, entry.at, without, Tail(entry.seq - 1, entry.prev))
    with pytest.raises(RecordError, match="how the scale stood"):
        verified([*hand.journal[:-1], bare])


def test_a_check_among_a_batchs_entries_is_no_entry_of_it(hand: Hand) -> None:
    made = check(hand)
    weigh(hand)
    document = exported(hand)
    document["checks"].append(document["entries"][0])
    with pytest.raises(RecordError) as caught:
        verify_export(document, None)
    assert caught.value.code == "not-a-check"
    document = exported(hand)
    document["checks"] = []
    document["entries"].insert(0, made.as_json())
    with pytest.raises(RecordError):
        verify_export(document, None)
