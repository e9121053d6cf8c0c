"""Whole batches at the real daemon: by keyboard, watched, and put right after an over-pour."""

from __future__ import annotations

import re
import time
from contextlib import suppress
from datetime import datetime
from decimal import Decimal
from typing import Any

from playwright.sync_api import Locator, Page, expect
from playwright.sync_api import TimeoutError as NeverCame

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.real_daemon import RealDaemon

#: Presses of Tab that lead from anywhere on the page to anywhere else.
MOST_TABS = 60


def tab_to(page: Page, it: Locator, back: bool = False) -> None:
    """Press Tab until ``it`` has the focus."""
    expect(it).to_be_visible()
    for _ in range(MOST_TABS):
        if it.evaluate("it => it === document.activeElement"):
            return
        page.keyboard.press("Shift+Tab" if back else "Tab")
    raise AssertionError(f"Tab never reached {it}")


def to_go(page: Page) -> float:
    """What the large number says is still to go; past the limit that is below zero."""
    number, caption = page.evaluate(
        """() => ['number-main', 'caption'].map(
          id => document.querySelector(`[data-testid=${id}]`).textContent)"""
    )
    grams = float(number.replace("−", "-").replace("\u202f", ""))
    return -abs(grams) if caption == "too much" else grams


def hold_until(page: Page, left: float) -> None:
    """Hold Space on the pour button until no more than ``left`` grams are to go."""
    page.keyboard.down(" ")
    deadline = time.monotonic() + 10
    while to_go(page) > left:
        assert time.monotonic() < deadline, "it did not pour"
        page.wait_for_timeout(5)
    page.keyboard.up(" ")


def choose_speed(page: Page, key: str, name: str) -> None:
    """From the pour button to the speeds, choose, and back."""
    radio = page.get_by_label(name, exact=True)
    if radio.is_checked():
        return
    for _ in range(6):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name") == "speed":
            break
    page.keyboard.press(key)
    expect(radio).to_be_checked()
    tab_to(page, page.get_by_test_id("pour"), back=True)


def settled(page: Page) -> str:
    """What the plate says once the scale has come to rest on an amount."""
    plate = page.get_by_test_id("phase")
    expect(plate).to_have_text(re.compile("On target|Short|Over|Too close"), timeout=10000)
    return plate.inner_text()


def keep_with_a_reason(page: Page) -> None:
    """From wherever the focus is: the choice, the words, and off they go."""
    tab_to(page, page.locator("[data-do='accept with reason']"))
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_be_visible()
    tab_to(page, page.get_by_label("In your own words"))
    page.keyboard.type("A heavy hand")
    page.wait_for_timeout(60)  # no scanner waits so long
    expect(page.get_by_role("button", name="Keep it", exact=True)).to_be_enabled()
    page.keyboard.press("Enter")
    expect(page.locator("dialog")).to_have_count(0)


def weigh_by_keyboard(page: Page) -> None:
    """Pour one addition with the keyboard and accept it, with a reason where it needs one."""
    nth = page.locator(".plate-nth")
    before = nth.inner_text()
    pour = page.get_by_test_id("pour")
    expect(page.get_by_test_id("phase")).to_have_text("Ready to pour")
    tab_to(page, pour)
    if to_go(page) > 60:
        # Four times as fast as life, a busy machine sees the number late.
        choose_speed(page, "ArrowRight", "Steady")
        hold_until(page, 40)
    choose_speed(page, "ArrowLeft", "Drops")
    while True:
        if to_go(page) > 0:
            hold_until(page, min(1.0, to_go(page) / 2))
        if settled(page) != "Short":
            break
    accept_by_keyboard(page, before)


def accept_by_keyboard(page: Page, before: str) -> None:
    """Accept the addition that is called so, however its last drops fall."""
    nth = page.locator(".plate-nth")
    # The last one leads to another screen.
    gone = nth.filter(has_text=re.compile(f"^{before}$"))
    for tries_left in (3, 2, 1, 0):
        accept_as_it_stands(page)
        try:
            expect(gone).to_have_count(0, timeout=3000)
        except AssertionError:  # a last drop fell just as the key was pressed: refused, once more
            if not tries_left:
                raise
        else:
            return


