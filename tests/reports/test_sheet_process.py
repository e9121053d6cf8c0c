"""Process steps and yield on a record sheet, of batches that a station weighed and recorded."""

from __future__ import annotations

import json
from typing import Any

from tests.reports.test_sheet import read, words
from tests.station.process_cook import Cook
from tests.station.putting_right import AMOUNTS
from tests.station.scripted import Hand
from tests.station.test_lots import split
from tests.station.test_putting_right import too_much_sugar
from weighd.domain.recovery import Trouble
from weighd.domain.recovery_ways import enlarged
from weighd.domain.verify import export
from weighd.main.outputs import checked, sheet
from weighd.reports.columns import table_rows
from weighd.reports.sheet_data import sheet_data
from weighd.reports.sheet_words import between, clock, kilograms, signed, unsure
from weighd.reports.told import Record


def document(cook: Cook, batch: str) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(json.dumps(export("test", batch, cook.of(batch))))
    return made


def steps(cook: Cook, batch: str) -> list[dict[str, Any]]:
    told = document(cook, batch)
    found: list[dict[str, Any]] = sheet_data(told, checked(told))["steps"]
    return found


def test_steps_are_told_with_what_was_measured_and_how_they_came_out() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.mix(batch)
    cook.heat(batch)
    cook.age(batch)
    made, trouble = sheet(document(cook, batch))
    assert trouble is None
    assert len(read(made).pages) == 1
    text = words(made)
    for told in (
        "cautions confirmed: hot pan",
        "Mix until dissolved, hot pan: Mind the pan.",
        "66 °C at",
        "66.2 °C at",
        "It satisfies 65.6 °C, 30 min",
        "3.5 °C at",
        "The readings of test could not be read again here.",
    ):
        assert told in text, told
    assert [one["outcome"] for one in steps(cook, batch)] == ["done"] * 3
    assert [one["by"] for one in steps(cook, batch)] == ["Bo"] * 3


def test_a_step_that_was_held_and_done_again_is_told_with_its_reason() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.mix(batch)
    cook.step(batch, "begin step")
    cook.step(batch, "enter temperature", 5, temperature="66")
    cook.step(batch, "strike temperature", value=1, reason="read off the oven")
    cook.step(batch, "enter temperature", 1, temperature="60")
    cook.step(batch, "end step")
    cook.step(batch, "note step", note="the probe was *dirty* #x")
    cook.step(batch, "repeat step", reason="it was too cool")
    cook.heat(batch)
    first, second = steps(cook, batch)[1:]
    assert (first["held"], first["outcome"]) == (True, "held")
    assert first["values"][0].startswith("66 °C at")
    assert first["values"][0].endswith("(struck out)")
    assert "temperature 1 struck out: read off the oven (Bo)" in first["notes"]
    assert "done again: it was too cool (Bo)" in first["notes"]
    assert "the probe was *dirty* #x (Bo)" in first["notes"]
    assert any("Nothing measured was as hot as" in one for one in first["notes"])
    assert (second["n"], second["held"]) == ("2", False)
    text = words(sheet(document(cook, batch))[0])
    assert "weighed, still in process" in text
    assert "the probe was *dirty* #x" in text


def test_a_batch_discarded_in_a_step_says_where_and_why() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.step(batch, "abandon", reason="the power was off")
    text = words(sheet(document(cook, batch))[0])
    assert "abandoned" in text
    assert "Discarded in step 1. “the power was off”" in text


