"""The floor on a wall screen and on a phone: who needs somebody, and nothing old shown as live."""

from __future__ import annotations

import json
from typing import Any

import pytest
from playwright.sync_api import Page, WebSocketRoute, expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon
from weighd.station.floor import Floor
from weighd.station.floor_topics import topic

NOW = "2026-03-02T09:30:00.000Z"
BAD = "<img src=x onerror='window.bad = 1'>"


class Wall:
    """A pretend station that watches a floor: what pages hear of it, made by the real fold."""

    def __init__(self, daemon: FakeDaemon) -> None:
        self.floor = Floor()
        self.floor.connected(0.0, NOW)
        self.sockets: list[WebSocketRoute] = []
        state = {**daemon.state["station"], "floor": True, "simulation": False}
        daemon.change(station=state)

    def say(self, name: str, section: str, *, retained: bool = False, **body: Any) -> None:
        head = {"v": 1, "station": name, "instance": "a", "at": NOW, "clock": "station"}
        payload = json.dumps({**head, **body}).encode()
        self.floor.take(
            topic("weighd", name, section), payload, retained=retained, now=0.0, utc=NOW
        )
        assert not self.floor.ignored, payload

    def here(self, name: str, state: str = "here") -> None:
        self.say(name, "presence", state=state, version="1", began=NOW, beat_s=5.0)

    def weighs(self, name: str, net: str | None, *, held: str = "", formula: str = "Ice") -> None:
        addition = {
            "n": 2,
            "name": "Sucrose",
            "scale": "bench",
            "target_g": "364",
            "low_g": "362",
            "high_g": "366",
            "net_g": net,
            "phase": "held" if held else "pouring",
            "why": "",
            "verdict": None,
            "cue": None,
            "lifted": False,
            "held": {"cause": held, "since": NOW} if held else None,
        }
        batch = {
            "id": f"{name[:20]}-0007",
            "formula": formula,
            "batch_g": "2400",
            "opened": NOW,
            "of": 5,
            "accepted": 1,
            "allergens": [],
            "addition": addition,
        }
        self.say(name, "batch", batch=batch, last=None)

    def join(self, socket: WebSocketRoute) -> None:
        self.sockets.append(socket)
        socket.send(json.dumps(self.frame("snapshot")))

    def frame(self, kind: str) -> dict[str, Any]:
        head = {"boot": "b", "now": NOW, **(self.floor.of_link() or {})}
        parts = {"floor": head, "stations": self.floor.cards()}
        frame = {"kind": kind, "seq": self.floor.changed, "now": NOW}
        return {**frame, "state": parts} if kind == "snapshot" else {**frame, **parts}

    def tell(self) -> None:
        self.sockets[-1].send(json.dumps(self.frame("change")))

    def open(self, open_page: OpenPage, daemon: FakeDaemon, **context: Any) -> Page:
        page = open_page("about:blank", **context)
        page.route_web_socket("**/api/floor/live?seen", self.join)
        page.goto(f"{daemon.url}/#/floor")
        return page


def test_who_needs_somebody_is_first_and_loud_and_what_is_old_is_not_live(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    wall = Wall(daemon)
    for name in ("annex", "bench", "kitchen", BAD):
        wall.here(name)
    wall.weighs("bench", "312.4")
    wall.weighs("kitchen", "371.2", held="over")
    wall.weighs("annex", "99.9")
    wall.here("annex", "away")
    wall.weighs(BAD, "1.5", formula=BAD)
    page = wall.open(open_page, daemon)
    cards = page.locator(".floor-card")
    expect(cards).to_have_count(4)
    assert [one.get_attribute("data-rank") for one in cards.all()] == [
        *("held", "weighing", "weighing", "gone"),
    ]
    first = page.get_by_test_id("station-kitchen")
    for said in ("Over", "371.2", "of 364\u00a0g", "7.2\u00a0g over", "2 of 5", "kitchen-0007"):
        expect(first).to_contain_text(said)
    expect(page.get_by_test_id("station-bench")).to_contain_text("51.6\u00a0g to go")
    away = page.get_by_test_id("station-annex")
    expect(away).to_contain_text("Away")
    expect(away).to_contain_text("since ")
    expect(away).not_to_contain_text("to go")
    expect(page.locator(".floor-head")).to_contain_text("1 needs somebody · 2 weighing")
    expect(page.get_by_test_id(f"station-{BAD}")).to_contain_text(BAD)
    assert page.evaluate("window.bad") is None

    wall.weighs("kitchen", "364.0")
    wall.weighs("bench", None, held="scale lost")
    wall.tell()
    expect(cards.first).to_contain_text("Scale lost")
    expect(cards.first.locator(".floor-net")).to_contain_text("\u2013\u2013\u2013")

    wall.floor.cut(1.0, NOW, "the broker is gone")
    wall.tell()
    expect(page.get_by_test_id("floor-cut")).to_contain_text("the broker is gone")
    expect(page.locator(".floor-old")).to_have_count(4)
    wall.floor.connected(2.0, NOW)
    wall.tell()
    expect(page.get_by_test_id("floor-cut")).to_have_count(0)
    expect(page.get_by_test_id("station-bench")).to_have_attribute("data-standing", "unconfirmed")


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (390, 844)])
def test_thirty_stations_are_laid_out_within_the_screen(
    daemon: FakeDaemon, open_page: OpenPage, width: int, height: int
) -> None:
    wall = Wall(daemon)
    for n in range(30):
        name = f"bench-{n}" if n % 3 else f"a-long-name-of-a-bench-{n}"
        wall.here(name)
        wall.weighs(name, "312.4", held="over" if n == 7 else "")
    page = wall.open(open_page, daemon, viewport={"width": width, "height": height})
    expect(page.locator(".floor-card")).to_have_count(30)
    fits = page.locator(".floor-fits")
    expect(fits).to_have_count(0 if width < 800 else 1)  # once the screen was measured
    box = page.locator(".screen")
    assert box.evaluate("it => it.scrollWidth <= it.clientWidth")
    scrolls = box.evaluate("it => it.scrollHeight > it.clientHeight + 1")
    assert scrolls == (width < 800)
    # What must be read from afar is whole: state, name as far as it goes, number.
    for part in (".floor-net b", ".floor-plate b"):
        cut = page.locator(part).evaluate_all(
            "them => them.filter(it => it.scrollWidth > it.clientWidth + 1).length"
        )
        assert cut == 0, part
    size = page.locator(".floor-net b").first.evaluate(
        "it => parseFloat(getComputedStyle(it).fontSize)"
    )
    assert size >= 24


def test_a_station_without_a_broker_says_how_to_have_one(page: Page, daemon: FakeDaemon) -> None:
    expect(page.get_by_test_id("nav-floor")).to_have_count(0)
    page.goto(f"{daemon.url}/#/floor")
    expect(page.locator("main")).to_contain_text("under [floor]")
