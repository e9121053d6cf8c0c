"""Freezing with dry ice on a formula's page: cautions first, a room before any charge."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OpenPage, RunDaemon

SIZES = [(390, 844), (1024, 768), (1920, 1080)]


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_a_charge_needs_a_room_and_comes_after_the_cautions(
    run_daemon: RunDaemon, open_page: OpenPage, size: tuple[int, int]
) -> None:
    daemon = run_daemon("demo", "--no-open")
    page = open_page(
        f"{daemon.url}#/start/hazelnut-gelato", viewport={"width": size[0], "height": size[1]}
    )
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

    # Nothing sticks out sideways, and every field is large enough for a wet finger.
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    for field in panel.locator("input").all():
        box = field.bounding_box()
        assert box is not None and box["height"] >= 64


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
