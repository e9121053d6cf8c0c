"""What came of a batch, recorded: typed or weighed, put right, verified, replayed."""

from __future__ import annotations

import json
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from tests.domain.test_against_plan import with_facts
from tests.json_schemas import held_to
from tests.station.planned_kitchen import ICE, PREMIX, TWO, Kitchen
from tests.station.process_cook import Cook as Process
from tests.station.scripted import Hand, LineDecoder
from tests.station.test_session import RecordingHand, again
from weighd.domain.batch import Batch, Kind, Status
from weighd.domain.errors import JournalError, OperatorError, RecordError
from weighd.domain.fold import fold
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.verify import Verifier, export, verify_export
from weighd.domain.vessels import Vessel
from weighd.reports.schema import schema
from weighd.station.inputs import Recalled
from weighd.station.off_bench import without_evidence


def weigh(hand: Hand, *, off: str = "0") -> Hand:
    """All of the formula weighed in, the milk by so many grams more."""
    hand.start(with_facts(ICE))
    hand.show("600.0")
    hand.do("tare")
    stands = Decimal("600.0")
    for amount in (Decimal(900) + Decimal(off), Decimal(2), Decimal("3.4"), Decimal(640)):
        stands += amount
        hand.pour(str(stands))
        hand.do("accept", reason="as it is")
    assert hand.kinds()[-1] == Kind.CLOSED
    hand.lift("0.0")
    return hand


@pytest.fixture
def hand() -> Hand:
    return weigh(Hand(vessels=[Vessel("tub", Decimal("85.0"), Decimal("0.05"))]))


def record(hand: Hand, /, batch: str = "test-0001", **given: Any) -> dict[str, Any]:
    """The body of the entry that recording makes; what is no field of a command is of the draw."""
    known = ("scale", "vessel", "corrects", "reason", "by", "key")
    asked = {key: given.pop(key) for key in known if key in given}
    hand.do("record yield", batch=batch, draw=given, **asked)
    assert hand.journal[-1].kind == Kind.YIELD
    return dict(hand.journal[-1].body)


def batch_of(hand: Hand) -> Batch:
    found = fold([one for one in hand.journal if one.body["batch"] == "test-0001"])
    assert found is not None
    return found


def verified(entries: list[Entry]) -> None:
    def reread(spec: Any) -> LineDecoder:
        return LineDecoder()

    whole = Verifier(whole=True, reread=reread)
    recalled = Verifier(
        whole=True, recall=lambda name: [one for one in entries if one.body["batch"] == name]
    )
    for entry in entries:
        whole.take(entry)
        recalled.take(entry)
    whole.finish()
    recalled.finish()
    verify_export(export("test", "test-0001", entries), reread)


def test_a_draw_is_recorded_of_a_batch_that_is_closed(hand: Hand) -> None:
    body = record(hand, weight="1.250 kg", volume="1,4 L", portions=20)
    assert body["weight"] == {"typed": "1.250 kg", "g": "1250.000", "u_g": "0.288675"}
    assert body["volume"]["typed"] == "1,4 L"
    assert (body["draw"], body["by"], body["portions"]) == (1, "Tester", 20)
    found = body["found"]
    # 1545.4 g of mix at 1.207 g/mL by the published formula: 1250 g are 1035.9 mL, so 35 %.
    assert found["density"] == "reckoned from the composition"
    density = Decimal(found["density_g_ml"])
    assert Decimal(found["overrun_percent"]) == ((1400 / (1250 / density) - 1) * 100).quantize(
        Decimal("0.1")
    )
    assert found["batch"]["in_g"] == "1545.40"
    assert found["batch"]["loss_g"] == "295.40"
    assert found["batch"]["told"] == "loss"
    second = record(hand, weight="290 g", left="5 g")
    assert second["draw"] == 2
    assert second["found"]["batch"]["loss_g"] == "0.40"
    assert second["found"]["batch"]["told"] == "none that can be told"
    assert batch_of(hand).status is Status.CLOSED
    verified(hand.journal)


