"""The board: what each phase shows, and what a press sends."""

from __future__ import annotations

import re
import time
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.fake_daemon import FakeDaemon, picture

#: Frame, what the plate says, tone, what the number shows, and the big button's command.
PHASES = [
    ("awaiting-vessel", "No vessel yet", "quiet", "0.0", ""),
    ("vessel-on", "Vessel on?", "quiet", "251.3", "tare"),
    ("ready", "Ready to pour", "flow", "364.0", ""),
    ("pouring-far", "Pouring", "flow", "217.6", ""),
    ("pouring-near", "Slow down", "slow", "7.2", ""),
    ("settling", "Settling", "flow", "−0.2", ""),
    ("on-target", "On target", "good", "364.3", "accept"),
    ("short", "Short", "short", "8.8", ""),
    ("over-held", "Over", "over", "12.4", "take out"),
    ("too-close", "Too close to call", "close", "0.2", "top up"),
    ("scale-lost", "Scale lost", "stop", "–––", ""),
    ("scale-silent", "Scale silent", "stop", "–––", ""),
    ("scale-at-zero", "Scale at zero", "stop", "–––", "resume"),
    ("disturbed", "The vessel is off the scale", "stop", "–––", ""),
    ("taking-out", "Take some out", "over", "12.4", ""),
    ("held-now-on-target", "Now on target", "good", "364.3", "accept"),
    ("held-now-short", "Now short", "short", "8.8", "top up"),
]

#: Words that say of one verdict how it came about: they share its silhouette.
SAME = {"Take some out": "Over", "Now on target": "On target", "Now short": "Short"}


def commands(daemon: FakeDaemon) -> list[dict[str, Any]]:
    return [it["body"] for it in daemon.asked]


def wait_for_commands(page: Page, daemon: FakeDaemon, count: int) -> list[dict[str, Any]]:
    for _ in range(100):
        if len(daemon.asked) >= count:
            break
        page.wait_for_timeout(20)
    assert len(daemon.asked) == count, commands(daemon)
    return commands(daemon)


def test_every_phase_has_its_word_shape_number_and_button(page: Page, daemon: FakeDaemon) -> None:
    shapes: dict[str, str] = {}
    for name, word, tone, number, do in PHASES:
        daemon.show(name)
        expect(page.get_by_test_id("phase")).to_have_text(word)
        expect(page.locator(".stage")).to_have_attribute("data-tone", tone)
        expect(page.get_by_test_id("number-main")).to_have_text(number)
        button = page.get_by_test_id("primary")
        expect(button).to_have_attribute("data-do", do)
        expect(button).to_have_attribute("aria-disabled", "false" if do else "true")
        shape = page.locator(".plate svg path").first.get_attribute("d") or ""
        told = SAME.get(word, word)
        assert shapes.setdefault(shape, told) == told, f"{word} looks like {shapes[shape]}"


def test_every_weight_that_arrives_is_shown_as_it_is_with_nothing_in_between(
    page: Page, daemon: FakeDaemon
) -> None:
    """A number that glides is a number that lies; and one that waits is late."""
    daemon.show("pouring-far")
    expect(page.get_by_test_id("number-main")).to_have_text("217.6")
    page.evaluate(
        """() => {
          const node = document.querySelector('[data-testid=number-main]');
          const options = {subtree: true, childList: true, characterData: true};
          window.shown = [];
          window.painted = [];
          new MutationObserver(() => {
            window.shown.push(node.textContent);
            requestAnimationFrame(() => window.painted.push(node.textContent));
          }).observe(node, options);
        }"""
    )
    sent = [f"{214 - tenths}.0" for tenths in range(20)]
    for tenths, text in enumerate(sent):
        daemon.live(net_g=f"{150 + tenths}.0", to_go_g=text)
        page.wait_for_timeout(30)
    expect(page.get_by_test_id("number-main")).to_have_text(sent[-1])
    assert page.evaluate("window.shown") == sent
    page.wait_for_function("window.painted.length === 20")
    assert set(page.evaluate("window.painted")) <= set(sent)


def test_the_mark_is_as_wide_as_the_doubt_and_crosses_a_post_where_it_is_too_close(
    page: Page, daemon: FakeDaemon
) -> None:
    def band() -> tuple[float, float, float, float]:
        edges = [page.get_by_test_id("doubt").locator("line").nth(n).bounding_box() for n in (1, 2)]
        posts = [page.locator(".tape-post").nth(n).bounding_box() for n in (0, 1)]
        assert edges[0] and edges[1] and posts[0] and posts[1]
        return edges[0]["x"], edges[1]["x"], posts[0]["x"], posts[1]["x"]

    daemon.show("too-close-judged")
    expect(page.get_by_test_id("ingredient")).to_have_text("Locust bean gum")
    left, right, low, _ = band()
    assert left < low < right
    daemon.show("on-target")
    expect(page.get_by_test_id("ingredient")).to_have_text("Sucrose")
    left, right, low, high = band()
    assert low < left < right < high
    daemon.show("scale-lost")
    expect(page.get_by_test_id("doubt")).to_be_hidden()


