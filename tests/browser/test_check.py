"""Checks with weights on the page: every state of the guide, the history, and a whole one."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.fake_daemon import FakeDaemon, picture
from tests.browser.test_batch import tab_to
from tests.domain.check_world import weight
from tests.station.scripted import Hand
from weighd.domain.check import Plan
from weighd.domain.check_routine import Routine
from weighd.domain.check_standing import Duty, Then
from weighd.station.check_history import history
from weighd.station.check_picture import draw_check
from weighd.station.picture import draw_scale
from weighd.storage.memory import MemoryJournal

TWO = weight(2000, name="K-2")
PLAN = Plan(masses=(TWO,), corners=TWO, limit_g=Decimal("0.5"))
#: A step of a check takes this long at the most, on a busy machine.
WAIT_MS = 20_000
SIZES = {"phone": (390, 844), "tablet": (1024, 768), "full hd": (1920, 1080)}


@pytest.fixture
def hand() -> Hand:
    """A real station, so that the pretend one shows what a real one would."""
    it = Hand(check=Routine(PLAN, Duty(Then.BARS)))
    it.show("0.0")
    return it


def show(daemon: FakeDaemon, hand: Hand) -> None:
    """What the real station shows of its scale, at the pretend one."""
    scale = hand.station.scales["bench"]
    daemon.change(
        scales={"bench": {**draw_scale(scale), "check": draw_check(hand.station, "bench")}}
    )


def began(hand: Hand) -> None:
    hand.do("start check", scale="bench", by="Ada")
    hand.show("0.0")


def whole(hand: Hand, *shows: str) -> None:
    """A whole check: the weight once, then over the middle and the four corners."""
    began(hand)
    for one in shows:
        hand.lift(one)
        hand.lift("0.0")


def fits(page: Page) -> None:
    """Nothing runs out of the window sideways."""
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0, wide


@pytest.mark.parametrize("size", SIZES)
def test_each_state_of_the_guide_is_told_in_words_shape_and_place(
    daemon: FakeDaemon, open_page: OpenPage, hand: Hand, size: str
) -> None:
    width, height = SIZES[size]
    page = open_page(
        f"{daemon.url}/#/scales/bench/check", viewport={"width": width, "height": height}
    )
    plate, told = page.get_by_test_id("check-plate"), page.get_by_test_id("instruction")
    number, button = page.get_by_test_id("check-number"), page.get_by_test_id("check-right")
    began(hand)
    show(daemon, hand)
    expect(told).to_have_text("Put K-2 on")
    expect(plate).to_have_text("Put it on")
    expect(button).to_have_attribute("aria-disabled", "true")
    expect(page.get_by_test_id("pan")).to_have_count(0)
    hand.lift("500.0")
    show(daemon, hand)
    expect(plate).to_have_text("Is it the right one?")
    expect(page.get_by_test_id("check-more")).to_contain_text("It shows 500.0\u00a0g.")
    expect(number).to_have_text("500.0")
    expect(button).to_have_attribute("aria-disabled", "false")
    page.keyboard.press(" ")
    expect(button).to_have_attribute("aria-disabled", "false")  # the pretend station does nothing
    assert [it["body"] for it in daemon.asked] == [{"do": "it is right"}]
    assert daemon.asked[0]["path"] == "/api/scales/bench/check"
    hand.lift("2000.1")
    show(daemon, hand)
    expect(plate).to_have_text("Pass")
    expect(told).to_have_text("Take it off")
    expect(page.locator(".check-stage")).to_have_attribute("data-tone", "good")
    fits(page)
    hand.lift("0.0")
    for place in ("centre", "front left", "back left"):
        show(daemon, hand)
        expect(page.get_by_test_id("pan")).to_have_attribute("data-place", place)
        fits(page)
        hand.lift("2000.9" if place == "back left" else "2000.0")
        if place != "back left":
            hand.lift("0.0")
    show(daemon, hand)
    expect(plate).to_have_text("Fail")
    expect(page.locator(".check-stage")).to_have_attribute("data-tone", "over")
    expect(page.locator(".plate .shape-fail")).to_be_visible()
    expect(page.locator(".check-done li")).to_have_count(4)
    for it in (plate, told, number, button):
        box = it.bounding_box()
        assert box is not None
        assert box["y"] >= 0 and box["y"] + box["height"] <= height


def test_a_check_is_begun_by_somebody_and_stopped(
    page: Page, daemon: FakeDaemon, hand: Hand
) -> None:
    show(daemon, hand)
    page.get_by_role("link", name="Scales").click()
    card = page.get_by_test_id("check-of-bench")
    expect(card).to_contain_text("Not checked yet")
    expect(card).to_contain_text("Due: now")
    card.get_by_role("link", name="Check the scale").click()
    expect(page.get_by_text("It has 7 steps and takes K-2")).to_be_visible()
    page.get_by_role("button", name="Start the check").click()
    expect(page.get_by_role("alert")).to_contain_text("Say who is checking")
    page.get_by_label("Who is checking").fill("Ada")
    page.keyboard.press("Enter")
    page.wait_for_timeout(200)
    assert daemon.asked[0]["body"] == {"do": "start", "by": "Ada"}
    assert daemon.asked[0]["key"]
    began(hand)
    show(daemon, hand)
    page.get_by_role("button", name="Stop the check").click()
    page.wait_for_timeout(200)
    assert daemon.asked[1]["body"] == {"do": "stop"}


def test_a_refusal_is_told(page: Page, daemon: FakeDaemon, hand: Hand) -> None:
    show(daemon, hand)
    detail = "The scale bench is in use: the milk is being weighed."
    daemon.refusals["start"] = (409, {"code": "scale-in-use", "detail": detail, "remedy": "x"})
    page.goto(f"{daemon.url}/#/scales/bench/check")
    page.get_by_label("Who is checking").fill("Ada")
    page.get_by_role("button", name="Start the check").click()
    expect(page.get_by_role("alert")).to_contain_text("for a check, take the vessel off")


def test_a_scale_without_a_check_says_so(page: Page, daemon: FakeDaemon) -> None:
    page.get_by_role("link", name="Scales").click()
    expect(page.get_by_test_id("scale-bench")).to_be_visible()
    expect(page.get_by_text("Check with weights")).to_have_count(0)
    page.goto(f"{daemon.url}/#/scales/bench/check")
    expect(page.get_by_text("No check is set up for this scale.")).to_be_visible()


def test_the_history_is_drawn_and_told_and_names_what_is_in_doubt(
    page: Page, daemon: FakeDaemon, hand: Hand
) -> None:
    whole(hand, *["2000.0"] * 6)
    hand.start()
    hand.lift("300.0")
    hand.do("tare")
    hand.pour("800.0")
    hand.do("accept")
    hand.do("abandon", reason="a test")
    hand.lift("0.0")
    whole(hand, "2000.5", *["2000.2"] * 5)
    whole(hand, "2003.0", *["2000.9"] * 5)
    journal = MemoryJournal("test")
    journal.append(hand.journal)
    daemon.checks = history(journal, "bench")
    show(daemon, hand)
    page.goto(f"{daemon.url}/#/scales/bench/check")
    result = page.get_by_test_id("result")
    expect(result).to_contain_text("Fail")
    expect(result).to_contain_text("+3.0\u00a0g")
    expect(result.get_by_role("link")).to_have_text("In doubt: batch test-0001, addition 1")
    plot = page.get_by_test_id("plot")
    expect(plot.locator("figure")).to_have_count(3)
    two = plot.locator("figure").nth(1)
    outcomes = two.locator(".plot-dot").evaluate_all("all => all.map(it => it.dataset.outcome)")
    assert outcomes == ["pass", "too close to call", "fail"]
    expect(two.locator("circle")).to_have_count(1)
    expect(two.locator(".plot-diamond")).to_have_count(1)
    expect(two.locator(".plot-cross")).to_have_count(1)
    fits(page)
    first = page.get_by_test_id(f"check-{daemon.checks[-1]['seq']}")
    first.locator("summary").click()
    expect(first).to_contain_text("K-2 (2000\u00a0g), back left")
    expect(first).to_contain_text("Corners: up to 0.0\u00a0g from the middle")


def test_the_board_says_why_nothing_is_accepted_and_leads_to_the_check(
    page: Page, daemon: FakeDaemon, hand: Hand
) -> None:
    daemon.show("on-target")
    expect(page.get_by_test_id("board-check")).to_have_count(0)
    show(daemon, hand)
    told = page.get_by_test_id("board-check")
    expect(told).to_contain_text("Nothing is accepted on bench until it has passed its check.")
    daemon.live(can=["abandon", "name lot"])  # as the real station says then
    expect(page.get_by_test_id("primary")).to_have_text("Take the vessel off, check the scale")
    expect(page.get_by_test_id("primary")).to_have_attribute("aria-disabled", "true")
    daemon.live(can=["accept", "abandon", "name lot"])  # a page that has not heard of it yet
    problem = {
        "code": "scale-not-checked",
        "detail": "The scale bench has not been checked yet, and nothing is accepted on it.",
        "remedy": "Take the vessel off, check the scale with its weights.",
    }
    daemon.refusals["accept"] = (409, problem)
    expect(page.get_by_test_id("primary")).to_have_attribute("aria-disabled", "false")
    page.keyboard.press("a")
    expect(page.get_by_role("alert")).to_contain_text("Check it under Scales")
    began(hand)
    show(daemon, hand)
    daemon.live(checking=True)
    expect(told).to_contain_text("The scale is being checked.")
    told.get_by_role("link").click()
    expect(page.get_by_test_id("instruction")).to_have_text("Put K-2 on")


def test_before_a_batch_it_is_said_that_the_scale_was_not_checked(
    page: Page, daemon: FakeDaemon, hand: Hand
) -> None:
    page.get_by_role("link", name="Lemon sorbet").click()
    expect(page.get_by_role("button", name="Start")).to_be_visible()
    expect(page.get_by_test_id("check-hint")).to_have_count(0)
    show(daemon, hand)
    hint = page.get_by_test_id("check-hint")
    expect(hint).to_contain_text("bench: not checked yet. Nothing is accepted on it")
    hint.get_by_role("link", name="Check the scale").click()
    expect(page.get_by_role("button", name="Start the check")).to_be_visible()


def test_a_record_tells_what_was_weighed_on_a_scale_that_was_not_well(
    page: Page, daemon: FakeDaemon
) -> None:
    flag = {"addition": 1, "scale": "bench", "standing": "overdue", "failed": None}
    failed = {"seq": 9, "at": "2026-11-26T08:00:00Z"}
    daemon.flags = [flag, {**flag, "addition": 2, "standing": "good", "failed": failed}]
    page.goto(f"{daemon.url}/#/records/kitchen-0007")
    expect(page.get_by_test_id("record")).to_be_visible()
    expect(page.get_by_test_id("flags")).to_have_count(0)  # it was made without checks
    for entry in daemon.record["entries"]:
        if entry["kind"] == "addition accepted":
            entry["body"]["check"] = {"standing": "overdue", "last": None}
    page.reload()
    flags = page.get_by_test_id("flags")
    expect(flags).to_contain_text("Addition 1: weighed on bench, whose check was overdue.")
    expect(flags).to_contain_text("Addition 2: in doubt, bench failed its next check")


def test_pretend_weights_are_offered_where_a_check_is_set_up(
    page: Page, daemon: FakeDaemon, hand: Hand
) -> None:
    assert picture("no-batch")["scales"]["bench"]["check"] is None
    expect(page.get_by_test_id("pretend-weights")).to_have_count(0)
    show(daemon, hand)
    page.get_by_role("button", name="Open the simulation controls").click()
    weights = page.get_by_test_id("pretend-weights")
    weights.get_by_role("button", name="Put K-2 (2000\u00a0g) on").click()
    weights.get_by_role("button", name="Take the weight off").click()
    page.wait_for_timeout(200)
    assert daemon.simulated == [{"do": "weight", "g": "2000"}, {"do": "weight off"}]


def press(page: Page, name: str) -> None:
    tab_to(page, page.get_by_role("button", name=name, exact=True))
    page.keyboard.press("Enter")


def test_a_whole_check_at_the_demonstration_by_keyboard(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    """From the list of scales to the result in the record, with pretend weights."""
    real = run_daemon("demo", "--no-open", "--speed", "3")
    page = open_page(real.url, viewport={"width": 1920, "height": 1080})
    tab_to(page, page.get_by_role("link", name="Scales"))
    page.keyboard.press("Enter")
    sends = page.locator("summary", has_text="What it sends")
    tab_to(page, sends)
    page.keyboard.press("Enter")
    newest = page.get_by_test_id("wire-bench").locator("li").last
    expect(newest.locator("[data-is=unit]")).to_have_text("gunit")  # with its name below it
    expect(newest).to_contain_text("read as 0")
    expect(newest).to_contain_text("g, steady")
    tab_to(page, sends, back=True)
    page.keyboard.press("Enter")
    expect(newest).to_be_hidden()
    tab_to(page, page.get_by_role("link", name="Check the scale"))
    page.keyboard.press("Enter")
    tab_to(page, page.get_by_label("Who is checking"))
    page.keyboard.type("Ada")
    page.keyboard.press("Enter")
    told, plate = page.get_by_test_id("instruction"), page.get_by_test_id("check-plate")
    expect(told).to_have_text("Put K-500 on", timeout=WAIT_MS)
    press(page, "Put K-2000 on")
    expect(plate).to_have_text("Is it the right one?", timeout=WAIT_MS)
    press(page, "Put K-500 on")
    expect(plate).to_have_text("Pass", timeout=WAIT_MS)
    press(page, "Take the weight off")
    expect(told).to_have_text("Put K-2000 on", timeout=WAIT_MS)
    press(page, "Put K-2000 on")
    expect(plate).to_have_text("Pass", timeout=WAIT_MS)
    press(page, "Take the weight off")
    for nth in (1, 2, 3):
        more = page.get_by_test_id("check-more")
        expect(more).to_contain_text(f"Time {nth} of 3", timeout=WAIT_MS)
        press(page, "Put K-500 on")
        expect(plate).to_have_text("Pass", timeout=WAIT_MS)
        press(page, "Take the weight off")
    expect(page.get_by_test_id("result")).to_contain_text("Pass", timeout=WAIT_MS)
    expect(page.get_by_test_id("standing")).to_contain_text("Checked, passed")
    expect(page.get_by_test_id("plot").locator("figure")).to_have_count(4)
    made: dict[str, Any] = real.get("api/scales/bench/checks")["checks"][0]
    assert (made["outcome"], made["by"], len(made["steps"])) == ("pass", "Ada", 6)
    assert real.get(f"api/checks/{made['seq']}")["kind"] == "scale checked"
