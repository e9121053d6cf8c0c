"""Every screen while it waits, without an answer, without its station, and with nothing to show.

Each says in words what is, and has a way on. A screen that asks nothing is named in ``SHOWS``; any
other has to wait, fail and lose its station as all do.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon

ASKS = (
    "records", "start", "start/lemon-sorbet", "formulas", "formula/hazelnut-gelato", "new-formula",
    "ingredients", "ingredient/cream", "new-ingredient", "ingredient-table", "limits", "lots",
    "lot/M-1", "receive", "trace/M-1", "labels/batch/kitchen-0007", "labels/lot/M-1",
    "records/kitchen-0007", "process/kitchen-0009", "people", "trends/ingredient",
    "trends/ingredient/cream",
)  # fmt: skip
#: What they show they have, or get from the picture of the station.
SHOWS = ("process", "trace", "ingredient-file", "scales", "floor", "find", "settings")
#: These have something to say before their answer is there.
NO_WAIT = ("people",)
LARDER: dict[str, object] = {"ingredients": [], "tag": "a", "fixed": ""}
PROBLEM = {"code": "odd", "detail": "Something is wrong.", "where": "", "remedy": ""}


def walk(page: Page, screens: tuple[str, ...]) -> Iterator[str]:
    """Go to one after the other; each has a heading, and is no wider than the window."""
    for screen in screens:
        page.evaluate("hash => { location.hash = hash; }", f"#/{screen}")
        expect(page.locator("main").locator("h1, h2").first).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), screen
        yield screen


def answers(page: Page, answer: object) -> None:
    """Have every question to the station answered so; ``None`` for never."""

    def handle(route: Route) -> None:
        if answer is not None:
            kind = "application/problem+json"
            route.fulfill(status=500, content_type=kind, body=json.dumps(answer))

    page.route("**/api/**", handle)


def phone(open_page: OpenPage, daemon: FakeDaemon) -> Page:
    page = open_page("about:blank", viewport={"width": 390, "height": 844})
    page.goto(f"{daemon.url}/#/settings")
    expect(page.get_by_test_id("banner-lost")).to_have_count(0)
    expect(page.locator(".bar-name")).to_have_text("kitchen")
    return page


def test_every_screen_says_what_went_wrong_and_asks_again(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    page = phone(open_page, daemon)
    answers(page, PROBLEM)
    for screen in walk(page, ASKS):
        failed = page.locator("main").get_by_test_id("failed").first
        expect(failed.get_by_role("alert"), screen).to_contain_text("Something is wrong.")
        expect(failed, screen).to_contain_text("Asking changed nothing.")
        expect(failed.get_by_role("button", name="Try again"), screen).to_be_enabled()
    page.evaluate("location.hash = '#/records'")
    expect(page.get_by_test_id("failed")).to_be_visible()
    page.unroute_all()
    page.get_by_role("button", name="Try again").click()
    expect(page.locator(".record-row")).to_have_count(3)


def test_every_screen_says_that_it_waits_and_after_a_while_that_it_takes_long(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    page = phone(open_page, daemon)
    page.clock.install()
    answers(page, None)
    for screen in walk(page, tuple(one for one in ASKS if one not in NO_WAIT)):
        waiting = page.locator("main").get_by_test_id("waiting").first
        expect(waiting, screen).to_contain_text("One moment")
    page.clock.fast_forward(4000)
    expect(waiting).to_contain_text("has not answered yet")
    with page.expect_request("**/api/trends/ingredient/cream"):
        waiting.get_by_role("button", name="Try again").click()


def test_every_screen_says_that_its_station_is_gone_and_comes_back_by_itself(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    page = phone(open_page, daemon)
    daemon.stop()
    banner = page.get_by_test_id("banner-lost")
    expect(banner).to_be_visible()
    for screen in walk(page, ASKS):
        failed = page.locator("main").get_by_test_id("failed").first
        expect(failed, screen).to_contain_text("The station does not answer.")
        expect(failed, screen).to_contain_text("asked again by itself")
        expect(banner, screen).to_be_visible()
    for screen in walk(page, SHOWS):
        expect(banner, screen).to_be_visible()
    page.evaluate("location.hash = '#/process'")
    expect(page.locator("main")).to_contain_text("As last heard from the station.")
    page.evaluate("location.hash = '#/records'")
    daemon.start()
    expect(page.locator(".record-row")).to_have_count(3, timeout=20000)


def test_what_the_station_never_told_is_not_made_up(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    page = open_page("about:blank", viewport={"width": 390, "height": 844})
    page.route_web_socket(re.compile("/api/live"), lambda socket: socket.close())
    page.goto(f"{daemon.url}/#/")
    for _ in walk(page, ("process", "scales", "scales/bench/check", "")):
        told = page.get_by_test_id("not-heard")
        expect(told).to_contain_text("Is the station switched on")
        expect(told.get_by_role("button", name="Try now")).to_be_enabled()


def test_what_another_changed_meanwhile_is_asked_again_when_the_station_is_back(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    page = open_page(daemon.url)
    expect(page.locator(".formula-choice")).to_have_count(3)
    daemon.stop()
    expect(page.get_by_test_id("banner-lost")).to_be_visible()
    daemon.formulas["formulas"] = daemon.formulas["formulas"][:1]
    daemon.start()
    expect(page.locator(".formula-choice")).to_have_count(1, timeout=20000)


#: Screen, what it asks for, an answer with nothing in it, and the button that brings the first.
EMPTY: tuple[tuple[str, str, dict[str, object], str], ...] = (
    ("start", "formulas", {"formulas": [], "problems": []}, "New formula"),
    ("formulas", "formulas", {"formulas": [], "problems": []}, "New formula"),
    ("records", "batches", {"batches": []}, "Weigh something"),
    ("trends/ingredient", "trends", {"groups": []}, "Weigh something"),
    ("lots", "lots", {"day": "2026-03-02", "lots": []}, "Receive goods"),
    ("ingredients", "ingredients", LARDER, "From our table"),
    ("receive", "ingredients", LARDER, "New ingredient"),
    ("process", "", {}, "Weigh something"),
)


def test_an_empty_list_says_what_fills_it(daemon: FakeDaemon, open_page: OpenPage) -> None:
    page = phone(open_page, daemon)
    nothing = {path: answer for _, path, answer, _ in EMPTY}

    def handle(route: Route) -> None:
        asked = route.request.url.split("/api/")[1].split("?")[0]
        if asked in nothing:
            route.fulfill(json=nothing[asked])
        else:
            route.continue_()

    page.route("**/api/**", handle)
    ways = {screen: way for screen, _, _, way in EMPTY}
    for screen in walk(page, tuple(ways)):
        told = page.locator("main").get_by_test_id("nothing")
        expect(told, screen).to_be_visible()
        assert len(told.inner_text().split()) > 6, screen
        expect(page.locator("main").get_by_role("link", name=ways[screen]), screen).to_be_visible()


def test_every_place_of_the_menu_is_walked(page: Page) -> None:
    page.get_by_role("button", name="Menu").click()
    told = page.locator("dialog a").evaluate_all("all => all.map(it => it.getAttribute('href'))")
    known = {f"#/{one}" for one in (*ASKS, *SHOWS, "", "wall")}  # the wall has tests of its own
    assert told
    assert set(told) <= known
