"""Freezing with dry ice on a formula's page: cautions first, a room before any charge."""

from __future__ import annotations

import os
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.test_process import SHERBET, press_big, weighed
from weighd.domain.cautions import DRY_ICE, OF_MEANS
from weighd.domain.verify import verify_export

SIZES = [(390, 844), (1024, 768), (1920, 1080)]


def fits(page: Page, name: str = "") -> None:
    """Nothing sticks out sideways in any window; the page is left in the last of them."""
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(60)  # laid out
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), width
        for field in page.get_by_test_id("dry-ice").locator("input").all():
            box = field.bounding_box()
            assert box is not None and box["height"] >= 64  # for a wet finger
        if name:
            _picture(page, f"{name}-{width}")


def test_a_charge_needs_a_room_and_comes_after_the_cautions(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    daemon = run_daemon("demo", "--no-open")
    page = open_page(f"{daemon.url}#/start/hazelnut-gelato")
    panel = page.get_by_test_id("dry-ice")
    panel.locator("summary").first.press("Enter")
    expect(panel.locator(".cautions")).to_contain_text("licensed practice")
    expect(panel.locator(".cautions li")).to_have_count(7)
    expect(panel).to_contain_text("Without it no charge is told")
    expect(panel.get_by_test_id("charge")).to_have_count(0)

    room = panel.get_by_label("Room, m³")
    room.fill("30")
    expect(panel.get_by_test_id("charge")).to_contain_text("717 to 789\u00a0g")
    expect(panel).to_contain_text("(not given: none)")
    expect(panel.locator(".air[data-over=true]")).to_contain_text("Above 5000\u00a0ppm")
    expect(panel.locator(".portions li")).to_have_count(10)
    expect(panel).to_contain_text("they cannot show that it is safe")

    # Enter in a field starts no batch; a number that cannot be is named.
    room.press("Enter")
    expect(panel).to_be_visible()
    panel.get_by_label("Air changes an hour").fill("-1")
    expect(panel.get_by_role("alert")).to_contain_text("air changes")
    panel.get_by_label("Air changes an hour").fill("2")
    panel.get_by_label("Gas comes over, min").fill("15")
    expect(panel).to_contain_text("2 air changes an hour; ")
    expect(panel).to_contain_text("h after the first gas")
    panel.get_by_label("Draw at, °C").fill("-40")
    expect(panel.get_by_role("alert")).to_contain_text("does not reach -40")

    panel.get_by_label("Draw at, °C").fill("-6")
    panel.get_by_label("Bowl, g").fill("1500")
    expect(panel.locator("dt", has_text="The bowl")).to_be_visible()
    before = panel.get_by_test_id("charge").text_content()
    panel.get_by_label("Bowl of").select_option("copper")
    expect(panel.get_by_test_id("charge")).not_to_have_text(before or "")

    fits(page)


def test_the_room_is_remembered_on_the_device(run_daemon: RunDaemon, open_page: OpenPage) -> None:
    daemon = run_daemon("demo", "--no-open")
    page = open_page(f"{daemon.url}#/start/hazelnut-gelato")
    panel = page.get_by_test_id("dry-ice")
    panel.locator("summary").first.click()
    panel.get_by_label("Room, m³").fill("44")
    expect(panel).to_contain_text("44\u00a0m³")
    page.reload()
    panel.locator("summary").first.click()
    expect(panel.get_by_label("Room, m³")).to_have_value("44")
    # What stands on the scale is told there too.
    expect(panel.get_by_test_id("losing")).to_contain_text("On the scale")


def test_a_step_with_dry_ice_at_the_page(run_daemon: RunDaemon, open_page: OpenPage) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "40")
    batch = weighed(station, SHERBET, "600")
    todo = [("begin step", 1), ("end step", 1), ("begin step", 2)]
    for do, step in todo:
        station.post(f"api/batches/{batch}/commands", do=do, step=step, by="Bo")
    station.post(
        f"api/batches/{batch}/commands", do="enter temperature", step=2, temperature="3", by="Bo"
    )
    station.simulate("wait", minutes=90)
    station.post(f"api/batches/{batch}/commands", do="end step", step=2, by="Bo")

    page = open_page(f"{station.url}#/process/{batch}")
    page.locator("#who").fill("Bo")
    for one in OF_MEANS[DRY_ICE]:
        page.get_by_test_id(f"caution-{one.name}").locator("input").check()
    expect(page.locator("#primary")).to_have_text("Give the room first")
    before = page.get_by_test_id("dry-ice-before")
    expect(before.get_by_label("Draw at, °C")).to_have_value("-5")  # as the step's limit says
    before.get_by_label("Room, m³").fill("30")
    expect(before.get_by_test_id("charge")).to_contain_text("g of dry ice")
    fits(page, "step-before")
    press_big(page, "Begin")

    now = page.get_by_test_id("dry-ice-now")
    expect(now).to_contain_text("Portion 1 of 10")
    expect(now).to_contain_text("the next in 0:")
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        expect(now).to_be_in_viewport()
        _picture(page, f"step-now-{width}")
    station.simulate("wait", minutes=6)
    expect(now).to_contain_text("All portions are in")
    fits(page)

    page.goto(f"{station.url}#/records/{batch}")
    kept = page.get_by_test_id("dry-ice-kept")
    expect(kept).to_contain_text("not verified")
    expect(kept).to_contain_text("Room 30\u00a0m³, air changes an hour not known, taken as none")
    kept.scroll_into_view_if_needed()
    fits(page, "step-kept")
    verify_export(station.record(batch), None)


def _picture(page: object, name: str) -> None:
    """A picture to look at, where a folder for them is named."""
    folder = os.environ.get("WEIGHD_PICTURES")
    if folder:
        page.screenshot(path=str(Path(folder) / f"{name}.png"))  # type: ignore[attr-defined]