def test_what_is_recorded_fits_the_schema_of_records(hand: Hand) -> None:
    hand.lift("435.2", 3.0)
    record(hand, scale="bench", vessel="tub", containers=2, fill="250 mL", portions=4)
    record(
        hand, weight="1 kg", volume="1.2 L", pieces="90 g", pieces_density="0.748", left="5 g",
        cup_mix="110 g", cup_product="85 g", sample_weight="549 g", sample_volume="500 mL",
    )  # fmt: skip
    record(hand, weight="900 g", corrects=2, reason="misread")
    closed = held_to(schema(closed=True))
    document = export("test", "test-0001", hand.journal)
    assert [one.message for one in closed.iter_errors(document)] == []
    verified(hand.journal)


def test_a_record_without_yield_is_as_it_was(hand: Hand) -> None:
    before = [one.hash for one in hand.journal]
    record(hand, weight="1 kg")
    assert [one.hash for one in hand.journal[:-1]] == before
    assert "yield" not in json.dumps([one.as_json() for one in hand.journal[:-1]])


def test_a_draw_is_weighed_on_a_scale(hand: Hand) -> None:
    hand.lift("435.2", 3.0)
    body = record(hand, scale="bench", vessel="tub", volume="0.42 L")
    weight = body["weight"]
    assert (weight["gross_g"], weight["g"]) == ("435.2", "350.2")
    assert weight["tare"] == {"vessel": "tub", "g": "85.0", "u_g": "0.050000"}
    # Two displays of 0.1 g and the tub: 0.0408 and 0.05 g, by root sum of squares.
    assert Decimal(weight["u_g"]) == pytest.approx(Decimal("0.0645"), abs=Decimal("0.0001"))
    assert len(body["evidence"]["readings"]) >= 4
    typed = record(hand, scale="bench", tare="85 g")
    assert typed["weight"]["tare"]["typed"] == "85 g"
    keyed = record(hand, scale="bench")
    assert keyed["weight"]["g"] == "435.2"
    verified(hand.journal)


@pytest.mark.parametrize(
    ("given", "code", "where"),
    [
        ({"scale": "attic"}, "unknown-scale", "scale"),
        ({"scale": "bench", "weight": "3 g"}, "bad-draw", "weight"),
        ({"scale": "bench", "tare": "500 g"}, "bad-draw", "weight"),
        ({"scale": "bench", "tare": "NaN g"}, "bad-draw", "tare"),
        ({"scale": "bench", "tare": "5 g", "vessel": "tub"}, "bad-draw", "tare"),
        ({"scale": "bench", "vessel": "attic"}, "unknown-vessel", ""),
        ({"weight": "5 g", "tare": "1 g"}, "bad-draw", "tare"),
        ({"weight": "5 g", "vessel": "tub"}, "bad-draw", "tare"),
        ({}, "nothing-entered", ""),
        ({"corrects": 3, "weight": "5 g", "reason": "x"}, "unknown-draw", "corrects"),
        ({"corrects": 1, "weight": "5 g"}, "needs-reason", "reason"),
        ({"weight": "5 g", "volume": "5 g"}, "bad-draw", "volume"),
    ],
)
def test_what_cannot_be_recorded(hand: Hand, given: dict[str, Any], code: str, where: str) -> None:
    record(hand, weight="1 kg")
    hand.lift("435.2", 3.0)
    before = len(hand.journal)
    with pytest.raises(OperatorError) as caught:
        record(hand, **given)
    assert (caught.value.code, caught.value.where) == (code, where)
    assert len(hand.journal) == before


@pytest.mark.parametrize("draw", [["weight"], "weight", 3, True])
def test_a_recording_that_was_spoilt_records_nothing(hand: Hand, draw: Any) -> None:
    with pytest.raises(OperatorError) as caught:
        hand.do("record yield", batch="test-0001", draw=draw)
    assert (caught.value.code, caught.value.where) == ("bad-draw", "draw")


