"""A whole batch by scanner, with every scan that goes wrong in a kitchen."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.hands import Scanner
from tests.browser.real_daemon import RealDaemon
from weighd.domain.verify import verify_export
from weighd.main.drivers import reread

#: Codes of no lot: one that nobody booked in, and one of GS1 whose check digit is wrong.
STRANGE, MISREAD = "77-4411", "010950110153000410X"


def receive(station: RealDaemon, ingredient: str, **given: Any) -> str:
    body = {"quantity_g": "5 kg", "by": "Ada", "ingredient": ingredient, **given}
    return str(station.post("api/lots", **body)["lot"])


def named(station: RealDaemon, batch: str) -> list[str]:
    entries = station.record(batch)["entries"]
    return [it["body"]["lot"] for it in entries if it["kind"] == "lot named"]


def a_scan_that_starts_nothing(station: RealDaemon, page: Page, scanner: Scanner) -> None:
    """Into the field for the name, before there is a batch."""
    page.get_by_role("link", name="Lemon sorbet").click()
    who = page.get_by_label("Who is weighing")
    who.fill("")
    who.focus()
    scanner.scan("R-0001")
    expect(page.get_by_test_id("astray")).to_contain_text("R-0001 was scanned")
    expect(who).to_have_value("")
    assert station.state()["batch"] is None
    page.keyboard.type("Ada", delay=80)
    page.get_by_role("button", name="Start").click()
    expect(page.get_by_test_id("phase")).to_have_text("No vessel yet")
    expect(page.get_by_test_id("astray")).to_have_count(0)


def wrong_ones(station: RealDaemon, page: Page, scanner: Scanner, codes: dict[str, str]) -> None:
    """Each is told in words and changes nothing; the next scan needs no hand in between."""
    for code, told in codes.items():
        scanner.scan(code)
        expect(page.get_by_test_id("scan-said")).to_contain_text(told)
    scanner.scan("R-00", end="")  # half a code: the scanner was moved away
    page.wait_for_timeout(200)
    expect(page.locator("dialog")).to_have_count(1)
    live = station.state()["live"]
    assert (live["addition"], live["phase"]) == (1, "awaiting vessel")


def a_scan_while_a_reason_is_written(page: Page, scanner: Scanner, code: str) -> None:
    """It is not the reason, and its Enter is not the word to keep it."""
    page.locator("[data-do='accept with reason']").click()
    dialog = page.get_by_role("dialog")
    own = dialog.get_by_label("In your own words")
    own.fill("The jug is empty ")
    own.focus()
    scanner.scan(code)
    expect(dialog).to_contain_text(f"{code} was scanned")
    expect(own).to_have_value("The jug is empty ")
    dialog.get_by_role("radio").first.focus()
    scanner.scan(code)
    expect(dialog).to_be_visible()
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)


def test_a_whole_batch_by_scanner(run_daemon: RunDaemon, open_page: OpenPage) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "8")
    station.simulate("cook", working=False)
    page = open_page(station.url)
    scanner = Scanner(page)
    names = ["water", "lemon-juice", "sucrose", "glucose-syrup", "stabiliser", "lemon-zest"]
    lots = {name: receive(station, name, use_by="2099-01-01") for name in names}
    more = receive(station, "water", use_by="2099-02-01")
    old = receive(station, "water", use_by="2001-01-01")
    bad = receive(station, "water")
    station.post(f"api/lots/{bad}/commands", do="block", by="Ada", reason="a crack in the lid")

    a_scan_that_starts_nothing(station, page, scanner)
    batch = station.state()["batch"]
    assert [it["ingredient"] for it in batch["additions"]] == names
    wrong_ones(
        station,
        page,
        scanner,
        {
            lots["sucrose"]: "is being weighed",
            old: "was to be used by 2001-01-01",
            bad: "a crack in the lid",
            STRANGE: "Nothing here has the code",
            MISREAD: "The check digit does not fit",
        },
    )
    assert named(station, batch["id"]) == []
    scanner.scan(lots["water"], gap_ms=100)  # slower than usual; its letters are no keys
    expect(page.get_by_test_id("lot")).to_have_text(lots["water"])
    expect(page.locator("dialog")).to_have_count(0)

    station.tare(lambda: station.simulate("vessel", mass_g="251.3"))
    for n, addition in enumerate(batch["additions"], 1):
        target = float(addition["target_g"])
        expect(page.get_by_test_id("ingredient")).to_have_text(addition["name"])
        if n > 1:
            scanner.scan(lots[addition["ingredient"]])
            expect(page.get_by_test_id("lot")).to_have_text(lots[addition["ingredient"]])
        if n == 1:  # another pack of it in mid-pour
            station.simulate("tap", g=f"{target * 0.4:.1f}")
            station.settled()
            scanner.scan(more)
            page.get_by_role("dialog").get_by_role("button", name="It ran out").click()
            expect(page.get_by_test_id("lot")).to_have_text(more)
            station.simulate("tap", g=f"{target * 0.6:.1f}")
        elif n == 2:
            station.simulate("tap", g=f"{target - 30:.1f}")
            station.settled()
            a_scan_while_a_reason_is_written(page, scanner, lots["sucrose"])
            assert station.state()["live"]["addition"] == n
            station.simulate("tap", g="30")
        else:
            station.simulate("tap", g=f"{target:.1f}")
        expect(page.get_by_test_id("phase")).to_have_text("On target")
        if n == 3:  # a slow scanner, and a code whose first letter is the key that accepts
            scanner.scan("A-77-4411", gap_ms=100)
            expect(page.get_by_test_id("scan-said")).to_contain_text("Nothing here has the code")
            page.keyboard.press("Escape")
            expect(page.locator("dialog")).to_have_count(0)
            assert station.state()["live"]["addition"] == n
        page.keyboard.press("a")
        station.accepted(n)
    expect(page.get_by_test_id("done")).to_be_visible()
    record = station.record(batch["id"])
    assert verify_export(record, reread).weighings == len(names)
    bodies = [it["body"] for it in record["entries"] if it["kind"] == "addition accepted"]
    assert [it["lot"] for it in bodies[0]["lots"]] == [lots["water"], more]
    assert [it["lot"] for it in bodies[1:]] == [lots[name] for name in names[1:]]
