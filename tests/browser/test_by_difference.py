"""By difference at the real daemon, by keyboard alone; a vessel weighed, and told from another."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.test_batch import tab_to
from tests.dose import LONG

#: The phone, where it is narrowest; a tablet too in the long run.
SIZES = ((390, 844), (1024, 768)) if LONG else ((390, 844),)


def press(page: Page, name: str | re.Pattern[str]) -> None:
    """Tab to a button and press it."""
    tab_to(page, page.get_by_role("button", name=name))
    page.keyboard.press("Enter")


def send_the_cook_away(page: Page) -> None:
    press(page, "Open the simulation controls")
    cook = page.get_by_label("Let the cook work")
    tab_to(page, cook)
    page.keyboard.press(" ")
    expect(cook).not_to_be_checked()


def says(page: Page, plate: str, big: str | re.Pattern[str]) -> None:
    expect(page.get_by_test_id("phase")).to_have_text(plate, timeout=10000)
    expect(page.get_by_test_id("primary")).to_have_text(big, timeout=10000)


def big(page: Page) -> None:
    """The big button, by its key."""
    page.get_by_test_id("primary").focus()
    page.keyboard.press("Enter")


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_two_containers_are_poured_from_by_keyboard(
    run_daemon: RunDaemon, open_page: OpenPage, size: tuple[int, int]
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "4")
    viewport = {"width": size[0], "height": size[1]}
    page = open_page(station.url, timezone_id="UTC", viewport=viewport)
    send_the_cook_away(page)
    station.until_simulation(lambda it: it["cook"]["working"] is False, "sent the cook away")
    tab_to(page, page.get_by_role("link", name="Lemon sorbet"))
    page.keyboard.press("Enter")
    tab_to(page, page.get_by_label("Who is weighing"))
    page.keyboard.type("Ada")
    tab_to(page, page.get_by_label("The bowl cannot be weighed"))
    page.keyboard.press(" ")
    press(page, "Start")

    first, second = station.until(lambda it: it["batch"] is not None, "started")["batch"][
        "additions"
    ][:2]
    says(page, "No container yet", f"Set the {first['name']} container on")
    press(page, "Set container down")
    says(page, "Vessel on?", "Tare: container is on")
    big(page)
    expect(page.get_by_test_id("phase")).to_have_text("Ready to pour from")
    press(page, "Lift vessel")
    says(page, "In your hand", "Pour, then set it back")
    expect(page.get_by_test_id("caption")).to_have_text("to pour")
    press(page, "Pour out what is to go")
    press(page, "Put vessel back")
    says(page, "On target", re.compile("^Accept "))
    expect(page.get_by_test_id("caption")).to_have_text("poured out")
    big(page)

    # The one before still stands there: no press of the big button tares it again.
    name = second["name"]
    says(page, "Vessel on?", f"Take it off, set the {name} on")
    expect(page.get_by_test_id("which-vessel")).to_contain_text("still the one before")
    press(page, "Lift vessel")
    says(page, "No container yet", f"Set the {name} container on")
    press(page, "Set container down")
    says(page, "Vessel on?", "Tare: container is on")
    big(page)
    expect(page.get_by_test_id("phase")).to_have_text("Ready to pour from")
    batch = station.state()["batch"]
    done = batch["additions"][0]
    assert done["verdict"] == "on target"
    assert (batch["current"], done["method"]) == (2, "by difference")


def test_a_vessel_is_weighed_by_keyboard_and_another_one_is_told(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "4")
    page = open_page(f"{station.url}#/scales", timezone_id="UTC")
    station.simulate("cook", working=False)
    station.until(lambda it: it["scales"]["bench"]["phase"] == "empty", "empty")
    section = page.get_by_test_id("vessels")
    tab_to(page, page.get_by_label("Name of the vessel"))
    page.keyboard.type("steel bowl")
    tab_to(page, section.get_by_role("button", name="Weigh and keep it"))
    page.keyboard.press("Enter")
    expect(section.get_by_role("alert")).to_have_text(
        "The scale shows nothing. Set the vessel on it."
    )
    station.simulate("vessel", mass_g="312.4")
    station.until(lambda it: it["scales"]["bench"]["phase"] == "settled", "settled")
    page.wait_for_timeout(600)
    tab_to(page, section.get_by_role("button", name="Weigh and keep it"))
    page.keyboard.press("Enter")
    expect(section.get_by_role("status")).to_contain_text("steel bowl is kept: 312.")
    expect(section.locator("li")).to_contain_text("weighed on bench")

    page.goto(f"{station.url}#/start/lemon-sorbet")
    page.get_by_label("Vessel").select_option("steel bowl")
    page.get_by_label("Who is weighing").fill("Ada")
    page.get_by_role("button", name="Start").click()
    says(page, "Vessel on?", "Tare: steel bowl")
    station.simulate("vessel", mass_g="640")
    told = page.get_by_test_id("which-vessel")
    expect(told).to_contain_text("This is not steel bowl", timeout=10000)
    expect(page.get_by_test_id("primary")).to_have_text("Set steel bowl on the scale")
    press(page, "Tare this one all the same")
    expect(page.get_by_test_id("phase")).to_have_text("Ready to pour")
    kept = station.record(station.state()["batch"]["id"])["entries"][-1]["body"]["vessel"]
    assert (kept["name"], kept["fits"]) == ("steel bowl", False)