def test_a_scale_that_moves_is_lost_or_in_use_weighs_no_draw(hand: Hand) -> None:
    hand.raw(b"200.0\n")
    with pytest.raises(OperatorError, match="not come to rest"):
        record(hand, scale="bench")
    hand.lost()
    with pytest.raises(OperatorError, match="cannot be heard"):
        record(hand, scale="bench")
    hand.found()
    hand.show("0.0")
    hand.start(with_facts(ICE))
    hand.show("600.0")
    with pytest.raises(OperatorError, match="used for something else") as caught:
        record(hand, scale="bench")
    assert caught.value.code == "scale-in-use"
    assert record(hand, weight="1.2 kg")["batch"] == "test-0001"


def test_of_a_batch_still_weighed_abandoned_or_unknown_nothing_is_recorded() -> None:
    hand = Hand()
    hand.start(with_facts(ICE))
    with pytest.raises(OperatorError, match="still being weighed"):
        record(hand, weight="1 kg")
    hand.do("abandon", reason="no time")
    with pytest.raises(OperatorError) as caught:
        record(hand, weight="1 kg")
    assert caught.value.code == "batch-abandoned"
    with pytest.raises(OperatorError, match="no such batch"):
        record(hand, batch="test-0099", weight="1 kg")


def test_a_wrong_draw_is_replaced_by_one_that_names_it(hand: Hand) -> None:
    record(hand, weight="1250 g", volume="1.4 L")
    wrong = hand.journal[-1]
    record(hand, weight="280 g")
    right = record(hand, weight="1205 g", volume="1.4 L", corrects=1, reason="digits swapped")
    assert right["draw"] == 1
    assert right["corrects"] == {"draw": 1, "hash": wrong.hash}
    assert right["reason"] == "digits swapped"
    assert right["found"]["batch"]["loss_g"] == "60.40"
    assert wrong in hand.journal  # nothing is edited
    gone = record(hand, corrects=2, reason="it was of another batch")
    assert gone["found"]["batch"]["loss_g"] == "340.40"
    assert [one.n for one in batch_of(hand).draws.standing] == [1]
    assert record(hand, weight="300 g")["draw"] == 3
    with pytest.raises(OperatorError, match="has no draw 2"):
        record(hand, corrects=2, weight="3 g", reason="again")
    verified(hand.journal)


def test_sent_twice_it_acts_once_and_a_failing_store_leaves_nothing(hand: Hand) -> None:
    record(hand, weight="1 kg", key="same")
    count = len(hand.journal)
    answer = hand.do("record yield", batch="test-0001", draw={"weight": "1 kg"}, key="same")
    assert answer is not None
    assert answer.again
    assert len(hand.journal) == count
    hand.fail = JournalError("store-full", "full")
    with pytest.raises(JournalError):
        record(hand, weight="200 g")
    hand.fail = None
    assert len(hand.journal) == count
    assert record(hand, weight="200 g")["draw"] == 2


def test_a_restart_keeps_all_and_goes_on(hand: Hand) -> None:
    record(hand, weight="1 kg")
    again_on = Hand(hand.journal, t=hand.t)
    with pytest.raises(OperatorError, match="no such batch"):  # the runner asks the journal first
        record(again_on, weight="200 g")
    mine = [without_evidence(one) for one in hand.journal]
    again_on.take(Recalled(0, tuple(mine)))
    assert record(again_on, weight="200 g")["draw"] == 2
    verified(again_on.journal)


def test_a_session_with_draws_replays_to_the_same_entries() -> None:
    hand = RecordingHand()
    weigh(hand)
    hand.lift("435.2", 3.0)
    record(hand, scale="bench", tare="85 g", volume="0.5 L")
    record(hand, weight="900 g", corrects=1, reason="the other tub")
    with pytest.raises(OperatorError):
        record(hand, weight="no", key="refused")
    replayed = again(hand.lines)
    assert [one.hash for one in replayed] == [one.hash for one in hand.journal]


