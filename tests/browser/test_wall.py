"""This station on a wall: read from three metres, never old, and nothing on it can be pressed."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, Request, expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon, Picture, picture
from tests.browser.test_axe import violations

#: px: capitals of 16 minutes of arc (ISO 9241-303, from memory) at 3 m, on a 24-inch screen of
#: 1920 by 1080: 3000 mm * tan(16') = 14 mm, of letters whose capitals are 0.72 of their size,
#: at 0.277 mm a pixel.
LEAST = 3000 * 0.004654 / 0.72 / 0.2768


def in_process() -> list[dict[str, Any]]:
    """A batch that runs, and one that is held."""
    now: Picture = {"elapsed_s": "65", "least_s": "600", "most_s": None, "met": False}
    now |= {"out": [], "awaited": ["time"], "hold": None}
    step: Picture = {"n": 1, "kind": "rest", "name": "Rest", "how": "", "with": "", "limits": ""}
    step |= {"needs_temperature": False, "cautions": [], "table": None, "runs": []}
    runs: Picture = {"id": "kitchen-0005", "name": "Hazelnut gelato", "batch_g": "2400"}
    runs |= {"operator": "Ada", "weighed": "2026-03-02T09:00:00Z", "state": "running", "step": 1}
    runs |= {"held": None, "now": now, "cooling": None, "can": []}
    held: Picture = {**runs, "id": "kitchen-0004", "name": "Custard", "state": "held", "now": None}
    held["held"] = {"faults": ["too cool"], "told": "", "reason": "", "heat": True, "notice": ""}
    runs["steps"] = [{**step, "status": "running"}]
    held["steps"] = [{**step, "status": "held"}]
    return [runs, held]


def pouring() -> Picture:
    state = picture("pouring-near")
    state["batch"]["additions"][1]["lot"] = "SU-0417"
    return state


@pytest.fixture
def wall(daemon: FakeDaemon, open_page: OpenPage) -> Page:
    """The wall on a 24-inch screen at full HD, while something is poured."""
    daemon.show(pouring())
    size = {"width": 1920, "height": 1080}
    page = open_page(f"{daemon.url}/#/wall/on", viewport=size)
    expect(page.get_by_test_id("wall-board")).to_be_visible()
    return page


def test_what_is_read_from_three_metres_is_large_and_all_of_it_fits(
    wall: Page, daemon: FakeDaemon
) -> None:
    board = wall.get_by_test_id("wall-board")
    for said in ("Slow down", "2 of 5", "Sucrose", "Lot SU-0417", "Target 364", "7.2", "to go"):
        expect(board).to_contain_text(said)
    expect(wall.get_by_test_id("wall-cue")).to_have_text("Slow")
    expect(wall.get_by_test_id("wall-next")).to_contain_text("Next 96\u00a0g Glucose syrup, dried")
    expect(wall.get_by_test_id("landing")).to_be_visible()
    parts = ("phase", "ingredient", "number-main", "caption", "wall-cue", "wall-next")
    sizes = {
        part: wall.get_by_test_id(part).evaluate("it => parseFloat(getComputedStyle(it).fontSize)")
        for part in parts
    }
    sizes["lot"] = wall.locator(".wall-lot b").first.evaluate(
        "it => parseFloat(getComputedStyle(it).fontSize)"
    )
    assert min(sizes.values()) >= LEAST, sizes
    assert sizes["number-main"] > 3 * LEAST
    for width, height in ((1920, 1080), (1080, 1920), (1024, 768), (1280, 800)):
        wall.set_viewport_size({"width": width, "height": height})
        for name in ("over-held", "scale-lost", "vessel-on"):
            state = picture(name)
            for addition in state["batch"]["additions"]:
                addition.update(name="Hazelnut paste", allergens=["nuts (hazelnut)"])
            daemon.show(state)
            wall.wait_for_timeout(40)
            over = wall.evaluate(
                "() => [document.documentElement.scrollWidth - innerWidth,"
                " document.documentElement.scrollHeight - innerHeight]"
            )
            assert max(over) <= 0, (width, height, name, over)
    # At 400 % (WCAG 2.2, 1.4.10 and 1.4.4, from memory) it scrolls one way, in larger letters.
    wall.set_viewport_size({"width": 320, "height": 256})
    assert wall.evaluate("document.documentElement.scrollWidth") <= 320
    height = wall.locator(".plate").evaluate("it => it.clientHeight")
    assert height < 160, "the word of the state is not broken into letters"
    for part in parts[:-2]:
        assert wall.get_by_test_id(part).evaluate("it => it.scrollWidth <= it.clientWidth + 1")
    size = wall.get_by_test_id("ingredient").evaluate(
        "it => parseFloat(getComputedStyle(it).fontSize)"
    )
    assert size * 4 > 1.5 * LEAST


def test_nothing_on_it_can_be_pressed_and_nothing_leaves_it(wall: Page, daemon: FakeDaemon) -> None:
    wall.keyboard.press("Escape")
    wall.get_by_role("button", name="Menu").click()
    wall.get_by_role("link", name="On the wall").click()
    expect(wall.get_by_role("heading", level=1)).to_have_text("This station on the wall")
    assert violations(wall) == []
    wall.get_by_test_id("wall-here").click()
    daemon.show("on-target")
    expect(wall.get_by_test_id("wall-now")).to_have_text("At the station: Accept 364.3\u00a0g")
    asked: list[str] = []
    wall.on("request", lambda request: asked.append(_of(request)))
    resumed = len(daemon.resumes)
    for key in (" ", "Enter", "t", "a", "u", "o", "l", "k", "s", "?", "/", "1", "Tab", "F9"):
        wall.keyboard.press(key)
    wall.wait_for_timeout(150)
    for x in range(60, 1920, 300):
        for y in range(60, 1080, 200):
            wall.mouse.click(x, y)
    assert wall.locator("dialog").count() == 0
    assert wall.evaluate("document.activeElement === document.body")
    assert (
        wall.evaluate(
            "document.querySelectorAll('a, button, input, select, summary, [tabindex]').length"
        )
        == 0
    )
    assert wall.evaluate("location.hash") == "#/wall/on"
    daemon.change(station={**daemon.state["station"], "name": "bench-2"})
    expect(wall.locator(".wall-foot")).to_contain_text("bench-2")
    assert asked == []
    assert daemon.asked == []
    assert len(daemon.resumes) == resumed
    # A pointer that lies still goes away, and comes back when it is moved.
    screen = wall.get_by_test_id("wall")
    expect(screen).to_have_css("cursor", "none")
    wall.mouse.move(300, 300)
    expect(screen).to_have_css("cursor", "default")
    wall.keyboard.press("Escape")
    expect(wall.get_by_test_id("wall-here")).to_be_visible()


def _of(request: Request) -> str:
    return f"{request.method} {request.url}"


def test_between_batches_and_when_the_station_is_away(wall: Page, daemon: FakeDaemon) -> None:
    daemon.change(process={"at": "x", "batches": in_process()})
    expect(wall.get_by_test_id("wall-urgent")).to_contain_text("Custard")
    expect(wall.get_by_test_id("wall-urgent")).to_contain_text("Held: too cool")
    found = {"poured": violations(wall)}
    daemon.show({**picture("done"), "process": {"at": "x", "batches": in_process()}})
    quiet = wall.get_by_test_id("wall-quiet")
    expect(quiet.locator(".wall-made").first).to_contain_text("Custard")
    expect(wall.get_by_test_id("wall-kitchen-0005")).to_contain_text("8:5")
    last = wall.get_by_test_id("wall-last")
    expect(last).to_contain_text("kitchen-0007")
    expect(last).to_contain_text("1 addition was kept off target.")
    found["between"] = violations(wall)
    daemon.show({**picture("no-batch"), "process": {"at": "x", "batches": []}})
    expect(quiet).to_contain_text("Nothing is being weighed")
    expect(last).to_contain_text("kitchen-0007")  # a station started anew does not tell it
    found["quiet"] = violations(wall)
    daemon.show(pouring())
    expect(wall.get_by_test_id("number-main")).to_have_text("7.2")
    daemon.stop()
    away = wall.get_by_test_id("wall-away")
    expect(away).to_contain_text("The station does not answer")
    expect(away).to_contain_text("since")
    assert "7.2" not in wall.locator("main").inner_text()
    found["away"] = violations(wall)
    state = pouring()
    state["station"]["boot"] = "another"
    state["live"].update(net_g="360.0", to_go_g="4.0")
    daemon.state = state
    daemon.start()
    expect(wall.get_by_test_id("number-main")).to_have_text("4.0", timeout=8000)
    assert {name: wrong for name, wrong in found.items() if wrong} == {}
