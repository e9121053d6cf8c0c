"""What suits one device: a pedal as the big button, the hand that pours; and the list of keys."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon
from tests.browser.test_axe import violations
from tests.browser.test_lots import scan

#: Longer than what comes to the screen is left alone for, ms.
SETTLED = 650


def left_of(page: Page, one: str, other: str) -> bool:
    """Whether all of ``one`` lies left of ``other``."""
    a, b = page.locator(one).first.bounding_box(), page.locator(other).first.bounding_box()
    assert a is not None
    assert b is not None
    return a["x"] + a["width"] <= b["x"] + 1


def sent(daemon: FakeDaemon) -> list[str]:
    return [it["body"]["do"] for it in daemon.asked]


def test_a_pedal_is_learned_tested_and_is_the_big_button_and_nothing_else(
    page: Page, daemon: FakeDaemon
) -> None:
    page.goto(f"{daemon.url}/#/settings")
    pedal = page.get_by_test_id("pedal")
    pedal.get_by_role("button", name="Learn the pedal").click()
    expect(page.get_by_test_id("pedal-panel")).to_be_focused()
    alert = pedal.get_by_role("alert")
    for key, why in (
        ("ArrowDown", "arrow keys"),
        ("Escape", "Esc closes"),
        ("Shift", "with others"),
    ):
        page.keyboard.press(key)
        expect(alert).to_contain_text(why)
    page.mouse.click(5, 400)
    expect(alert).to_contain_text("click of the mouse")
    page.get_by_test_id("pedal-panel").focus()
    page.evaluate(
        "() => { for (const key of 'ab') document.activeElement.dispatchEvent("
        "new KeyboardEvent('keydown', {key, code: `Key${key.toUpperCase()}`, bubbles: true})) }"
    )
    expect(alert).to_contain_text("several keys")
    page.keyboard.press("Tab")  # said to be none, and leads away all the same
    expect(pedal.get_by_role("button", name="Cancel")).to_be_focused()
    assert violations(page) == []
    page.get_by_test_id("pedal-panel").focus()
    page.keyboard.press("PageDown")
    expect(page.get_by_test_id("pedal-key")).to_have_text("Page Down")
    page.keyboard.press("PageDown")
    expect(page.get_by_test_id("pedal-heard")).to_contain_text("Heard once.")
    assert violations(page) == []

    page.reload()  # it is kept
    expect(page.get_by_test_id("pedal-key")).to_have_text("Page Down")
    daemon.show("on-target")
    page.goto(f"{daemon.url}/#/")
    expect(page.get_by_test_id("primary")).to_have_text("Accept 364.3\u00a0g")
    page.keyboard.press("PageDown")  # what it does has only just come
    page.get_by_test_id("lot-button").click()
    page.wait_for_timeout(SETTLED)
    page.keyboard.press("PageDown")  # somebody writes there
    page.get_by_role("button", name="Close").click()
    page.wait_for_timeout(SETTLED)
    assert sent(daemon) == []
    page.get_by_test_id("lot-button").focus()  # whatever has the focus
    page.keyboard.down("PageDown")
    page.keyboard.down("PageDown")  # held down
    page.keyboard.up("PageDown")
    page.wait_for_timeout(100)
    assert sent(daemon) == ["accept"]
    page.keyboard.press("?")
    expect(page.locator("[data-wish=primary]")).to_contain_text("Page Down the pedal")
    page.keyboard.press("Escape")

    page.goto(f"{daemon.url}/#/settings")
    pedal.get_by_role("button", name="Forget the pedal").click()
    expect(pedal).to_contain_text("No key is the pedal.")


def test_a_pedal_that_sends_a_letter_is_told_from_a_scanner(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    daemon.show("on-target")
    page = open_page(f"{daemon.url}/#/settings")
    pedal = page.get_by_test_id("pedal")
    pedal.get_by_role("button", name="Learn the pedal").click()
    page.keyboard.press("t")
    expect(pedal).to_contain_text("This key no longer does: tare")
    page.goto(f"{daemon.url}/#/")
    expect(page.get_by_test_id("primary")).to_have_text("Accept 364.3\u00a0g")
    page.wait_for_timeout(SETTLED)
    with page.expect_request("**/api/scan") as asked:
        scan(page, "t12t")
    assert asked.value.post_data_json == {"text": "t12t"}
    page.wait_for_timeout(150)
    assert sent(daemon) == []
    page.keyboard.press("t")
    page.wait_for_timeout(150)
    assert sent(daemon) == ["accept"]


def test_the_list_of_keys_says_what_they_do_now(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("on-target")
    expect(page.get_by_test_id("primary")).to_have_text("Accept 364.3\u00a0g")
    page.keyboard.press("?")
    now, not_now = page.get_by_test_id("keys-now"), page.get_by_test_id("keys-not")
    expect(now.locator("[data-wish=primary]")).to_contain_text("now: Accept 364.3\u00a0g")
    expect(now.locator("[data-wish=accept]")).to_be_visible()
    expect(not_now.locator("[data-wish=tare]")).to_be_visible()
    assert violations(page) == []
    daemon.show("vessel-on")
    expect(now.locator("[data-wish=tare]")).to_be_visible()
    expect(now.locator("[data-wish=accept]")).to_have_count(0)
    page.keyboard.press("Escape")
    page.goto(f"{daemon.url}/#/records")
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("button", name="Keys").click()
    expect(not_now.locator("[data-wish=primary]")).to_be_visible()


@pytest.mark.parametrize(("width", "height"), [(1024, 768), (1920, 1080), (390, 844)])
def test_for_the_left_hand_what_lies_beside_changes_sides_and_no_text_does(
    page: Page, daemon: FakeDaemon, width: int, height: int
) -> None:
    page.set_viewport_size({"width": width, "height": height})
    page.goto(f"{daemon.url}/#/settings")
    sides = {}
    for hand in ("right", "left"):
        page.locator(f"input[name=hand][value={hand}]").check()
        page.goto(f"{daemon.url}/#/")
        daemon.show("over-held")
        expect(page.locator(".stage[data-phase=held]")).to_be_visible()
        pairs = {"bar": (".bar-name", ".bar-menu")}
        if width >= 800:
            pairs["list"] = (".stage", ".additions")
        if width >= 1400:
            pairs["drawer"] = (".screen", ".simulation")
        sides[hand] = {name: left_of(page, *pair) for name, pair in pairs.items()}
        daemon.show("pouring-near")
        expect(page.locator(".stage[data-phase=pouring]")).to_be_visible()
        sides[hand]["lot"] = left_of(page, ".in-vessel", ".lot")
        for part in (".stage h1", ".additions li", ".number-line", ".foot"):
            expect(page.locator(part).first).to_have_css("direction", "ltr")
        assert left_of(page, ".number-main", ".number-side")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.evaluate("document.querySelector('.bar-menu').click()")
        sides[hand]["close"] = left_of(page, ".sheet h2", ".sheet header button")
        if hand == "left" and width == 1024:
            assert violations(page) == []
        page.keyboard.press("Escape")
        page.goto(f"{daemon.url}/#/settings")
    assert set(sides["right"].values()) == {True}, sides
    assert set(sides["left"].values()) == {False}, sides
