"""The station killed in every phase of an addition: the page says so, and the batch goes on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.painted import Truth, stale, watch
from tests.browser.real_daemon import RealDaemon
from tests.browser.test_trouble import DASHES, ON_A_TTY, kitchen
from tests.pty_scale import PtyScale
from weighd.domain.verify import verify_export
from weighd.main.drivers import reread
from weighd_drivers.sim_parameters import BenchParameters


@pytest.fixture
def scale(tmp_path: Path) -> Iterator[PtyScale]:
    """A scale on a tty, which what becomes of the station does not touch."""
    bench = BenchParameters(rate_hz=20, gurgle=0, drops=0)
    with PtyScale(tmp_path / "tty", bench, speed=4) as it:
        yield it


def killed(station: RealDaemon, page: Page, meanwhile: Callable[[], object] | None = None) -> None:
    """Kill it, see the page say so, do something at the bench, start it, and see it found again."""
    station.kill()
    expect(page.get_by_test_id("banner-lost")).to_be_attached()
    expect(page.get_by_test_id("number-main")).to_have_text(DASHES)
    expect(page.locator(".in-vessel b")).to_have_text(DASHES)
    expect(page.get_by_test_id("phase")).to_have_text("No connection")
    if meanwhile is not None:
        meanwhile()
    station.start()
    page.evaluate("dispatchEvent(new Event('online'))")  # it would knock by itself, a little later
    expect(page.get_by_test_id("banner-lost")).to_have_count(0, timeout=10000)


def pours(scale: PtyScale, page: Page, to: float) -> None:
    """Pour on, so slowly that the page says it."""
    scale.bench.pour(to / 30)
    expect(page.get_by_test_id("phase")).to_have_text("Pouring")


def fill(scale: PtyScale, page: Page, to: float, word: str) -> None:
    """Bring what is in to so much, and wait for the verdict."""
    scale.bench.tap(to - float(scale.bench.picture()["contents_g"] or 0))
    expect(page.get_by_test_id("phase")).to_have_text(word, timeout=10000)


def written_while_away(station: RealDaemon, page: Page) -> None:
    """A reason is being written when the station goes: it stays, and goes out once."""
    page.locator("[data-do='accept with reason']").click()
    dialog = page.get_by_role("dialog")
    own = dialog.get_by_label("In your own words")
    own.fill("The jug slipped")
    station.kill()
    expect(dialog.get_by_test_id("sheet-lost")).to_be_visible()
    expect(own).to_have_value("The jug slipped")
    own.press("Enter")
    page.wait_for_timeout(100)
    expect(dialog).to_be_visible()
    station.start()
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(dialog.get_by_test_id("sheet-lost")).to_have_count(0, timeout=10000)
    expect(own).to_have_value("The jug slipped")
    expect(dialog.locator("[type=submit]")).to_be_enabled(timeout=10000)
    dialog.locator("[type=submit]").click()
    expect(page.locator("dialog")).to_have_count(0)


def test_a_station_killed_in_every_phase_loses_nothing(
    run_daemon: RunDaemon, tmp_path: Path, scale: PtyScale, open_page: OpenPage
) -> None:
    path = kitchen(tmp_path, ON_A_TTY.format(port=scale.link))
    station = run_daemon("serve", "--config", str(path))
    station.until(lambda it: it["scales"]["bench"]["link"] == "live", "live")
    station.begin("test-dough")
    page = open_page(station.url)
    plate = page.get_by_test_id("phase")
    with Truth(station.url) as truth:
        expect(plate).to_have_text("No vessel yet")
        watch(page)
        killed(station, page, lambda: scale.bench.vessel(251.3))
        page.locator("#primary[data-do='tare'][aria-disabled='false']").click()
        expect(plate).to_have_text("Ready to pour")
        killed(station, page)
        expect(plate).to_have_text("Ready to pour")

        pours(scale, page, 60)
        killed(station, page, scale.bench.stop)
        fill(scale, page, 200, "Short")
        scale.bench.tap(50)  # the scale is pulled out while nobody looks, and is not back yet
        station.phase("settling", "pouring")
        killed(station, page, scale.unplug)
        expect(plate).to_have_text("Scale lost")
        expect(page.get_by_test_id("number-main")).to_have_text(DASHES)
        scale.plug()
        expect(plate).to_have_text("Short", timeout=10000)
        fill(scale, page, 400, "On target")
        killed(station, page)
        expect(plate).to_have_text("On target", timeout=10000)
        page.get_by_test_id("primary").click()

        expect(page.get_by_test_id("ingredient")).to_have_text("Water")
        fill(scale, page, 700, "Over")
        killed(station, page)
        expect(plate).to_have_text("Over", timeout=10000)
        written_while_away(station, page)
        expect(page.get_by_test_id("done")).to_be_visible()
        assert stale(page, truth) == []
    record = station.record("kitchen-0001")
    bodies = [it["body"] for it in record["entries"] if it["kind"] == "addition accepted"]
    assert [float(it["net_g"]) for it in bodies] == pytest.approx([400, 300], abs=0.2)
    assert bodies[1]["reason"] == "The jug slipped"
    assert verify_export(record, reread).weighings == 2