def accept_as_it_stands(page: Page) -> None:
    """Press the key, or give the reason that is asked for."""
    page.wait_for_timeout(400)  # a drop may change the verdict yet
    on_target = settled(page) == "On target"
    if not on_target:
        try:
            page.locator("[data-do='accept with reason']").wait_for(timeout=1000)
        except NeverCame:
            on_target = True  # at the very edge of the limit the last digit decides anew
    if on_target:
        page.keyboard.press("a")
        return
    # Where the last digit moved on while the keyboard was on its way there, it is tried once more.
    with suppress(NeverCame):
        keep_with_a_reason(page)


def two_digits(u: str) -> str:
    """As the page writes an uncertainty: two significant digits (JCGM 100:2008, 7.2.6)."""
    value = Decimal(u)
    return f"{value:.{max(0, 1 - value.adjusted())}f}"


MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sept", "Oct", "Nov", "Dec"]


def shown(grams: str) -> str:
    """A mass as the page writes it."""
    sign, plain = ("−", grams[1:]) if grams.startswith("-") else ("", grams)
    whole, dot, rest = plain.partition(".")
    if len(whole) > 4:
        whole = re.sub(r"\B(?=(\d{3})+$)", "\u202f", whole)
    return sign + whole + dot + rest


def clock(moment: str) -> str:
    """A moment of the record as the page writes it, in British English and UTC."""
    at = datetime.fromisoformat(moment)
    return f"{at.day} {MONTHS[at.month - 1]} {at:%Y %H:%M:%S}"


def page_says_what_the_record_says(page: Page, record: Any) -> None:
    """Every value of every accepted addition, and of the batch itself."""
    bodies = [it["body"] for it in record["entries"] if it["kind"] == "addition accepted"]
    opened = record["entries"][0]
    sheet = page.get_by_test_id("record")
    head = sheet.locator("> .facts")
    for said in (
        record["batch"],
        f"{shown(opened['body']['batch_g'])} g",
        opened["body"]["operator"],
        clock(opened["at"]),
        opened["body"]["formula"]["revision"],
        record["entries"][-1]["hash"],
    ):
        expect(head).to_contain_text(said)
    expect(head.locator("div", has_text="Entries").locator("dd")).to_have_text(
        str(len(record["entries"]))
    )
    cards = sheet.locator(".record-addition:not(.not-weighed)")
    expect(cards).to_have_count(len(bodies))
    for n, body in enumerate(bodies):
        card = cards.nth(n)
        expect(card.locator("h3")).to_have_text(f"{body['addition']}. {body['name']}")
        expect(card.locator(".verdict")).to_have_text(body["verdict"].capitalize())
        plus = "+" if Decimal(body["deviation_g"]) > 0 else ""
        expect(card.locator(".masses dd")).to_have_text(
            [
                f"{shown(body['target_g'])} g",
                f"{shown(body['net_g'])} g",
                f"{plus}{shown(body['deviation_g'])} g",
            ]
        )
        parts = [
            f"{'spread of the readings' if name == 'spread' else name} {two_digits(u)} g"
            for name, u in body["budget"].items()
            if Decimal(u)
        ]
        facts = {
            "Limits": f"{shown(body['low_g'])} to {shown(body['high_g'])} g",
            "Scale": f"{body['scale']}, interval {body['interval_g']} g",
            "Operator": body["operator"],
            "Tare": f"{shown(body['tare_g'])} g",
            "Gross": f"{shown(body['gross_g'])} g",
            "Decision rule": f"{body['rule']['name']}, k = {body['rule']['k']}: guard band "
            f"{two_digits(body['guard_g'])} g",
            "Uncertainty": f"{two_digits(body['u_g'])} g (standard): " + ", ".join(parts),
            "Started": clock(body["started"]),
            "Accepted": clock(body["accepted"]),
        }
        if body["reason"]:
            facts["Reason"] = body["reason"]
        on_page = dict(
            zip(
                card.locator(".facts dt").all_inner_texts(),
                (it.replace("\xa0", " ") for it in card.locator(".facts dd").all_inner_texts()),
                strict=True,
            )
        )
        assert {name: on_page.get(name) for name in facts} == facts
        readings = len(body["evidence"]["tare"]) + len(body["evidence"]["gross"])
        expect(card.locator("tbody tr")).to_have_count(readings)


