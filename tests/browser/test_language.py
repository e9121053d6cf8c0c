"""A board in German: its words, the decimal comma, masses in ounces while the record has grams."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon


@pytest.fixture
def german(open_page: OpenPage, daemon: FakeDaemon) -> Page:
    """A page of a browser that asks for German, and nothing chosen yet."""
    daemon.show("pouring-far")
    return open_page(daemon.url, locale="de-DE")


def test_a_browser_that_asks_for_german_gets_a_german_board(
    german: Page, daemon: FakeDaemon
) -> None:
    expect(german.locator("html")).to_have_attribute("lang", "de")
    expect(german.get_by_test_id("phase")).to_have_text("Zugeben")
    expect(german.get_by_test_id("number-main")).to_have_text("217,6")
    expect(german.get_by_test_id("caption")).to_have_text("noch")
    expect(german).to_have_title("Wägestation")
    daemon.show("on-target")
    expect(german.get_by_test_id("phase")).to_have_text("Im Soll")
    expect(german.get_by_test_id("primary")).to_have_text("364,3\u00a0g annehmen")


def test_ounces_are_shown_and_grams_are_sent(german: Page, daemon: FakeDaemon) -> None:
    """364.3 g / 28.349523125 g (NIST Handbook 44, appendix C) = 12.8503... oz."""
    german.goto(f"{daemon.url}/#/settings")
    german.get_by_label("Unzen (avoirdupois)").check()
    expect(german.get_by_label("Unzen (avoirdupois)")).to_be_checked()
    expect(german.get_by_test_id("units-note")).to_have_text(
        "Angezeigt in oz, protokolliert in Gramm."
    )
    german.goto(f"{daemon.url}/#/")
    daemon.show("on-target")
    expect(german.get_by_test_id("number-main")).to_have_text("12,850")
    expect(german.locator(".number-unit")).to_have_text("oz")
    button = german.get_by_test_id("primary")
    expect(button).to_have_text("12,850\u00a0oz annehmen")
    button.click()
    expect(button).to_be_visible()
    for _ in range(100):
        if daemon.asked:
            break
        german.wait_for_timeout(20)
    assert [it["body"]["do"] for it in daemon.asked] == ["accept"]
    assert "oz" not in str(daemon.asked)


def test_a_language_is_chosen_here_and_stays(german: Page, daemon: FakeDaemon) -> None:
    german.goto(f"{daemon.url}/#/settings")
    german.get_by_label("English").check()
    expect(german.get_by_role("heading", name="Settings")).to_be_visible()
    expect(german.locator("html")).to_have_attribute("lang", "en")
    german.reload()
    expect(german.get_by_role("heading", name="Settings")).to_be_visible()