def test_after_a_plan_of_several_scales_the_whole_counts() -> None:
    kitchen = Kitchen(with_facts(PREMIX), TWO)
    kitchen.follow()
    kitchen.hand.do("record yield", batch="test-0001", draw={"weight": "1201 g"})
    found = kitchen.hand.journal[-1].body["found"]["batch"]
    true = sum(kitchen.inside["bowl"].values())
    assert abs(Decimal(found["in_g"]) - true) < 1
    kitchen.verified()


def test_before_its_last_step_and_after_it() -> None:
    """A batch that goes on after weighing has its yield recorded while that goes on, and later."""
    cook = Process()
    batch = cook.weigh()
    cook.mix(batch)
    record(cook, batch=batch, weight="600 g")
    cook.heat(batch)
    cook.age(batch)
    assert cook.kinds()[-1] == Kind.CLOSED
    body = record(cook, batch=batch, left="20.0 g")
    assert body["draw"] == 2
    assert body["found"]["batch"]["in_g"] == "622.00"
    assert body["found"]["batch"]["loss_g"] == "2.00"
    verified(cook.journal)


# --- verification -----------------------------------------------------------------------------


def forged(hand: Hand, change: Callable[[dict[str, Any]], None]) -> list[Entry]:
    """The journal with its last entry changed and sealed anew."""
    *before, last = hand.journal
    body = json.loads(json.dumps(last.body))
    change(body)
    tail = Tail(before[-1].seq, before[-1].hash)
    return [*before, seal(last.station, last.kind, last.at, body, tail)]


def put(*path: str, value: Any) -> Callable[[dict[str, Any]], None]:
    def change(body: dict[str, Any]) -> None:
        for key in path[:-1]:
            body = body[key]
        body[path[-1]] = value

    return change


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (put("found", "overrun_percent", value="99.0"), "found"),
        (put("found", "batch", "loss_g", value="0.00"), "found"),
        (put("found", "density_g_ml", value="1.0000"), "found"),
        (put("volume", "ml", value="1500"), "volume"),
        (put("volume", "typed", value="1 gallon"), "could not have been recorded"),
        (put("weight", "g", value="350.3"), "weight"),
        (put("weight", "tare", "g", value="80"), "weight.tare"),
        (put("weight", "u_g", value="0.01"), "weight"),
        (put("draw", value=7), "draw"),
        (put("reason", value="for no reason"), "reason"),
        (put("corrects", value={"draw": 9, "hash": "0"}), "could not have been recorded"),
        (put("evidence", "readings", value=[]), "0 readings"),
        (put("portions", value=-4), "could not have been recorded"),
        (put("colour", value="red"), "colour"),
    ],
)
def test_an_entry_that_does_not_follow_is_found(
    hand: Hand, change: Callable[[dict[str, Any]], None], says: str
) -> None:
    hand.lift("435.2", 3.0)
    record(hand, scale="bench", tare="85 g", volume="0.5 L", portions=4)
    verified(hand.journal)
    with pytest.raises(RecordError, match=says):
        verified(forged(hand, change))


def test_a_yield_before_all_is_weighed_or_after_abandoning_is_found(hand: Hand) -> None:
    record(hand, weight="1 kg")
    mine = hand.journal[-1]
    other = Hand()
    other.start(with_facts(ICE))
    other.do("abandon", reason="no time")
    for entries, code in ((other.journal[:1], "out-of-place"), (other.journal, "does-not-follow")):
        last = entries[-1]
        body = {**mine.body, "n": len(entries) + 1, "after": last.hash}
        entry = seal("test", mine.kind, mine.at, body, Tail(last.seq, last.hash))
        with pytest.raises(RecordError) as caught:
            verified([*entries, entry])
        assert caught.value.code == code
