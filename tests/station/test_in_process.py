"""Batches in process: off the bench, side by side, folded again, replayed, verified alone."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.station.process_cook import CONTENT, Cook
from tests.station.scripted import Hand, LineDecoder
from weighd.domain.errors import JournalError, OperatorError
from weighd.domain.process_run import State
from weighd.domain.record import Entry
from weighd.domain.verify import Verifier, export, verify_export
from weighd.station.inputs import ClockSet, Input, Recalled
from weighd.station.off_bench import without_evidence
from weighd.station.replay import replay
from weighd.station.session import Header, header_line, line, read


def verified(entries: list[Entry], *, whole: bool = True) -> int:
    verifier = Verifier(whole=whole, reread=lambda _spec: LineDecoder())
    for one in entries:
        verifier.take(one)
    return verifier.finish().open_batches


def test_a_batch_of_a_formula_with_steps_leaves_the_bench_when_it_is_all_weighed() -> None:
    cook = Cook()
    batch = cook.weigh()
    assert cook.kinds()[-2:] == ["addition accepted", "all weighed"]
    assert cook.station.batch is not None
    assert cook.station.batch.status == "in process"
    assert cook.station.batch.current is None
    assert cook.station.can() == ()
    assert cook.station.finished == 1  # what its scales taught can be kept
    cook.mix(batch)
    cook.heat(batch)
    cook.age(batch)
    assert cook.kinds()[-2:] == ["step ended", "batch closed"]
    assert cook.station.batch.status == "closed"
    assert cook.station.finished == 1
    assert cook.station.off_bench.in_process() == ()
    assert verified(cook.journal) == 0


def test_two_batches_in_process_and_a_third_is_weighed() -> None:
    cook = Cook()
    first = cook.weigh()
    cook.mix(first)
    cook.step(first, "begin step")
    second = cook.weigh()
    cook.mix(second)
    cook.lift("0.0")
    cook.do("start", formula=CONTENT, by="Cy")
    third = cook.journal[-1].body["batch"]
    cook.lift("300")
    cook.do("tare")
    cook.pour("800")
    cook.step(first, "enter temperature", temperature="66")  # in the middle of weighing
    assert cook.phase == "judged"
    cook.do("accept")
    cook.step(second, "begin step")
    cook.step(second, "enter temperature", 5, temperature="80")
    cook.step(second, "enter temperature", 0.5, temperature="80")
    cook.step(second, "end step")
    cook.step(first, "enter temperature", 30, temperature="66")
    cook.step(first, "end step")
    assert [one.process.at for one in cook.station.off_bench.in_process()] == [3, 3]
    for to in ("920", "922"):
        cook.pour(to)
        cook.do("accept")
    assert [one.id for one in cook.station.off_bench.in_process()] == [first, second, third]
    verified(cook.journal)
    for batch in (first, second, third):
        verified(cook.of(batch), whole=False)


@pytest.mark.parametrize("stop", range(14))
def test_a_restart_at_any_point_goes_on_from_there(stop: int) -> None:
    """The journal is folded again, and the steps go on as if nothing had been."""
    cook = Cook()
    batch = cook.weigh()
    acts = [
        ("begin step", 0, {"confirmed": ("hot pan",)}),
        ("end step", 3, {}),
        ("begin step", 0, {}),
        ("enter temperature", 9, {"temperature": "60"}),
        ("end step", 1, {}),
        ("repeat step", 0, {"reason": "not hot enough"}),
        ("begin step", 0, {}),
        ("enter temperature", 9, {"temperature": "72"}),
        ("enter temperature", 10, {"temperature": "71.1"}),
        ("end step", 0, {}),
        ("begin step", 0, {}),
        ("enter temperature", 1, {"temperature": "4"}),
        ("note step", 0, {"note": "in the small fridge"}),
        ("end step", 241, {}),
    ]
    for n, (do, minutes, more) in enumerate(acts):
        if n == stop:
            before, wall = cook.station.off_bench.get(batch), cook.station.at()
            cook = Cook(cook.journal, t=cook.t)
            assert cook.station.batch is None
            assert cook.station.off_bench.get(batch) == before
            assert cook.journal[-1].kind != "restarted"
            cook.take(ClockSet(0, wall))  # a hand's clock begins anew; this one went on
        cook.step(batch, do, minutes, **more)  # type: ignore[arg-type]
    assert cook.journal[-1].kind == "batch closed"
    verified(cook.journal)


def test_a_command_sent_twice_acts_once() -> None:
    cook = Cook()
    batch = cook.weigh()
    for _ in range(3):
        cook.step(batch, "begin step", confirmed=("hot pan",), key="one")
    cook.step(batch, "enter temperature", temperature="20", key="two")
    cook.step(batch, "enter temperature", temperature="20", key="two")
    assert cook.kinds().count("step begun") == 1
    assert cook.kinds().count("temperature entered") == 1


def test_what_cannot_be_written_did_not_happen() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.fail = JournalError("store-full", "The disk is full.")
    with pytest.raises(JournalError):
        cook.step(batch, "begin step", confirmed=("hot pan",))
    assert cook.state(batch) is State.WAITING
    assert cook.station.store_error is not None
    cook.fail = None
    cook.step(batch, "begin step", confirmed=("hot pan",))
    assert cook.state(batch) is State.RUNNING
    assert cook.station.store_error is None


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"batch": ""}, "unknown-batch"),
        ({"batch": "test-0009"}, "unknown-batch"),
        ({"batch": "test-0002"}, "still-weighed"),
        ({"step": 2}, "not-this-step"),
        ({"step": None}, "no-step"),
        ({"confirmed": ()}, "cautions-not-confirmed"),
        ({"confirmed": ("x" * 121,)}, "bad-text"),
        ({"by": ""}, "no-operator"),
        ({"ago": "-5"}, "bad-time"),
        ({"ago": "nan"}, "bad-time"),
        ({"ago": "3 h"}, "bad-time"),  # before it was weighed
        ({"do": "melt step"}, "no-open-batch"),
    ],
)
def test_what_makes_no_sense_is_refused_and_leaves_nothing(
    given: dict[str, Any], code: str
) -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.lift("0.0")
    cook.do("start", formula=CONTENT, by="Cy")
    before = list(cook.journal)
    asked = {"do": "begin step", "batch": batch, "step": 1, "by": "Bo", "confirmed": ("hot pan",)}
    with pytest.raises(OperatorError) as caught:
        cook.do(**{**asked, **given})
    assert caught.value.code == code
    assert cook.journal == before


def test_a_step_of_a_batch_that_is_over_is_refused() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.do("abandon", batch=batch, by="Bo", reason="the power failed")
    assert cook.journal[-1].kind == "batch abandoned"
    with pytest.raises(OperatorError) as caught:
        cook.do("begin step", batch=batch, step=1, confirmed=("hot pan",), by="Bo")
    assert caught.value.code == "batch-over"
    assert verified(cook.journal) == 0


def test_abandoning_in_the_middle_of_weighing_is_about_the_batch_on_the_bench() -> None:
    cook = Cook()
    first = cook.weigh()
    cook.lift("0.0")
    cook.do("start", formula=CONTENT, by="Cy")
    cook.do("abandon", reason="wrong formula")
    assert cook.journal[-1].body["batch"] != first
    assert [one.id for one in cook.station.off_bench.in_process()] == [first]


def test_a_time_said_by_a_person_is_said_to_be() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.t += 600
    cook.step(batch, "begin step", confirmed=("hot pan",), ago="5 min")
    body = cook.journal[-1].body
    assert body["entered"] is True
    assert body["begun"] < cook.journal[-1].at
    cook.step(batch, "enter temperature", temperature="20", ago="90")
    assert cook.journal[-1].body["entered"] is True
    cook.step(batch, "end step", ago="0")
    assert "entered" not in cook.journal[-1].body
    verified(cook.journal)


# --- alone, and again -----------------------------------------------------------------------------


def whole() -> tuple[Cook, str]:
    cook = Cook()
    batch = cook.weigh()
    cook.mix(batch)
    cook.heat(batch)
    cook.age(batch)
    return cook, batch


def test_an_export_verifies_by_itself_and_not_once_a_temperature_was_changed() -> None:
    cook, batch = whole()
    document = json.loads(json.dumps(export("test", batch, cook.of(batch))))
    report = verify_export(document, lambda _spec: LineDecoder())
    assert (report.batches, report.open_batches) == (1, 0)
    entry = next(one for one in document["entries"] if one["kind"] == "temperature entered")
    entry["body"]["temperature"] = "95 °C"
    with pytest.raises(Exception, match=f"entry {entry['seq']}"):
        verify_export(document, lambda _spec: LineDecoder())


def replayed(inputs: list[Input], header: Header) -> list[Entry]:
    lines = [header_line(header), *(text for one in inputs if (text := line(one)) is not None)]
    again, events = read(lines)
    return replay(again, events, lambda _settings: LineDecoder(), lambda content: content)


SCALES = {"bench": {"driver": "test", "max_g": "6000", "interval_g": "0.1"}}


def test_a_recorded_session_replays_the_steps_to_the_same_entries() -> None:
    cook, _ = whole()
    header = Header(SCALES, station="test", version="0")
    assert replayed(cook.inputs, header) == cook.journal


def test_a_session_that_begins_with_a_batch_in_process_replays_too() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.mix(batch)
    before = list(cook.journal)
    wall = cook.station.at()
    again = Cook(cook.journal, t=cook.t)
    again.take(ClockSet(0, wall))
    again.heat(batch)
    again.age(batch)
    last = before[-1]
    header = Header(SCALES, station="test", version="0", seq=last.seq, hash=last.hash, made=1)
    found = replayed(again.inputs, header)
    assert found == again.journal[len(before) :]
    kept = next(one for one in again.inputs if isinstance(one, Recalled))
    assert len(json.dumps(list(kept.entries))) < len(json.dumps([one.as_json() for one in before]))


def test_a_batch_recalled_without_its_evidence_is_the_same_batch() -> None:
    cook = Cook()
    batch = cook.weigh()
    entries = cook.of(batch)
    other = Hand()
    other.take(Recalled(0, tuple(without_evidence(one) for one in entries)))
    assert other.station.off_bench.get(batch) == cook.station.off_bench.get(batch)


@pytest.mark.parametrize("wall", ["2026-11-25T05:00:00.000Z", "2026-11-25T19:30:00.000Z"])
def test_a_wall_clock_that_is_set_makes_no_time_and_takes_none(wall: str) -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.mix(batch)
    cook.step(batch, "begin step")
    cook.step(batch, "enter temperature", 10, temperature="66")
    cook.take(ClockSet(0, wall))
    assert cook.kinds()[-1] == "clock set"
    cook.step(batch, "enter temperature", 29, temperature="66")
    cook.step(batch, "end step")
    assert cook.journal[-1].body["judged"]["faults"] == ["too short"]
    assert cook.journal[-1].body["judged"]["took_s"] == "1740"
    verified(cook.journal)
    assert cook.take(ClockSet(0, wall)) is None
    assert cook.kinds()[-1] != "clock set"  # nothing goes on that it could touch


def test_a_clock_that_was_set_while_the_disk_was_full_is_told_before_anything_else() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.mix(batch)
    cook.step(batch, "begin step")
    cook.step(batch, "enter temperature", 10, temperature="66")
    cook.fail = JournalError("store-full", "The disk is full.")
    cook.take(ClockSet(0, "2026-11-25T19:30:00.000Z"))
    with pytest.raises(JournalError):
        cook.step(batch, "enter temperature", 1, temperature="66")
    cook.fail = None
    cook.step(batch, "enter temperature", 1, temperature="66")
    assert cook.kinds()[-2:] == ["clock set", "temperature entered"]
    cook.step(batch, "end step")
    assert cook.journal[-1].body["judged"]["took_s"] == "120"
    verified(cook.journal)


def test_a_clock_that_lags_after_a_restart_gives_no_time_and_is_put_right() -> None:
    """A computer without a clock of its own comes up in the past until it hears the time."""
    cook = Cook()
    batch = cook.weigh()
    cook.t += 36_000
    cook.mix(batch)
    cook.step(batch, "begin step")
    cook.step(batch, "enter temperature", 10, temperature="66")
    wall = cook.station.at()
    cook = Cook(cook.journal, t=cook.t)  # it is 9 o'clock again, ten hours ago
    with pytest.raises(OperatorError) as caught:
        cook.step(batch, "enter temperature", 1, temperature="66")
    assert caught.value.code == "clock-behind"
    cook.take(ClockSet(0, wall))
    cook.step(batch, "enter temperature", 29, temperature="66")
    cook.step(batch, "end step")
    assert cook.journal[-1].body["judged"]["took_s"] == "1740"
    verified(cook.journal)
