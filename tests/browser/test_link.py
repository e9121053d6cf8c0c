"""The link to the station: nothing stale is shown as live, and it comes back by itself."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.browser.fake_daemon import FakeDaemon, picture


def numbers_are_dashes(page: Page, timeout: float = 5000) -> None:
    expect(page.get_by_test_id("number-main")).to_have_text("–––", timeout=timeout)
    expect(page.locator(".in-vessel b")).to_have_text("–––")
    expect(page.get_by_test_id("tape")).to_have_class("tape tape-unknown")


def test_a_station_that_dies_is_said_at_once_and_is_found_again(
    page: Page, daemon: FakeDaemon
) -> None:
    daemon.show("pouring-near")
    expect(page.get_by_test_id("number-main")).to_have_text("7.2")
    daemon.stop()
    expect(page.get_by_test_id("banner-lost")).to_be_visible(timeout=3000)
    numbers_are_dashes(page)
    expect(page.get_by_test_id("phase")).to_have_text("No connection")
    expect(page.get_by_test_id("said-urgently")).to_have_text("No connection to the station")
    expect(page.get_by_test_id("primary")).to_have_attribute("aria-disabled", "true")
    page.keyboard.press(" ")
    expect(page.get_by_test_id("ingredient")).to_have_text("Sucrose")  # the shell stays
    daemon.state = picture("on-target")
    daemon.state["station"]["boot"] = "another"
    daemon.seq = 2
    daemon.start()
    expect(page.get_by_test_id("phase")).to_have_text("On target", timeout=8000)
    expect(page.get_by_test_id("banner-lost")).to_have_count(0)
    assert daemon.resumes[-1]["boot"] == "b0a7f00d"
    assert daemon.asked == []


def test_a_station_that_falls_silent_is_lost_after_two_and_a_half_seconds(
    page: Page, daemon: FakeDaemon
) -> None:
    daemon.show("pouring-near")
    expect(page.get_by_test_id("number-main")).to_have_text("7.2")
    page.wait_for_timeout(1200)  # beats alone keep it
    expect(page.get_by_test_id("number-main")).to_have_text("7.2")
    daemon.beating = False
    numbers_are_dashes(page, timeout=4000)
    daemon.beating = True
    expect(page.get_by_test_id("number-main")).to_have_text("7.2", timeout=8000)


def test_a_frame_that_is_not_as_agreed_is_not_shown(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("pouring-near")
    expect(page.get_by_test_id("number-main")).to_have_text("7.2")
    resumed = len(daemon.resumes)
    daemon.say('{"kind":"change","seq":900,"live":{"phase":"pouring","to_go_g":"NaN"}}')
    page.wait_for_timeout(800)
    expect(page.get_by_test_id("number-main")).to_have_text("7.2")
    assert len(daemon.resumes) == resumed  # it began again from a snapshot


def test_a_scale_that_is_lost_shows_no_number_anywhere(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("scale-lost")
    numbers_are_dashes(page)
    expect(page.get_by_test_id("held")).to_contain_text("the device was unplugged")
    expect(page.get_by_test_id("held")).to_contain_text("In the vessel so far: 146.4")
    expect(page.get_by_test_id("scale-state")).to_contain_text("Lost")
    page.get_by_role("link", name="Scales").click()
    expect(page.locator(".scale-reading")).to_have_text("–––")


def test_a_lifted_vessel_is_known_to_hold_what_settled_in_it(
    page: Page, daemon: FakeDaemon
) -> None:
    daemon.show("disturbed")
    expect(page.get_by_test_id("number-main")).to_have_text("–––")
    expect(page.locator(".in-vessel b")).to_have_text("146.4")
    expect(page.get_by_test_id("primary")).to_have_text("Set the vessel back")


def test_two_pages_see_the_same(page: Page, daemon: FakeDaemon) -> None:
    other = page.context.new_page()
    other.goto(daemon.url)
    daemon.show("on-target")
    for each in (page, other):
        expect(each.get_by_test_id("phase")).to_have_text("On target")
