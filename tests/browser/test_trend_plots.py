"""The charts of one ingredient: read by keys, and plain where the finer ones cannot be had."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon
from weighd.station.trends import Point, detail


def milk() -> dict[str, Any]:
    """Thirty weighings of an invented kitchen, the tenth far over."""
    points = []
    for n in range(30):
        off = Decimal("7.2") if n == 9 else Decimal(n % 3) - 1
        verdict = "over" if n == 9 else "on target"
        masses = (500 + off, Decimal(500), Decimal(495), Decimal(505), Decimal("0.2"))
        who = ("milk", "Whole milk", "bench", "Ada")
        at = f"2026-11-{n + 1:02}T08:00:00.000Z"
        points.append(Point(n + 5, at, f"kitchen-{n:04}", 1, *who, *masses, verdict))
    return detail(points, "ingredient", "milk")


def shown(page: Page, daemon: FakeDaemon) -> None:
    page.route("**/api/trends/ingredient/milk", lambda it: it.fulfill(json=milk()))
    page.goto(f"{daemon.url}#/trends/ingredient/milk")
    page.reload()


def test_weighings_are_read_from_the_charts_by_keys(daemon: FakeDaemon, page: Page) -> None:
    shown(page, daemon)
    plots = page.get_by_test_id("trend-plots")
    expect(plots.locator("canvas")).to_have_count(2)
    told = plots.locator(".trend-told")
    expect(told).to_contain_text("press the arrow keys")
    plots.press("End")
    expect(told).to_contain_text("30 of 30")
    plots.press("Home")
    for _ in range(9):
        plots.press("ArrowRight")
    expect(told).to_contain_text("Over: 507.2\u00a0g of 500\u00a0g, off by +7.2\u00a0g. 10 of 30")
    for width, height in ((390, 844), (1024, 768), (1920, 1080)):
        page.set_viewport_size({"width": width, "height": height})
        expect(plots.locator("canvas").first).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_the_plain_chart_stays_where_the_fine_one_does_not_come(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    # what keeps the page's files for later would bring it all the same
    page = open_page(daemon.url, service_workers="block")
    page.route("**/assets/trend-plot-*.js", lambda it: it.abort())
    shown(page, daemon)
    expect(page.locator("figure.plot:visible").get_by_test_id("trend-chart")).to_have_count(1)
    expect(page.get_by_test_id("trend-plots")).to_have_count(0)
