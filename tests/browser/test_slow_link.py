"""A link that is slow, stalls, and is cut: nothing old is shown as live, nothing is done twice."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from functools import partial

import pytest
from playwright.sync_api import Page, expect

from tests.bad_link import CALM, BadLink, Weather
from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.painted import Truth, stale, watch
from tests.browser.real_daemon import RealDaemon
from weighd.domain.verify import verify_export
from weighd.main.drivers import reread

DASHES = "–––"
#: How many bad links a batch is weighed through, each with another seed.
SEEDS = range(1, 1 + int(os.environ.get("WEIGHD_LINKS", "1")))
BAD = Weather(
    delay_s=0.02,
    jitter_s=0.1,
    bytes_per_s=60_000,
    stall_each=20_000,
    stall_s=3.5,
    cut_each=12_000,
    silent=0.4,
)


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
        link.weather = Weather(bytes_per_s=6_000, delay_s=0.05)
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


def press_until(page: Page, do: str, done: Callable[[], bool]) -> None:
    """Press the big button whenever it offers this, as a cook does who sees nothing happen."""
    deadline = time.monotonic() + 90
    while not done():
        assert time.monotonic() < deadline, f"{do} never came through"
        page.evaluate(
            """what => {
              const it = document.querySelector(`#primary[data-do="${what}"]`);
              if (it?.getAttribute('aria-disabled') === 'false') it.click();
            }""",
            do,
        )
        page.wait_for_timeout(100)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_whole_batch_through_a_bad_link(
    station: RealDaemon, open_page: OpenPage, seed: int
) -> None:
    """Cut at any byte, stalled for seconds, half-open: what is pressed is done once, and nothing
    old is shown."""
    with BadLink(station.port, seed=seed) as link, Truth(station.url) as truth:
        page = open_page(link.url)
        page.get_by_role("link", name="Lemon sorbet").click()
        page.get_by_label("Who is weighing").fill("Ada")
        watch(page)
        link.weather = BAD
        page.get_by_role("button", name="Start").click()
        station.until(lambda it: it["batch"] is not None, "begun")
        batch = station.state()["batch"]
        station.simulate("vessel", mass_g="251.3")
        press_until(page, "tare", lambda: station.state()["live"]["phase"] == "ready")
        for n, addition in enumerate(batch["additions"], 1):
            station.simulate("tap", g=f"{float(addition['target_g']):.2f}")
            press_until(page, "accept", partial(station.is_past, n))
        told = f"seed {seed}: {link.cuts} cuts, {link.silences} silent, {link.stalls} stalls"
        assert link.cuts + link.silences + link.stalls > 0, told
        link.weather = CALM
        expect(page.get_by_test_id("done")).to_be_visible(timeout=20000)
        assert stale(page, truth) == [], told
        record = station.record(batch["id"])
    many = len(batch["additions"])
    kinds = [it["kind"] for it in record["entries"]]
    assert kinds == ["batch opened", "tared", *["addition accepted"] * many, "batch closed"], told
    assert verify_export(record, reread).weighings == many


def test_a_page_that_was_frozen_wakes_without_a_number_from_before(
    station: RealDaemon, open_page: OpenPage
) -> None:
    station.begin("lemon-sorbet")
    with Truth(station.url) as truth:
        page = open_page(station.url)
        station.tare(lambda: station.simulate("vessel", mass_g="251.3"))
        expect(page.get_by_test_id("phase")).to_have_text("Ready to pour")
        watch(page)
        cdp = page.context.new_cdp_session(page)
        cdp.send("Page.setWebLifecycleState", {"state": "frozen"})
        station.simulate("tap", g="300")
        station.settled()
        cdp.send("Page.setWebLifecycleState", {"state": "active"})
        expect(page.locator(".in-vessel b")).to_have_text("300.0")
        expect(page.get_by_test_id("banner-lost")).to_have_count(0)
        assert stale(page, truth) == []
