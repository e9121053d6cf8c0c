"""What pages are shown of batches in process: what to do, how long it has, what is awaited."""

from __future__ import annotations

import json
from typing import Any

from tests.station.process_cook import Cook
from weighd.station.picture import Picture


def shown(cook: Cook) -> list[dict[str, Any]]:
    picture = Picture(cook.station)
    batches: list[dict[str, Any]] = picture.state()["process"]["batches"]
    json.dumps(batches)
    return batches


def test_the_picture_says_what_to_do_and_how_long_it_has() -> None:
    cook = Cook()
    batch = cook.weigh()
    (one,) = shown(cook)
    assert (one["state"], one["step"], one["now"]) == ("waiting", 1, None)
    assert [it["status"] for it in one["steps"]] == ["next", "waiting", "waiting"]
    assert one["can"] == ["begin step", "abandon"]
    cook.mix(batch)
    cook.step(batch, "begin step")
    cook.step(batch, "enter temperature", 10, temperature="66")
    cook.tick(600)
    (one,) = shown(cook)
    assert one["now"]["awaited"] == ["temperature"]
    assert one["now"]["hold"]["pair"] == "65.6 °C, 30 min"
    assert one["now"]["hold"]["since_s"] == "600"
    assert one["now"]["hold"]["satisfied"] is None
    assert "end step" in one["can"]
    cook.step(batch, "enter temperature", 20, temperature="66")
    (one,) = shown(cook)
    assert one["now"]["hold"]["satisfied"] == "65.6 °C, 30 min"
    assert one["now"]["awaited"] == ["done"]
    cook.step(batch, "end step")
    (one,) = shown(cook)
    # The formula has no cooling of its own: that of the table is told, with its source.
    assert one["cooling"]["limits"] == "at most 7.2 °C within 90 min"
    assert one["cooling"]["source"].startswith("SI 1995/1372")
    assert one["steps"][1]["runs"][0]["reached"] == "65.6 °C, 30 min"
    assert "Raw milk and eggs" in one["steps"][1]["table"]["notice"]


def test_the_picture_of_a_held_treatment_offers_no_way_round_it() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.mix(batch)
    cook.step(batch, "begin step")
    cook.step(batch, "enter temperature", 10, temperature="60")
    cook.step(batch, "end step")
    (one,) = shown(cook)
    assert one["state"] == "held"
    assert one["held"]["faults"] == ["too cool"]
    assert "65.6 °C" in one["held"]["told"]
    assert one["can"] == ["repeat step", "note step", "abandon"]
    assert one["steps"][1]["status"] == "held"


def test_timers_are_drawn_anew_while_a_step_goes_on_and_only_then() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.station.dirty.clear()
    cook.tick(5)
    assert "process" not in cook.station.dirty
    cook.step(batch, "begin step", confirmed=("hot pan",))
    cook.station.dirty.clear()
    cook.tick(1.0)
    assert "process" in cook.station.dirty
    cook.station.dirty.clear()
    cook.tick(0.25)
    assert "process" not in cook.station.dirty
