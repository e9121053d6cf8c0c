"""Before a batch: how much, what comes out, what goes in of which lots, what to mind; again."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon

LOT = {"lot": "P-7", "left_g": "900", "use_by": "", "best_before": "2026-05-02", "opened": False}
SIZES = [(390, 844), (1024, 768), (1920, 1080)]


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_what_is_short_expired_or_out_of_its_limits_is_said_before_the_start(
    size: tuple[int, int], daemon: FakeDaemon, open_page: OpenPage
) -> None:
    daemon.made = {
        "blackcurrant-milk-ice": {
            "batch": "kitchen-0007", "opened": "2026-03-01T08:00:00Z", "operator": "Ada",
            "batch_g": "2400",
        }
    }  # fmt: skip
    daemon.stock = {
        1: {
            "stock": "short", "short_g": "280", "lots": [{**LOT, "takes_g": "900"}],
            "aside": [{**LOT, "lot": "P-3", "fit": "blocked", "blocked": "Seal was broken"}],
        }
    }  # fmt: skip
    daemon.most = {
        "batch_g": "1830.5",
        "size": "blackcurrant-puree=900 g",
        "scarcest": "blackcurrant-puree",
    }
    width, height = size
    page = open_page(daemon.url, viewport={"width": width, "height": height})
    choice = page.get_by_role("link", name="Blackcurrant milk ice")
    expect(choice).to_contain_text("Last made 1 Mar")
    choice.click()
    start = page.get_by_role("button", name="Start")
    needs = page.get_by_test_id("needs")
    expect(needs).to_contain_text("1 is short")
    expect(needs).to_contain_text("Lot P-7, best before 2 May 2026")
    expect(needs).to_contain_text("280\u00a0g short")
    expect(needs).to_contain_text("Not lot P-3 (900\u00a0g): blocked, Seal was broken")
    mix = page.get_by_test_id("mix")
    expect(
        mix.get_by_role("img", name="How it freezes: At −12\u00a0°C, 71.0\u00a0%")
    ).to_be_visible()
    mix.get_by_label("Served at").select_option("-18")
    expect(mix).to_contain_text("colder than the method reaches")
    mix.get_by_text("Temperature and ice").click()
    expect(mix.get_by_role("row", name="−8\u00a0°C 58.7\u00a0%")).to_be_visible()
    mind = page.get_by_test_id("mind")
    expect(mind).to_contain_text("Contains milk: ")
    expect(mind).to_contain_text("Keep dairy at 5 °C")
    go = page.locator(".before-go")
    expect(go).to_contain_text("Mind: not all is in stock; usual limits are not kept.")
    for place in ("0", "document.querySelector('.screen').scrollHeight"):
        page.evaluate(f"document.querySelector('.screen').scrollTo(0, {place})")
        expect(start).to_be_in_viewport(ratio=1)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.get_by_role("button", name="All there is").click()
    expect(page.get_by_label("Batch size")).to_have_value("blackcurrant-puree=900 g")
    assert page.locator(".before .warning:visible").count() >= 3


def test_among_many_a_formula_is_found_by_typing(daemon: FakeDaemon, open_page: OpenPage) -> None:
    one = daemon.formulas["formulas"][0]
    daemon.formulas["formulas"] += [
        {**one, "id": f"ice-{n}", "name": f"Plain ice {n}"} for n in range(9)
    ]
    page = open_page(daemon.url)
    field = page.get_by_label("Find a formula")
    field.fill("LEMÓN")
    expect(page.locator(".formula-choice")).to_have_count(1)
    field.fill("unicorn")
    expect(page.get_by_test_id("nothing")).to_contain_text("No formula here has “unicorn”")
    page.get_by_role("button", name="Show all").click()
    field.fill("ice 3")
    field.press("Enter")
    expect(page.get_by_role("heading", name="Plain ice 3")).to_be_visible()


def test_a_formula_that_is_gone_is_said_with_a_way_on(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    page = open_page(f"{daemon.url}/#/start/no-such")
    expect(page.locator("main")).to_contain_text("There is no formula “no-such” here.")
    page.get_by_role("link", name="All formulas").click()
    expect(page.locator(".formula-choice").first).to_be_visible()


def test_a_batch_is_made_again_from_its_record_at_its_size(
    daemon: FakeDaemon, open_page: OpenPage
) -> None:
    page = open_page(f"{daemon.url}/#/records/kitchen-0007")
    opened = daemon.record["entries"][0]["body"]
    page.get_by_role("link", name="Make it again").click()
    expect(page.get_by_role("heading", name=opened["formula"]["name"])).to_be_visible()
    expect(page.get_by_label("Batch size")).to_have_value(opened["batch_g"])


def test_a_size_in_the_address_stands_in_its_field(daemon: FakeDaemon, open_page: OpenPage) -> None:
    page = open_page(f"{daemon.url}/#/start/lemon-sorbet/40%20servings%20of%2080%20g/steps")
    expect(page.get_by_label("Batch size")).to_have_value("40 servings of 80 g")
    expect(page.locator("input[name=rounded]")).to_be_checked()
