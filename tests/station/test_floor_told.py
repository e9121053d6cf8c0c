"""What a station tells the floor: of the agreed shape, whatever it does, and no more than that.

Held to the shipped schema by ``jsonschema``, a library that is none of ours.
"""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.json_schemas import check_schema, held_to
from tests.station.process_cook import Cook
from tests.station.scripted import Hand
from weighd.station.floor_schema import (
    FILE,
    MOST_BATCHES,
    UnfitError,
    fitting,
    schema,
    schema_text,
)
from weighd.station.floor_told import after, told
from weighd.station.floor_topics import CLASH, PRESENCE, SECTIONS, VERSION, level, split, topic
from weighd.station.outgoing import Outgoing
from weighd.station.picture import Picture

FRAMES = Path(__file__).parents[2] / "fixtures" / "frames"
HEAD = {
    "v": VERSION,
    "station": "kitchen",
    "instance": "a1",
    "at": "2026-03-02T09:00:00.000Z",
    "clock": "station",
}
HERE = {**HEAD, "state": "here", "version": "1", "began": HEAD["at"], "beat_s": 5.0}


def closed(value: Any) -> Any:
    """The same schema, which refuses what it does not tell of."""
    if isinstance(value, dict):
        made = {key: closed(one) for key, one in value.items()}
        return made | ({"additionalProperties": False} if "properties" in value else {})
    return [closed(one) for one in value] if isinstance(value, list) else value


SHIPPED = json.loads((files("weighd.data") / FILE).read_text("utf-8"))


@cache
def of(section: str) -> Any:
    """What a payload of a section is held to."""
    return held_to(closed({**SHIPPED["$defs"][section]}))


def hold(state: dict[str, Any], *, names: bool = False) -> dict[str, dict[str, Any]]:
    """What is told of a picture, every payload of it held to the shipped schema."""
    bodies = told(state, names=names)
    for section, body in bodies.items():
        payload = json.loads(json.dumps({**HEAD, **body}))
        of(section).validate(payload)
        assert fitting(section, payload) == payload
    return bodies


def test_the_shipped_schema_is_the_one_that_payloads_are_read_by() -> None:
    check_schema(SHIPPED)
    assert (files("weighd.data") / FILE).read_text("utf-8") == schema_text()
    assert set(SHIPPED["$defs"]) == set(SECTIONS)
    held_to(SHIPPED).validate(HERE)


@pytest.mark.parametrize(
    "file", [one for one in sorted(FRAMES.glob("*.json")) if "snapshot" in one.read_text()[:60]]
)
def test_every_picture_that_pages_know_can_be_told(file: Path) -> None:
    state = json.loads(file.read_text("utf-8"))["state"]
    state.setdefault("process", {"at": "", "batches": []})
    for scale in state["scales"].values():
        if scale.get("check"):
            scale["check"].setdefault("overdue_since", None)
    bodies = hold(state)
    batch, live = bodies["batch"]["batch"], state["live"]
    if live is not None:
        assert batch["addition"]["net_g"] == live["net_g"]
        assert batch["addition"]["phase"] == live["phase"]
        assert (batch["addition"]["held"] is None) == (live["held"] is None)


def test_a_batch_is_told_from_its_start_to_its_last_step() -> None:
    cook = Cook()
    picture = Picture(cook.station)
    seen = []
    assert hold(picture.state())["batch"] == {"batch": None, "last": None}
    batch = cook.weigh()
    picture.refresh()
    seen.append(hold(picture.state()))
    assert seen[-1]["batch"]["batch"] is None
    assert seen[-1]["batch"]["last"]["status"] == "in process"
    (step,) = seen[-1]["steps"]["batches"]
    assert (step["id"], step["state"], step["step"], step["begun"]) == (batch, "waiting", 1, None)
    cook.mix(batch)
    cook.step(batch, "begin step", pair="65.6 °C, 30 min")
    cook.step(batch, "enter temperature", 20, temperature="66")
    begun = picture.refresh() and hold(picture.state())["steps"]["batches"][0]
    cook.tick(600)
    later = picture.refresh() and hold(picture.state())["steps"]["batches"][0]
    # The hold began with the reading: 30 minutes from there, however often it is drawn anew.
    at = cook.station.off_bench.in_process()[0].process.runs[-1].values[-1].at
    assert begun["ready_at"] == later["ready_at"] == after(at, 1800)
    cook.step(batch, "enter temperature", 20, temperature="66")
    cook.step(batch, "end step")
    picture.refresh()
    cooling = hold(picture.state())["steps"]["batches"][0]
    ended = cook.station.off_bench.in_process()[0].process.runs[-1].ended
    assert cooling["cool_by"] == after(ended or "", 90 * 60)
    cook.step(batch, "begin step")
    picture.refresh()
    aged = hold(picture.state())["steps"]["batches"][0]
    assert aged["ready_at"] == after(aged["begun"], 4 * 3600)
    assert aged["late_at"] == after(aged["begun"], 24 * 3600)
    cook.step(batch, "enter temperature", 1, temperature="9")
    cook.step(batch, "fail step", reason="the door stood open")
    picture.refresh()
    held = hold(picture.state())["steps"]["batches"][0]
    assert held["state"] == "held"
    assert set(held["held"]) >= {"failed", "too warm"}


