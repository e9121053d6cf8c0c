"""A whole batch by fingers on a phone: at edges, twice, long, with two fingers, and scrolling."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.conftest import MOVING, OpenPage, RunDaemon
from tests.browser.hands import Finger
from tests.browser.real_daemon import RealDaemon
from weighd.domain.verify import verify_export
from weighd.main.drivers import reread

PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
    "device_scale_factor": 2,
}

#: Places on a button just within each of its edges, as shares of its width and height.
EDGES = [(0.02, 0.5), (0.98, 0.5), (0.5, 0.04), (0.5, 0.96)]


def kinds(station: RealDaemon, batch: str) -> list[str]:
    return [it["kind"] for it in station.record(batch)["entries"]]


def scrolled(page: Page) -> float:
    return float(page.locator(".screen").evaluate("it => it.scrollTop"))


def begin(station: RealDaemon, page: Page, finger: Finger) -> dict[str, Any]:
    """From the list of formulas to the board."""
    finger.tap(page.get_by_role("link", name="Lemon sorbet"), across=0.03, down=0.9)
    size = page.get_by_label("Batch size")
    finger.write(size, "700")
    finger.write(page.get_by_label("Who is weighing"), "Ada")
    finger.tap(page.get_by_role("button", name="Start"), times=2)
    expect(page.get_by_test_id("phase")).to_have_text("No vessel yet")
    batch: dict[str, Any] = station.state()["batch"]
    assert (batch["batch_g"], batch["operator"]) == ("700", "Ada")
    return batch


def tare(station: RealDaemon, page: Page, finger: Finger, batch: str) -> None:
    """A button is not pressed by two fingers, nor by one that slides off; a long press is one."""
    station.simulate("vessel", mass_g="251.3")
    station.until(lambda it: "tare" in it["live"]["can"], "on the scale and settled")
    big = page.get_by_test_id("primary")
    expect(big).to_have_attribute("data-do", "tare")
    finger.two(big)
    finger.swipe(big, up=120)
    assert kinds(station, batch) == ["batch opened"]
    finger.press(big, 0.9)
    if station.state()["live"]["phase"] != "ready":  # held so long, some browsers take it for none
        finger.tap(big)
    expect(page.get_by_test_id("phase")).to_have_text("Ready to pour")
    assert kinds(station, batch) == ["batch opened", "tared"]


def scroll_while_it_pours(station: RealDaemon, page: Page, finger: Finger, to_g: float) -> None:
    """The number goes on, the page stays where it was scrolled to, and nothing is pressed."""
    station.simulate("pour", g_per_s=f"{to_g / 60:.1f}")
    expect(page.get_by_test_id("phase")).to_have_text("Pouring")
    finger.swipe(page.get_by_test_id("ingredient"), up=260)
    at = -1.0
    while at != (at := scrolled(page)):  # it glides on
        page.wait_for_timeout(150)
    assert at > 100
    number = page.get_by_test_id("number-main")
    before = number.inner_text()
    expect(number).not_to_have_text(before)
    assert abs(scrolled(page) - at) < 2
    station.simulate("stop")
    assert page.locator("dialog").count() == 0


def put_right_by_a_card(station: RealDaemon, page: Page, finger: Finger) -> None:
    """Too much is in and cannot come out: more is made, by a tap on the edge of a card."""
    expect(page.get_by_test_id("phase")).to_have_text("Over")
    card = page.locator(".way[data-way='enlarge']")
    finger.tap(card, across=0.97, down=0.04)
    expect(card.locator("input")).to_be_checked()
    page.wait_for_timeout(700)  # a press that comes with the cards does nothing yet
    finger.tap(page.get_by_test_id("primary"), times=2)
    dialog = page.get_by_role("dialog")
    expect(dialog).to_be_visible()
    expect(dialog).to_be_in_viewport(ratio=0.5)
    # Once: beneath it lie the pretend hands, which a second tap would have pour.
    finger.tap(dialog.locator("[type=submit]"), down=0.9)
    expect(page.locator("dialog")).to_have_count(0)
    station.until(lambda it: len(it["batch"]["put_right"]) == 1, "put right")


def test_a_whole_batch_by_touch_on_a_phone(run_daemon: RunDaemon, open_page: OpenPage) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "8")
    station.simulate("cook", working=False)
    page = open_page(station.url, **PHONE, **MOVING)
    finger = Finger(page)
    batch = begin(station, page, finger)
    tare(station, page, finger, batch["id"])
    plate, big = page.get_by_test_id("phase"), page.get_by_test_id("primary")
    n = 0
    while (state := station.state())["live"] is not None:
        n += 1
        addition = state["batch"]["additions"][n - 1]  # more of each, once more is made
        target = float(addition["target_g"])
        expect(page.get_by_test_id("ingredient")).to_have_text(addition["name"])
        if n == 1:
            scroll_while_it_pours(station, page, finger, target)
            station.settled()
            rest = target - float(station.settled()["net_g"])
            assert rest > 0
            station.simulate("tap", g=f"{rest:.2f}")
        elif n == 2:
            station.simulate("tap", g=f"{target + 8:.1f}")
            put_right_by_a_card(station, page, finger)
        else:
            station.simulate("tap", g=f"{target:.2f}")
        expect(plate).to_have_text("On target")
        # Twice, at an edge, with a wet finger: it is one press.
        for edge in [EDGES[n % len(EDGES)], *EDGES]:  # a page that was late takes no press
            finger.tap(big, *edge, times=2)
            if any(station.is_past(n) or page.wait_for_timeout(100) for _ in range(30)):
                break
        assert station.is_past(n), (n, plate.inner_text(), big.inner_text())
    expect(page.get_by_test_id("done")).to_be_visible()
    record = station.record(batch["id"])
    assert verify_export(record, reread).weighings == n == len(batch["additions"]) + 1
    told = [it["kind"] for it in record["entries"]]
    assert told.count("addition accepted") == n
    assert told.count("tared") == 1
    finger.tap(page.get_by_role("link", name="Open the record"))
    expect(page.get_by_test_id("record")).to_contain_text("Lemon juice")
    finger.tap(page.get_by_role("link", name="Labels"))
    expect(page.get_by_test_id("label-sheets")).to_contain_text("Lemon sorbet")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
