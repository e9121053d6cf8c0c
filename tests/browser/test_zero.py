"""The page at the real daemon while its simulated scale's zero moves with the load on."""

from __future__ import annotations

import re
import time

from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.fake_daemon import FakeDaemon, picture
from tests.browser.real_daemon import RealDaemon


def begin(station: RealDaemon) -> None:
    """A batch whose vessel is tared, and no cook in the way."""
    station.simulate("cook", working=False)
    station.begin("lemon-sorbet")
    station.tare(lambda: station.simulate("vessel", mass_g="251.3"))


def pour(station: RealDaemon, to: float) -> float:
    """Pour until so much is in, and let it come to rest; how much it is then."""
    station.simulate("pour", g_per_s="80")
    station.until(lambda it: float(it["live"]["net_g"] or 0) > to, f"poured to {to} g")
    station.simulate("stop")
    time.sleep(1.0)  # the last drops
    return float(station.phase("judged")["live"]["net_g"])


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name).click()


def in_the_vessel(page: Page) -> float:
    return float(page.locator(".in-vessel b").inner_text())


def test_the_scales_own_key_is_told_and_nothing_is_lost(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "4")
    begin(station)
    net = pour(station, 150)
    page = open_page(station.url, timezone_id="UTC")
    press(page, "Open the simulation controls")
    press(page, "Press its tare key")
    told = page.locator(".told")
    expect(told).to_contain_text("own tare key was pressed; counted on from")
    expect(page.get_by_test_id("phase")).to_have_text("Short")
    assert abs(in_the_vessel(page) - net) <= 0.2
    assert pour(station, net + 100) > net + 100


def test_its_key_in_mid_pour_asks_and_says_how_well_it_knows(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "4")
    begin(station)
    station.simulate("zero key")  # the vessel stands at zero from here on
    station.until(lambda it: it["live"]["gross_g"] == "0.0", "zeroed")
    page = open_page(station.url, timezone_id="UTC")
    station.simulate("pour", g_per_s="12")
    station.until(lambda it: float(it["live"]["net_g"] or 0) > 60, "poured to 60 g")
    station.simulate("zero key")
    held = page.get_by_test_id("held")
    expect(held).to_contain_text(re.compile(r"in mid-pour.*About [\d.]+.g were in, give or take"))
    expect(held).to_contain_text("zero the empty scale")
    station.simulate("stop")
    station.until(lambda it: it["live"]["settled"], "at rest")
    time.sleep(1.0)  # the last drops
    page.get_by_test_id("primary").filter(has_text="Go on from about that much").click()
    expect(page.get_by_test_id("phase")).to_have_text("Short")
    assert in_the_vessel(page) > 55


def test_a_scale_that_was_off_asks_and_goes_on_from_what_was_in(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "4")
    begin(station)
    page = open_page(station.url, timezone_id="UTC")
    press(page, "Open the simulation controls")
    held, primary = page.get_by_test_id("held"), page.get_by_test_id("primary")
    # Seen by the detector itself, and told as silent before it was back.
    for seconds, to in ((0.8, 150), (3.0, 300)):
        net = pour(station, to)
        press(page, "Switch it off")
        page.wait_for_timeout(seconds * 1000)
        press(page, "Switch it on")
        expect(page.get_by_test_id("phase")).to_have_text("Scale at zero")
        expect(held).to_contain_text(re.compile(r"gone to zero\. [\d.]+.g were in"))
        expect(page.get_by_test_id("number-main")).to_have_text("–––")
        expect(primary).to_have_text("Nothing was added: go on")
        primary.click()
        expect(page.get_by_test_id("phase")).to_have_text("Short")
        assert abs(in_the_vessel(page) - net) <= 0.3
        expect(page.locator(".told")).to_contain_text("The scale was back at zero; counted on from")
    batch = station.state()["batch"]["id"]
    station.do("abandon", reason="seen enough")
    page.goto(f"{station.url}#/records/{batch}")
    events = page.locator(".events li")
    expect(events.filter(has_text="Zero moved: the scale was back at zero")).to_have_count(2)


def test_what_was_not_recorded_is_not_claimed(page: Page, daemon: FakeDaemon) -> None:
    state = picture("scale-at-zero")
    state["live"]["held"]["sum_g"] = state["live"]["sum_g"] = None
    state["live"]["can"] = ["resume", "weigh again", "abandon", "name lot"]
    daemon.show(state)
    held = page.get_by_test_id("held")
    expect(held).to_contain_text("what was in was not recorded")
    expect(page.get_by_test_id("primary")).to_have_text("Nothing was in: go on")
    with page.expect_response("**/commands"):
        press(page, "Weigh the vessel again")
    assert daemon.asked[-1]["body"]["do"] == "weigh again"


def test_with_the_vessel_off_it_says_so_and_asks_nobody_to_press(
    page: Page, daemon: FakeDaemon
) -> None:
    state = picture("scale-at-zero")
    state["live"] |= {"gross_g": "-600.0", "off": True, "can": ["abandon", "name lot"]}
    daemon.show(state)
    held = page.get_by_test_id("held")
    expect(held).to_contain_text("so the vessel is off. Set it back.")
    expect(held).not_to_contain_text("press the button")
    expect(page.get_by_test_id("primary")).to_be_disabled()
    expect(page.get_by_test_id("primary")).to_have_text("Set the vessel back")


def test_awaited_at_zero_it_may_stand_there_all_the_same(page: Page, daemon: FakeDaemon) -> None:
    state = picture("awaiting-vessel")
    state["live"] |= {"tare_g": "312.4", "sum_g": "287.6", "gross_g": "0.0", "perhaps_on": True}
    daemon.show(state)
    expect(page.locator(".told")).to_contain_text("Is it on the scale all the same?")
    state["live"]["perhaps_on"] = False
    daemon.show(state)
    expect(page.locator(".told")).to_have_count(0)


def test_a_slow_loss_is_told_calmly(page: Page, daemon: FakeDaemon) -> None:
    state = picture("on-target")
    state["live"]["drift_g_min"] = "-0.42"
    daemon.show(state)
    expect(page.locator(".told")).to_have_text(re.compile(r"Losing 0\.42.g a minute\."))
    expect(page.get_by_test_id("phase")).to_have_text("On target")


def test_what_was_learned_is_shown_and_forgotten_at_the_second_press(
    page: Page, daemon: FakeDaemon
) -> None:
    daemon.show(picture("no-batch"))
    page.evaluate("location.hash = '#/scales'")
    learned = page.get_by_test_id("learned-bench")
    expect(learned).to_contain_text("0.42")
    expect(learned).to_contain_text("to be trusted")
    learned.get_by_role("button").click()
    expect(learned.get_by_role("button")).to_have_text("Forget it: this is another scale")
    assert daemon.forgotten == []
    with page.expect_response("**/forget") as answered:
        learned.get_by_role("button").click()
    assert answered.value.ok
    expect(learned.get_by_role("button")).to_have_text("Forget what was learned")
    assert daemon.forgotten == ["bench"]
