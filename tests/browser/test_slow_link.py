"""A link that is slow, stalls, and is cut: nothing old is shown as live, nothing is done twice."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.bad_link import CALM, BadLink, Weather
from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.painted import Truth, stale, watch
from tests.browser.real_daemon import RealDaemon

DASHES = "–––"


@pytest.fixture
def station(run_daemon: RunDaemon) -> RealDaemon:
    """The demonstration, eight times as fast as life, without its cook."""
    it = run_daemon("demo", "--no-open", "--speed", "8")
    it.simulate("cook", working=False)
    return it


def pour_on_and_off(station: RealDaemon, times: int, pause: float) -> None:
    """Pour for a while, then not, and so on: the page has much to tell of."""
    for _ in range(times):
        station.simulate("pour", g_per_s="8")
        station.wait(pause)
        station.simulate("stop")
        station.wait(pause)


def test_a_narrow_link_shows_nothing_old(station: RealDaemon, open_page: OpenPage) -> None:
    """Where frames come faster than the link carries them, they are not kept for later."""
    station.begin("lemon-sorbet")
    with BadLink(station.port) as link, Truth(station.url) as truth:
        page = open_page(link.url)
        expect(page.get_by_test_id("number-main")).not_to_have_text(DASHES)
        watch(page)
        link.weather = Weather(bytes_per_s=700, delay_s=0.05)
        station.tare(lambda: station.simulate("vessel", mass_g="251.3"))
        pour_on_and_off(station, 4, 0.5)
        last = station.settled()
        expect(page.locator(".in-vessel b")).to_have_text(last["net_g"])
        assert stale(page, truth) == []


def test_a_link_that_gets_slower_and_slower_is_said_to_be_lost_and_comes_back(
    station: RealDaemon, open_page: OpenPage
) -> None:
    station.begin("lemon-sorbet")
    with BadLink(station.port) as link, Truth(station.url) as truth:
        page = open_page(link.url)
        number = page.get_by_test_id("number-main")
        station.tare(lambda: station.simulate("vessel", mass_g="251.3"))
        expect(number).not_to_have_text(DASHES)
        watch(page)
        station.simulate("pour", g_per_s="2")
        for delay in (0.2, 0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6):
            link.weather = Weather(delay_s=delay)
            station.wait(0.35)
        expect(number).to_have_text(DASHES)
        expect(page.get_by_test_id("banner-lost")).to_be_visible()
        station.simulate("stop")
        link.weather = CALM
        expect(page.get_by_test_id("banner-lost")).to_have_count(0, timeout=15000)
        expect(page.locator(".in-vessel b")).to_have_text(station.settled()["net_g"])
        assert stale(page, truth) == []