def test_draws_are_told_as_they_were_typed_and_what_they_come_to() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.do("record yield", batch=batch, by="Bo", draw={"weight": "400 g", "portions": 5})
    cook.do("record yield", batch=batch, by="Bo", draw={"weight": "210 g", "left": "10 g"})
    cook.do(
        "record yield",
        batch=batch,
        by="Bo",
        corrects=1,
        reason="read wrong",
        draw={"weight": "405 g", "portions": 5},
    )
    told = document(cook, batch)
    found = sheet_data(told, checked(told))["yield"]
    assert [one["told"] for one in found["draws"]] == [
        "weight 405 g; 5 portions",
        "weight 210 g; left over 10 g",
    ]
    assert found["draws"][0]["note"] == "put right: read wrong"
    sums = dict(found["sums"])
    # 500 + 120 + 2 g went in; 405 + 210 g came out and 10 g were left: 3 g more than there was.
    assert (sums["Weighed in"], sums["Drawn"], sums["Left over"]) == (
        "622.00\u00a0g",
        "615.00\u00a0g",
        "10.00\u00a0g",
    )
    assert sums["Loss"] == "\u22123.00\u00a0g (\u22120.48 %)"
    assert sums["Portions"] == "5"
    text = words(sheet(told)[0])
    assert "Draw 1: weight 405 g; 5 portions (Bo); put right: read wrong." in text
    cook.do("record yield", batch=batch, by="Bo", corrects=2, reason="not ours", draw={})
    told = document(cook, batch)
    assert [one["n"] for one in sheet_data(told, checked(told))["yield"]["draws"]] == ["1"]


def test_an_addition_out_of_two_lots_is_told_with_the_share_of_each() -> None:
    hand = Hand()
    first, second = split(hand)
    made = export("test", "test-0001", [one for one in hand.journal if "batch" in one.body])
    told: dict[str, Any] = json.loads(json.dumps(made))
    text = words(sheet(told)[0])
    assert f"lots {first} 200.0 g, {second} 300.0 g" in text
    assert f"The lot ran out at 200.0 g; from there on lot {second}." in text
    (row,) = table_rows(Record(told))
    assert row["lot"] == second
    assert json.loads(str(row["lots"])) == [
        {"lot": first, "g": "200.0"},
        {"lot": second, "g": "300.0"},
    ]


def test_a_pour_that_was_put_right_is_told_with_what_was_done() -> None:
    cook = too_much_sugar()
    cook.choose(enlarged(cook.trouble(Trouble.OVER)), "poured from the sack")
    cook.settle()
    cook.finish()
    batch = cook.journal[0].body["batch"]
    made = export("test", batch, [one for one in cook.journal if "batch" in one.body])
    told: dict[str, Any] = json.loads(json.dumps(made))
    body = next(one["body"] for one in told["entries"] if one["kind"] == "put right")
    data = sheet_data(told, checked(told))
    assert [one["verdict"] for one in data["weighings"]] == ["on target"] * len(data["weighings"])
    assert data["missing"] == []
    assert len(data["sums"]) == len(AMOUNTS)
    text = words(sheet(told)[0])
    coming = len(body["additions"])
    assert (
        f"Put right (over): enlarge; {coming} weighings to come, {body['mass_g']} g in all." in text
    )
    assert "“poured from the sack”" in text
    assert "This record does not hold." not in text


def test_words_of_a_sheet() -> None:
    """Uncertainties up to two digits, limits inward to what the scale shows."""
    assert unsure("0.045932") == "0.046"
    assert unsure("0.0441") == "0.045"
    assert unsure("0.0044") == "0.0044"
    assert (unsure("12.01"), unsure("0"), unsure("x")) == ("13", "0", "x")
    assert between("448.57585", "453.08415", "0.1") == "448.6 to 453.0"
    assert between("2.73", "2.83", "0.01") == "2.73 to 2.83"
    assert between("0.32", "0.38", "0.1") == "0.32 to 0.38"  # no room: as they are
    assert between("", "2", "0.1") == "? to 2"
    assert (kilograms("2400"), kilograms("900")) == ("2400\u00a0g (2.4\u00a0kg)", "900\u00a0g")
    assert kilograms("25000.5") == "25000.5\u00a0g (25.0005\u00a0kg)"
    assert (signed("-0.03"), signed("0.00"), signed("2")) == ("\u22120.03", "0.00", "+2")
    assert clock("2026-11-26T15:26:15.973Z", "2026-11-26") == "15:26:15"
    assert clock("2026-11-27T00:00:01.000Z", "2026-11-26") == "2026-11-27 00:00:01"
    assert clock("no time at all") == "no time at all"
