"""Two pages at one station: pressed at the same moment, in two languages, with and without PIN."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.real_daemon import RealDaemon
from weighd.domain.people import ALL
from weighd.domain.verify import verify_export
from weighd.main.drivers import reread
from weighd.station.people import People
from weighd.storage.journal import open_journal
from weighd.storage.pins import Argon2Pins

PIN = "4711"


def at_once(pages: list[Page], script: str) -> None:
    """Run it in all pages at one moment of the clock that they share."""
    at = time.time() * 1000 + 300
    for page in pages:
        page.evaluate(f"at => void setTimeout(() => {{ {script} }}, at - Date.now())", at)
    time.sleep(0.35)


def press_big(station: RealDaemon, pages: list[Page], do: str, done: Callable[[], bool]) -> None:
    """The big button of each page, once it means the same in each; once more where all pages of a
    busy machine were late."""
    big = f"#primary[data-do='{do}'][aria-disabled='false']"
    for _ in range(4):
        for page in pages:
            expect(page.locator(big)).to_be_visible()
        at_once(pages, f'document.querySelector("{big}")?.click()')
        deadline = time.monotonic() + 2
        while time.monotonic() < deadline:
            if done():
                return
            time.sleep(0.05)
    raise AssertionError(f"{do} came to nothing: {station.state()['live']}")


def quiet(pages: list[Page]) -> None:
    """Nobody is told that anything went wrong: what was wanted has happened."""
    time.sleep(0.2)  # an answer that is still on its way has come by then
    for page in pages:
        told = page.locator("[role=alert], .complaint").all_inner_texts()
        assert told == [], told


def test_a_batch_begun_in_german_is_weighed_by_both_and_ended_in_english(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "8")
    station.simulate("cook", working=False)
    german = open_page(station.url, locale="de-DE")
    english = open_page(station.url)
    both = [german, english]
    for page, name in ((german, "Ada"), (english, "Bo")):
        page.get_by_role("link", name="Lemon sorbet").click()
        page.locator("[name=operator]").fill(name)
        expect(page.locator("[data-testid=formula] [type=submit]")).to_be_enabled()
    # Both start the same formula at the same moment: there is one batch, and both come to it.
    at_once(both, "document.querySelector('[data-testid=formula] [type=submit]').click()")
    for page in both:  # the one that came second is led there
        expect(page.get_by_test_id("formula")).to_have_count(0)
        page.goto(f"{station.url}#/")
    expect(german.get_by_test_id("phase")).to_have_text("Noch kein Gefäß")
    expect(english.get_by_test_id("phase")).to_have_text("No vessel yet")
    batch = station.state()["batch"]
    assert len(station.get("api/batches")["batches"]) == 1

    station.simulate("vessel", mass_g="251.3")
    press_big(station, both, "tare", lambda: station.state()["live"]["phase"] == "ready")
    quiet(both)
    for n, addition in enumerate(batch["additions"], 1):
        for page in both:
            expect(page.get_by_test_id("ingredient")).to_have_text(addition["name"])
        station.simulate("tap", g=f"{float(addition['target_g']):.2f}")
        who = both if n in (1, len(batch["additions"])) else [both[n % 2]]
        press_big(station, who, "accept", partial(station.is_past, n))
    quiet(both)
    for page, word in ((german, "Zitronen|Lemon"), (english, "Lemon")):
        expect(page.get_by_test_id("done")).to_contain_text(re.compile(word))
    record = station.record(batch["id"])
    kinds = [it["kind"] for it in record["entries"]]
    many = len(batch["additions"])
    assert kinds == ["batch opened", "tared", *["addition accepted"] * many, "batch closed"]
    assert verify_export(record, reread).weighings == many


def people_at(folder: Path) -> None:
    """A station where Ada may do what is listed and nobody else may accept out of tolerance."""
    journal = open_journal(folder / "weighd.db", "demo")
    people = People(journal.people(), Argon2Pins(1, 8), lambda: "2026-11-25T09:00:00.000Z")
    people.add("Ada", ALL, PIN)
    people.add("Cy", (), "1590")
    journal.close()


def sign_in(page: Page, name: str, pin: str) -> None:
    page.get_by_test_id("person").click()
    page.locator(f'.person-names [data-person="{name}"]').click()
    expect(page.locator("[name=pin]")).to_be_focused()
    page.keyboard.type(pin, delay=80)
    page.keyboard.press("Enter")
    expect(page.locator(".keypad")).to_have_count(0)


def keep_short(page: Page) -> None:
    page.wait_for_timeout(500)  # what is pressed twice within that is pressed once (keys.ts)
    page.locator("[data-do='accept with reason']").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_role("radio").first.check()
    dialog.locator("[type=submit]").click()


def test_one_page_needs_a_pin_for_what_the_other_may_and_it_is_done_once(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "8", prepare=people_at)
    station.simulate("cook", working=False)
    allowed, other = open_page(station.url), open_page(station.url)
    sign_in(allowed, "Ada", PIN)
    sign_in(other, "Cy", "1590")
    other.get_by_role("link", name="Lemon sorbet").click()
    other.get_by_role("button", name="Start").click()
    expect(allowed.get_by_test_id("phase")).to_have_text("No vessel yet")
    station.simulate("vessel", mass_g="251.3")
    press_big(station, [other], "tare", lambda: station.state()["live"]["phase"] == "ready")
    target = float(station.state()["batch"]["additions"][0]["target_g"])
    station.simulate("tap", g=f"{target - 40:.1f}")
    station.settled()
    keep_short(other)  # who may not is asked for somebody who may, and it waits
    expect(other.locator("[name=pin]")).to_be_focused()
    keep_short(allowed)
    expect(allowed.get_by_test_id("ingredient")).to_have_text("Lemon juice")
    other.keyboard.type(PIN, delay=80)
    other.keyboard.press("Enter")
    expect(other.locator(".keypad")).to_have_count(0)
    expect(other.get_by_test_id("ingredient")).to_have_text("Lemon juice")
    entries = station.record("demo-0001")["entries"]
    accepted = [it["body"] for it in entries if it["kind"] == "addition accepted"]
    assert [it["operator"] for it in accepted] == ["Ada"]
    assert station.state()["live"]["addition"] == 2