def test_an_over_pour_is_told_with_its_limits_and_who_only_where_names_are_wanted() -> None:
    hand = Hand()
    picture = Picture(hand.station)
    hand.lift("0")
    hand.do("start", formula=copy.deepcopy(_content()), by="Ada Nobody")
    hand.lift("300")
    hand.do("tare")
    hand.pour("830")
    picture.refresh()
    assert "Ada" not in json.dumps(hold(picture.state()))
    body = hold(picture.state(), names=True)["batch"]["batch"]
    assert body["operator"] == "Ada Nobody"
    it = body["addition"]
    assert (it["name"], it["net_g"], it["low_g"], it["high_g"]) == ("Milk", "530", "495", "505")
    assert it["held"]["cause"] == "over"
    assert body["allergens"] == ["milk"]


def test_what_is_told_stays_small_whatever_the_station_holds() -> None:
    cook = Cook()
    cook.weigh()
    state = Picture(cook.station).state()
    (one,) = state["process"]["batches"]
    state["process"]["batches"] = [one] * 50
    one["name"] = "x" * 5000
    state["station"]["notices"] = [
        {
            "id": "n1",
            "level": "warn",
            "code": code,
            "text": "/home/Ada/secret " * 99,
            "at": HEAD["at"],
        }
        for code in ("store-full", "restarted")
    ]
    bodies = hold(state)
    assert len(bodies["steps"]["batches"]) == MOST_BATCHES
    assert bodies["steps"]["more"] == 50 - MOST_BATCHES
    assert [len(it["text"]) for it in bodies["notices"]["notices"]] == [0, 300]
    assert len(json.dumps(bodies)) < 32_000


def test_how_far_the_shared_store_is_behind_is_told_without_its_address() -> None:
    hand = Hand()
    picture = Picture(hand.station)
    assert "sharing" not in hold(picture.state())
    going = Outgoing("postgresql://bench@floor.example/weighd", 7, HEAD["at"], "", "shared-away")
    picture.sharing = lambda: replace(going, why="no answer from floor.example")
    hand.station.mark("sharing")
    picture.refresh()
    assert hold(picture.state())["sharing"] == {
        "state": "behind",
        "behind": 7,
        "since": HEAD["at"],
        "code": "shared-away",
    }


# --- the check, beside a library that knows all of JSON Schema ------------------------------------

_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=6),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)
GOOD = {
    PRESENCE: HERE,
    CLASH: HEAD,
    "scales": {
        **HEAD,
        "scales": [
            {
                "name": "bench",
                "link": "live",
                "why": "",
                "check": {"standing": "good", "barred": False, "due": HEAD["at"]},
            }
        ],
        "more": 0,
    },
    "sharing": {**HEAD, "state": "behind", "behind": 3, "since": HEAD["at"], "code": ""},
}


@given(data=st.data())
def test_a_payload_is_taken_exactly_where_jsonschema_takes_it(data: st.DataObject) -> None:
    section = data.draw(st.sampled_from(sorted(GOOD)))
    payload: Any = copy.deepcopy(GOOD[section])
    for _ in range(data.draw(st.integers(0, 2))):
        place = payload
        while True:
            keys = sorted(place) if isinstance(place, dict) else list(range(len(place)))
            if not keys:
                break
            key = data.draw(st.sampled_from(keys))
            inner = place[key]
            if isinstance(inner, dict | list) and inner and data.draw(st.booleans()):
                place = inner
                continue
            if isinstance(place, dict) and data.draw(st.booleans()):
                del place[key]
            else:
                place[key] = data.draw(_JSON)
            break
    fits = held_to(schema()["$defs"][section]).is_valid(payload)
    try:
        fitting(section, payload)
    except UnfitError:
        assert not fits
    else:
        assert fits


# --- topics ---------------------------------------------------------------------------------------


@given(st.text(max_size=300), st.text(max_size=300))
def test_a_name_becomes_one_level_of_a_topic_and_no_other_ones(one: str, other: str) -> None:
    """MQTT 5.0, 4.7: `/` parts levels, `+` and `#` are wildcards, U+0000 must not be in it."""
    it = level(one)
    assert it and not set(it) & set("/+#\0$ ")
    assert it.isascii() and len(it) <= 120
    assert (level(other) == it) == (other == one)
    where = topic("weighd/second floor".replace(" ", "-"), one, "batch")
    assert split("weighd/second-floor", where) == (it, "batch")
    assert split("weighd", where) is None


def _content() -> dict[str, Any]:
    from tests.station.scripted import FORMULA
    from weighd.domain.formula_text import read_formula

    return read_formula(FORMULA, "test-ice.toml").content()
