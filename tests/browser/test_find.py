"""Search by typing, from any screen, by keyboard alone."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.browser.conftest import OpenPage, RunDaemon


def test_what_is_typed_is_found_and_opened(run_daemon: RunDaemon, open_page: OpenPage) -> None:
    page = open_page(run_daemon("demo", "--no-open").url)
    page.wait_for_selector(".formulas")
    page.keyboard.press("/")
    field = page.locator('[name="find"]')
    expect(field).to_be_focused()
    page.keyboard.type("hazel")
    expect(page.locator(".find-hit").first).to_contain_text("Hazelnut gelato")
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("formula-editor")).to_be_visible()
    page.locator("h1").first.click()  # out of the fields, where / is a character
    page.keyboard.press("/")
    expect(field).to_be_focused()
    page.keyboard.type("rec")
    hits = page.locator(".find-hit")
    expect(hits.first).to_contain_text("Rec")
    page.keyboard.press("ArrowDown")
    expect(hits.first).to_be_focused()
    page.keyboard.press("ArrowUp")
    expect(field).to_be_focused()
    field.fill("nothing is called so")
    expect(page.locator("main")).to_contain_text(
        "Nothing here has \u201cnothing is called so\u201d."
    )
    for width in (390, 1024, 1920):
        page.set_viewport_size({"width": width, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        if width != 1920:  # there is no room in the bar
            page.get_by_role("button", name="Menu").press("Enter")
        expect(page.get_by_role("link", name="Find").last).to_be_visible()
        page.keyboard.press("Escape")