def test_a_phone_says_what_comes_next(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("on-target")
    expect(page.get_by_test_id("then")).to_be_hidden()  # the list stands beside the board
    page.set_viewport_size({"width": 390, "height": 844})
    expect(page.get_by_test_id("then")).to_have_text("Then 96 g of Glucose syrup, dried")


def test_space_sends_the_big_buttons_command_once(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("on-target")
    button = page.get_by_test_id("primary")
    expect(button).to_have_text("Accept 364.3 g")
    button.focus()
    page.keyboard.down(" ")
    for _ in range(3):
        page.keyboard.down(" ")  # the key repeats while it is held
    page.keyboard.up(" ")
    page.wait_for_timeout(700)
    page.keyboard.down(" ")
    page.keyboard.up(" ")
    sent = wait_for_commands(page, daemon, 2)
    assert sent[0] == {"do": "accept", "addition": 2, "by": "Ada"}
    assert daemon.asked[0]["key"] != daemon.asked[1]["key"]


@pytest.mark.parametrize("how", ["click", "Enter", "tap twice"])
def test_a_press_however_made_acts_once(page: Page, daemon: FakeDaemon, how: str) -> None:
    daemon.show("vessel-on")
    button = page.get_by_test_id("primary")
    expect(button).to_have_attribute("data-do", "tare")
    if how == "click":
        button.click()
    elif how == "Enter":
        button.focus()
        page.keyboard.press("Enter")
    else:
        button.dblclick()
    page.wait_for_timeout(300)
    assert [it["do"] for it in wait_for_commands(page, daemon, 1)] == ["tare"]


def test_letters_follow_can_and_do_nothing_else(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("pouring-far")
    expect(page.get_by_test_id("phase")).to_have_text("Pouring")
    for key in "taou ":
        page.keyboard.press(key)
    daemon.show("too-close")
    expect(page.get_by_test_id("held")).to_be_visible()
    page.wait_for_timeout(500)
    page.keyboard.press("o")
    assert [it["do"] for it in wait_for_commands(page, daemon, 1)] == ["take out"]


def test_a_lost_answer_is_asked_for_again_with_the_same_key(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("on-target")
    daemon.lose_answers = 2
    page.get_by_test_id("primary").click()
    wait_for_commands(page, daemon, 3)
    assert len({it["key"] for it in daemon.asked}) == 1


def test_keeping_an_over_pour_needs_a_reason(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("over-held")
    page.locator("[data-do='accept with reason']").click()
    dialog = page.locator("dialog")
    expect(dialog).to_contain_text("12.4 g too much stays in")
    dialog.get_by_role("button", name="Keep it").click()
    expect(dialog).to_contain_text("Choose a reason or write one.")
    assert daemon.asked == []
    dialog.get_by_label("In your own words").fill("ta ou")  # letters are text here, not keys
    dialog.get_by_role("button", name="Keep it").click()
    sent = wait_for_commands(page, daemon, 1)
    assert sent == [{"do": "accept", "addition": 2, "by": "Ada", "reason": "ta ou"}]
    expect(dialog).to_have_count(0)


def test_a_reason_meant_for_one_addition_never_reaches_the_next(
    page: Page, daemon: FakeDaemon
) -> None:
    daemon.show("over-held")
    page.locator("[data-do='accept with reason']").click()
    expect(page.locator("dialog")).to_be_visible()
    daemon.show("too-close")  # somebody at another page moved on
    expect(page.locator("dialog")).to_have_count(0)


def test_a_reading_that_wavers_does_not_take_a_reason_away(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("over-held")
    page.locator("[data-do='accept with reason']").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("In your own words").fill("Cannot be undone")
    daemon.live(verdict=None, settled=False, can=["take out", "abandon", "name lot"])
    expect(dialog).to_contain_text("Wait: it is settling.")
    expect(dialog.get_by_role("button", name="Keep it")).to_be_disabled()
    daemon.show("held-now-on-target")
    expect(dialog).to_contain_text("needs no reason any more")
    daemon.show("over-held")
    expect(dialog.get_by_label("In your own words")).to_have_value("Cannot be undone")
    dialog.get_by_role("button", name="Keep it").click()
    assert wait_for_commands(page, daemon, 1)[0]["reason"] == "Cannot be undone"
    expect(dialog).to_have_count(0)


def test_abandoning_asks_first(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("ready")
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("button", name="Abandon batch").click()
    dialog = page.get_by_role("dialog", name="Abandon this batch?")
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)
    assert daemon.asked == []
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("button", name="Abandon batch").click()
    dialog.get_by_text("Spilled").click()
    dialog.get_by_role("button", name="Abandon batch").click()
    sent = wait_for_commands(page, daemon, 1)
    assert sent[0]["do"] == "abandon"
    assert sent[0]["reason"] == "Spilled"


def test_a_lot_is_named_with_l(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("ready")
    expect(page.get_by_test_id("phase")).to_have_text("Ready to pour")
    page.keyboard.press("l")
    page.get_by_label("As on the label of the pack").fill("S-118")
    page.keyboard.press("Enter")
    assert wait_for_commands(page, daemon, 1) == [
        {"do": "name lot", "addition": 2, "by": "Ada", "lot": "S-118"}
    ]


def test_a_refusal_is_said_in_words_and_tare_can_be_confirmed(
    page: Page, daemon: FakeDaemon
) -> None:
    daemon.show("awaiting-vessel")
    daemon.refusals["tare"] = (409, {"code": "no-vessel", "detail": "x", "remedy": "y"})
    expect(page.get_by_test_id("phase")).to_have_text("No vessel yet")
    page.keyboard.press("t")
    expect(page.get_by_role("alert")).to_have_text(re.compile("The scale shows nothing"))
    daemon.refusals.clear()
    page.locator("[data-do=confirm]").click()
    assert wait_for_commands(page, daemon, 2)[1]["confirm"] is True


def test_a_verdict_is_said_once_and_readings_are_not(page: Page, daemon: FakeDaemon) -> None:
    daemon.show("pouring-far")
    said = page.get_by_test_id("said")
    expect(said).to_have_text("Sucrose: Pouring")
    page.evaluate(
        """() => {
          window.said = 0;
          const options = {subtree: true, childList: true, characterData: true};
          new MutationObserver(() => { window.said += 1; }).observe(
            document.querySelector('[data-testid=said]'), options);
        }"""
    )
    for net in range(10):
        daemon.live(net_g=f"{200 + net}.0")
    assert page.evaluate("window.said") == 0
    daemon.show("on-target")
    expect(said).to_have_text("Sucrose: On target")
    daemon.show("over-held")
    expect(page.get_by_test_id("said-urgently")).to_have_text("Sucrose: Over")


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1024, 768), (1920, 1080)])
def test_number_and_button_are_in_sight_and_targets_are_large(
    page: Page, daemon: FakeDaemon, width: int, height: int
) -> None:
    page.set_viewport_size({"width": width, "height": height})
    for name in ("pouring-near", "on-target", "over-held", "taking-out", "scale-at-zero"):
        daemon.show(name)
        word = next(it[1] for it in PHASES if it[0] == name)
        expect(page.get_by_test_id("phase")).to_have_text(word)
        for part in ("number-main", "primary", "pour"):
            box = page.get_by_test_id(part).bounding_box()
            assert box is not None
            assert box["y"] >= 0, (name, part, box)
            assert box["y"] + box["height"] <= height, (name, part, box)
            assert box["x"] >= 0, (name, part, box)
            assert box["x"] + box["width"] <= width, (name, part, box)
        small = page.evaluate(
            """() => [...document.querySelectorAll('button, a, label.choice, summary')]
              .filter(it => it.offsetParent !== null)
              .map(it => [it.textContent, it.getBoundingClientRect()])
              .filter(([, box]) => box.height < 63.5).map(([text, box]) => [text, box.height])"""
        )
        assert small == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_long_name_and_a_large_number_fit(page: Page, daemon: FakeDaemon) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    state = picture("pouring-far")
    state["batch"]["additions"][1].update(name="Unsweetened almond drink, calcium enriched")
    state["live"].update(net_g="-12345.67", to_go_g="112345.67")
    daemon.show(state)
    number = page.get_by_test_id("number-main")
    expect(number).to_have_text(re.compile("^112"))
    box = number.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_dialog_filled_in_while_a_command_is_on_its_way_is_sent_after_it(
    page: Page, daemon: FakeDaemon
) -> None:
    daemon.on_command = lambda body: time.sleep(0.6 if body["do"] == "tare" else 0)
    daemon.show("vessel-on")
    expect(page.get_by_test_id("phase")).to_have_text("Vessel on?")
    page.keyboard.press("t")
    page.keyboard.press("l")
    page.get_by_label("As on the label of the pack").fill("S-118")
    page.keyboard.press("Enter")
    sent = wait_for_commands(page, daemon, 2)
    assert [it["do"] for it in sent] == ["tare", "name lot"]
    expect(page.locator("dialog")).to_have_count(0)