def test_a_whole_batch_by_keyboard_alone(run_daemon: RunDaemon, open_page: OpenPage) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "4")
    page = open_page(station.url, timezone_id="UTC")
    page.mouse.move = page.mouse.click = None  # type: ignore[assignment,method-assign]
    tab_to(page, page.get_by_role("button", name="Open the simulation controls"))
    page.keyboard.press("Enter")
    cook = page.get_by_label("Let the cook work")
    expect(cook).to_be_checked()
    tab_to(page, cook)
    page.keyboard.press(" ")
    expect(cook).not_to_be_checked()
    station.until_simulation(lambda it: it["cook"]["working"] is False, "sent the cook away")

    tab_to(page, page.get_by_role("link", name="Overnight flatbread dough"))
    page.keyboard.press("Enter")
    tab_to(page, page.get_by_label("Batch size"))
    page.keyboard.press("Control+a")
    page.keyboard.type("400")
    tab_to(page, page.get_by_label("Who is weighing"))
    page.keyboard.type("Ada")
    tab_to(page, page.get_by_role("button", name="Start"))
    page.keyboard.press("Enter")

    expect(page.get_by_test_id("phase")).to_have_text("No vessel yet")
    tab_to(page, page.get_by_role("button", name="Set vessel down"))
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("phase")).to_have_text("Vessel on?")
    page.keyboard.press("t")
    page.keyboard.press("l")
    page.get_by_label("As on the label of the pack").wait_for()
    page.keyboard.type("F-77")
    page.keyboard.press("Enter")
    expect(page.locator("dialog")).to_have_count(0)
    additions = station.state()["batch"]["additions"]
    for _ in additions[:2]:
        weigh_by_keyboard(page)
    for _ in additions[2:]:  # poured at once: how the button pours was seen twice
        before = page.locator(".plate-nth").inner_text()
        expect(page.get_by_test_id("phase")).to_have_text("Ready to pour")
        station.simulate("tap", g=f"{to_go(page):.2f}")
        settled(page)
        accept_by_keyboard(page, before)
    expect(page.get_by_test_id("done")).to_be_visible()
    tab_to(page, page.get_by_role("link", name="Open the record"))
    page.keyboard.press("Enter")
    record = station.record("demo-0001")
    page_says_what_the_record_says(page, record)
    bodies = [it["body"] for it in record["entries"] if it["kind"] == "addition accepted"]
    assert len(bodies) == len(additions) == 5
    # Four times as fast as life, a busy machine lets too much of one or another in.
    assert "on target" in {it["verdict"] for it in bodies}
    assert bodies[0]["lot"] == "F-77"
    assert all(it["reason"] for it in bodies if it["verdict"] != "on target")
    assert record["entries"][-1]["kind"] == "batch closed"


