"""A list pasted into the formula desk: lines say what they were taken for."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.browser.conftest import OpenPage, RunDaemon


def test_a_list_becomes_additions(run_daemon: RunDaemon, open_page: OpenPage) -> None:
    page = open_page(f"{run_daemon('demo', '--no-open').url}#/formula/lemon-sorbet")
    expect(page.get_by_test_id("composed")).to_have_attribute("data-present", "true")
    before = page.locator(".addition-row").count()
    page.get_by_text("Paste a list").press("Enter")
    page.locator('[name="paste"]').fill(
        "1 kg whole milk\n40 g dextroze\n2 cups sugar\nTotal: 1040 g"
    )
    pasted = page.get_by_test_id("pasted")
    marks = pasted.locator(".pasted-line")
    expect(marks).to_have_count(4)
    outcomes = [one.get_attribute("data-outcome") for one in marks.all()]
    assert outcomes == ["taken", "not understood", "not understood", "left out"]
    expect(marks.nth(2)).to_contain_text('"cups" does not repeat')
    expect(pasted.get_by_role("status")).to_contain_text("The list gives 1040 g as its sum")
    marks.nth(1).get_by_role("button", name="Dextrose").press("Enter")
    expect(marks.nth(1)).to_have_attribute("data-outcome", "taken")
    expect(pasted.get_by_role("status")).to_contain_text("2 lines taken, 1040\u00a0g.")
    page.get_by_role("button", name="Put 2 in").press("Enter")
    expect(page.locator(".addition-row")).to_have_count(before + 2)
    expect(page.locator(f'[name="amount-{before + 1}"]')).to_have_value("1 kg")
    expect(page.get_by_test_id("paste")).to_contain_text("2 additions were put into the draft.")
    assert page.evaluate("document.scrollingElement.scrollHeight <= innerHeight")
