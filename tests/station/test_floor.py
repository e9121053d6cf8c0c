"""The floor as a fold: what is old is never shown as now, and nothing from the wire breaks it."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.station.floor import MOST_STATIONS, Floor, Why
from weighd.station.floor_schema import LARGEST
from weighd.station.floor_topics import topic
from weighd.station.floor_words import lines, rank, ranked

BASE = "2026-03-02T09:{:02}:{:06.3f}Z"


def utc(now: float) -> str:
    """Wall time of whoever watches."""
    return BASE.format(int(now // 60), now % 60)


class World:
    """Stations that speak, and somebody who watches them."""

    def __init__(self) -> None:
        self.floor = Floor()
        self.now = 100.0
        self.floor.connected(self.now, utc(self.now))

    def say(
        self,
        section: str,
        station: str = "kitchen",
        *,
        instance: str = "a",
        retained: bool = False,
        ahead: float = 0.0,
        **body: Any,
    ) -> None:
        head = {"v": 1, "station": station, "instance": instance, "clock": "station"}
        payload = {**head, "at": utc(self.now + ahead), **body}
        self.raw(topic("weighd", station, section), json.dumps(payload).encode(), retained=retained)

    def raw(self, where: str, payload: bytes, *, retained: bool = False) -> None:
        self.floor.take(where, payload, retained=retained, now=self.now, utc=utc(self.now))

    def here(self, station: str = "kitchen", state: str = "here", **more: Any) -> None:
        body = {"state": state, "version": "1", "began": utc(0), "beat_s": 5.0}
        self.say("presence", station, **{**body, **more})

    def batch(self, net: str | None = "312.4", **more: Any) -> None:
        held = more.pop("held", None)
        addition = {
            "n": 2,
            "name": "Sucrose",
            "scale": "bench",
            "target_g": "364",
            "low_g": "362.18",
            "high_g": "365.82",
            "net_g": net,
            "phase": "held" if held else "pouring",
            "why": "",
            "verdict": None,
            "cue": None,
            "lifted": False,
            "held": held and {"cause": held, "since": utc(self.now)},
        }
        batch = {
            "id": "kitchen-0007",
            "formula": "Milk ice",
            "batch_g": "2400",
            "opened": utc(0),
            "of": 5,
            "accepted": 1,
            "allergens": [],
            "addition": addition,
        }
        self.say("batch", **{"batch": batch, "last": None, **more})

    def wait(self, seconds: float) -> None:
        self.now += seconds
        self.floor.tick(self.now, utc(self.now))

    def card(self, station: str = "kitchen") -> dict[str, Any]:
        card: dict[str, Any] = self.floor.cards()[station]
        return card

    def standing(self, station: str = "kitchen") -> str:
        return str(self.card(station)["standing"])


def test_what_the_broker_kept_is_not_what_is_done_now_until_the_station_speaks() -> None:
    world = World()
    world.batch(retained=True)
    world.here(retained=True)
    assert (world.standing(), world.card()["since"]) == ("unconfirmed", "")
    assert world.card()["said"] == utc(100)
    world.wait(3)
    world.here()
    assert (world.standing(), world.card()["since"]) == ("here", utc(103))
    world.wait(14)
    assert world.standing() == "here"
    world.wait(2)
    assert (world.standing(), world.card()["heard"]) == ("silent", utc(103))
    world.here()
    assert world.standing() == "here"


def test_a_retained_station_that_never_speaks_is_silent_in_the_end() -> None:
    world = World()
    world.here(retained=True)
    world.wait(16)
    assert world.standing() == "silent"


def test_a_last_will_says_since_when_only_to_who_was_there() -> None:
    seen, late = World(), World()
    seen.here()
    seen.wait(4)
    seen.here(state="away")
    assert (seen.standing(), seen.card()["since"]) == ("away", utc(104))
    late.here(state="away", retained=True)
    assert (late.standing(), late.card()["since"]) == ("away", "")


def test_nothing_of_an_earlier_run_is_shown_beside_a_new_one() -> None:
    world = World()
    world.batch(instance="a", retained=True)
    world.here(instance="b")
    assert world.card()["batch"] is None
    world.batch("9.9", instance="b")
    assert world.card()["batch"]["addition"]["net_g"] == "9.9"


def test_without_the_broker_nothing_is_known() -> None:
    world = World()
    world.here()
    world.floor.cut(110, utc(110), "the connection was cut")
    assert (world.standing(), world.floor.of_link()) == (
        "cut",
        {"connected": False, "why": "the connection was cut", "since": utc(110)},
    )
    before = world.floor.changed
    world.floor.cut(111, utc(111), "the connection was cut")
    assert world.floor.changed == before
    world.now = 112
    world.floor.connected(112, utc(112))
    assert world.standing() == "unconfirmed"


def test_times_of_another_clock_are_told_by_how_far_it_is_ahead() -> None:
    world = World()
    world.here(ahead=120.0)
    assert world.card()["ahead_s"] == 120.0
    before = world.floor.changed
    world.here(ahead=120.4)  # a message takes its time
    assert (world.card()["ahead_s"], world.floor.changed) == (120.0, before)
    world.here(ahead=-30.0)
    assert world.card()["ahead_s"] == -30.0


def test_a_name_that_is_used_twice_is_told_for_as_long_as_it_is() -> None:
    world = World()
    world.say("clash", "nobody", instance="z")
    world.here()
    world.say("clash", instance="b")
    assert world.card()["twice"]
    world.wait(160)
    assert not world.card()["twice"]


def test_a_station_that_is_forgotten_is_gone_for_who_watches_too() -> None:
    world = World()
    world.here(retained=True)
    seen = world.floor.changed
    world.raw(topic("weighd", "kitchen", "presence"), b"")
    assert (world.floor.cards(seen), world.floor.names()) == ({"kitchen": None}, [])
    world.here()
    assert world.floor.cards(seen)["kitchen"]["standing"] == "here"


def test_a_beat_that_says_nothing_new_changes_nothing() -> None:
    world = World()
    world.here()
    world.batch()
    seen = world.floor.changed
    world.wait(5)
    world.here()
    assert world.floor.cards(seen) == {}


@pytest.mark.parametrize(
    ("where", "payload", "why"),
    [
        ("weighd/1/kitchen/oven", b"{}", Why.FOREIGN),
        ("weighd/2/kitchen/batch", b"{}", Why.FOREIGN),
        ("weighd/1//batch", b"{}", Why.FOREIGN),
        ("weighd/1/kitchen/presence", b"\xff\xfe", Why.UNREADABLE),
        ("weighd/1/kitchen/presence", b"[1]", Why.UNREADABLE),
        ("weighd/1/kitchen/presence", b"[" * 50_000, Why.UNREADABLE),
        ("weighd/1/kitchen/presence", b'{"v": NaN}', Why.UNREADABLE),
        ("weighd/1/kitchen/presence", b'{"v": 2}', Why.VERSION),
        ("weighd/1/kitchen/presence", b'{"v": 1}', Why.UNFIT),
        ("weighd/1/kitchen/presence", b'{"v": true}', Why.UNFIT),
        ("weighd/1/kitchen/presence", b" " * (LARGEST + 1), Why.LARGE),
    ],
)
def test_what_is_not_as_agreed_is_counted_and_changes_nothing(
    where: str, payload: bytes, why: Why
) -> None:
    world = World()
    world.here()
    before = (world.floor.changed, world.floor.cards())
    world.raw(where, payload)
    assert world.floor.ignored == {why: 1}
    assert (world.floor.changed, world.floor.cards()) == before


def test_one_station_cannot_speak_for_another_and_not_for_too_many() -> None:
    world = World()
    payload = {"v": 1, "station": "pastry", "instance": "a", "at": utc(0), "clock": "station"}
    body = {"state": "here", "version": "", "began": utc(0), "beat_s": 5}
    world.raw("weighd/1/kitchen/presence", json.dumps(payload | body).encode())
    assert world.floor.ignored == {Why.STATION: 1}
    for n in range(MOST_STATIONS + 3):
        world.here(f"bench-{n}")
    assert len(world.floor.names()) == MOST_STATIONS
    assert world.floor.ignored[Why.MANY] == 3


@given(where=st.sampled_from(["presence", "batch", "steps", "clash", "x"]), payload=st.binary())
def test_no_bytes_break_it(where: str, payload: bytes) -> None:
    world = World()
    world.raw(f"weighd/1/kitchen/{where}", payload)
    world.floor.tick(500, utc(500))


def test_the_words_name_what_needs_somebody_first() -> None:
    world = World()
    world.here("idle")
    world.here()
    world.batch(held="over")
    world.here("gone", state="away")
    shown = ranked(world.floor.cards(), utc(101))
    assert [(one["name"], rank(one, utc(101))) for one in shown] == [
        ("kitchen", "held"),
        ("idle", "idle"),
        ("gone", "gone"),
    ]
    assert lines(shown[0], utc(101)) == [
        "held: over: Sucrose, 312.4 of 364 g, 2 of 5 (kitchen-0007 Milk ice)"
    ]
    assert lines(shown[1], utc(101)) == ["nothing is weighed"]
    assert lines(shown[2], utc(101)) == ["away since 09:01:40"]
    step: dict[str, Any] = {
        "id": "kitchen-0006",
        "name": "Milk ice",
        "state": "running",
        "step": 2,
        "of": 3,
        "what": "Age",
        "begun": utc(0),
        "ready_at": utc(160),
        "late_at": None,
        "held": None,
        "awaited": ["time"],
        "out": [],
        "cool_by": None,
    }
    world.say("steps", batches=[step], more=0, ahead=30.0)
    card = world.card()
    assert any(one.startswith("0:40 left: Age, step 2 of 3") for one in lines(card, utc(90)))
    assert any(one.startswith("time is up: Age") for one in lines(card, utc(131)))
    notice = {"level": "warn", "code": "lot-below-nothing", "text": "S-12 40.5", "at": utc(0)}
    store = {"ok": False, "code": "store-full"}
    world.say("notices", store=store, notices=[notice])
    world.say(
        "scales", scales=[{"name": "bench", "link": "lost", "why": "", "check": None}], more=0
    )
    said = "\n".join(lines(world.card(), utc(90)))
    assert "its record cannot be written (store-full)" in said
    assert "scale bench lost" in said
    assert "lot S-12: 40.5 g more weighed than there was" in said