def test_the_page_watches_the_cook_through_to_the_record(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "20")
    page = open_page(station.url, timezone_id="UTC")
    page.get_by_role("link", name="Overnight flatbread dough").click()
    page.get_by_label("Batch size").fill("600")
    page.get_by_label("Who is weighing").fill("Bo")
    page.evaluate(
        """() => {
          window.plates = new Set();
          new MutationObserver(() => {
            const plate = document.querySelector('[data-testid=phase]');
            if (plate) window.plates.add(plate.textContent);
          }).observe(document.body, {subtree: true, childList: true, characterData: true});
        }"""
    )
    page.get_by_role("button", name="Start").click()
    done = page.get_by_test_id("done")
    expect(done).to_be_visible(timeout=30000)
    plates = page.evaluate("[...window.plates]")
    assert {"Pouring", "On target"} <= set(plates), plates
    record = station.record("demo-0001")
    nets = [it["body"]["net_g"] for it in record["entries"] if it["kind"] == "addition accepted"]
    assert len(nets) == 5
    rows = done.get_by_test_id("went-in").locator("tbody tr")
    for row, net in zip(rows.all(), nets, strict=True):
        expect(row.locator(".weighed")).to_contain_text(f"{shown(net)} g")
    done.get_by_role("link", name="Open the record").click()
    page_says_what_the_record_says(page, record)


def over_pour(station: RealDaemon, page: Page) -> float:
    """Pour past the upper limit; how much too much lies in, in grams."""
    station.phase("ready")
    station.simulate("pour", g_per_s="150")
    high = next(
        float(it["high_g"])
        for it in station.state()["batch"]["additions"]
        if it["status"] == "current"
    )
    station.until(lambda it: float(it["live"]["net_g"] or 0) > high + 8, "over")
    station.simulate("stop")
    excess = -float(station.phase("held")["live"]["to_go_g"])
    expect(page.get_by_test_id("phase")).to_have_text("Over")
    expect(page.get_by_test_id("caption")).to_have_text("too much")
    page.wait_for_timeout(600)  # the last drops fall
    assert abs(to_go(page) + excess) <= 0.5
    return excess


def say_take_out(page: Page) -> None:
    """Press the big button; again where the last drops have changed the amount meanwhile."""
    for tries_left in (2, 1, 0):
        page.get_by_test_id("primary").click()
        try:
            expect(page.get_by_test_id("phase")).to_have_text("Take some out", timeout=2000)
        except AssertionError:
            if not tries_left:
                raise
        else:
            return


def test_an_over_pour_is_taken_out_of_or_kept_with_a_reason(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "4")
    station.simulate("cook", working=False)
    batch = station.begin("lemon-sorbet")
    page = open_page(station.url, timezone_id="UTC")
    station.tare(lambda: station.simulate("vessel", mass_g="251.3"))
    plate, big = page.get_by_test_id("phase"), page.get_by_test_id("primary")
    ingredient = page.get_by_test_id("ingredient")

    excess = over_pour(station, page)  # told to take some out, and then it is taken
    say_take_out(page)
    expect(big).to_have_text(re.compile(r"Take out [\d.]+\sg"))
    page.wait_for_timeout(600)  # more than two seconds at the scale: it is not held again
    expect(plate).to_have_text("Take some out")
    station.simulate("take", g=f"{excess:.1f}")
    expect(plate).to_have_text("On target")
    page.keyboard.press("a")
    expect(ingredient).to_have_text("Lemon juice")

    excess = over_pour(station, page)  # taken out at once, without a word
    station.simulate("take", g=f"{excess:.1f}")
    expect(plate).to_have_text("Now on target")
    expect(page.get_by_test_id("held")).to_contain_text("within the limits now")
    big.click()
    expect(ingredient).to_have_text("Caster sugar")

    excess = over_pour(station, page)  # kept, which needs a reason
    page.locator("[data-do='accept with reason']").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text(re.compile(r"[\d.]+\sg too much stays in\."))
    dialog.get_by_text("Cannot be taken out again").click()
    dialog.get_by_role("button", name="Keep it").click()
    expect(ingredient).to_have_text("Dried glucose syrup")

    page.goto(f"{station.url}#/records/{batch}")
    record = station.record(batch)
    page_says_what_the_record_says(page, record)
    third = page.locator(".record-addition").nth(2)
    expect(third).to_contain_text("Cannot be taken out again")
    events = page.locator(".events li")
    expect(events.filter(has_text="Held: over")).to_have_count(3)
    expect(events.filter(has_text="Decided: take some out")).to_have_count(1)
