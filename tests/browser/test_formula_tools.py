"""Amounts solved and an ingredient swapped on the formula desk, before and after beside it."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.real_daemon import RealDaemon


@pytest.fixture
def station(run_daemon: RunDaemon) -> RealDaemon:
    return run_daemon("demo", "--no-open")


def cell(page: Page, tool: str, name: str, nth: int) -> str:
    row = page.get_by_test_id(tool).locator(
        "tr", has=page.get_by_role("rowheader", name=name, exact=True)
    )
    return row.locator("td").nth(nth).inner_text().replace("\u00a0", " ").replace("\u2212", "-")


def test_targets_are_solved_shown_beside_and_taken(
    station: RealDaemon, open_page: OpenPage, tmp_path: Path
) -> None:
    page = open_page(f"{station.url}#/formula/hazelnut-gelato")
    panel = page.get_by_test_id("composed")
    expect(panel).to_have_attribute("data-present", "true")
    before = (tmp_path / "station-0/data/formulas/hazelnut-gelato.toml").read_text("utf-8")
    page.get_by_text("Solve for targets").press("Enter")
    page.locator('[name="target-text-1"]').fill("10,5")
    page.locator('[name="target-text-2"]').fill("-2.8")
    page.get_by_role("button", name="Work out the amounts").press("Enter")
    solved = page.get_by_test_id("solved")
    expect(solved).to_contain_text("All of it can be had.")
    assert cell(page, "solved", "Fat", 0) == "11.4 %"
    assert cell(page, "solved", "Fat", 1) == "10.5 %"
    assert cell(page, "solved", "Begins to freeze", 1) == "-2.8 °C"
    solved.get_by_role("button", name="Take these amounts").press("Enter")
    expect(solved).to_contain_text("It is not saved yet.")
    expect(panel.locator("dd").first).to_have_text("10.5\u00a0%")
    assert (tmp_path / "station-0/data/formulas/hazelnut-gelato.toml").read_text("utf-8") == before
    page.keyboard.press("Control+Enter")
    expect(page.locator(".save-bar")).to_contain_text("Saved.")
    page.locator('[name="target-text-1"]').fill("60")
    page.get_by_role("button", name="Work out the amounts").press("Enter")
    expect(solved).to_contain_text("Not all of it can be had.")
    expect(solved).to_contain_text("the most fat that can be had")
    page.locator('[name="target-text-1"]').fill("lots")
    page.get_by_role("button", name="Work out the amounts").press("Enter")
    expect(page.get_by_test_id("solve").get_by_role("alert")).to_contain_text("lots")


def test_an_ingredient_is_swapped_and_its_allergen_told(
    station: RealDaemon, open_page: OpenPage
) -> None:
    page = open_page(f"{station.url}#/formula/lemon-sorbet")
    expect(page.get_by_test_id("composed")).to_have_attribute("data-present", "true")
    page.get_by_text("Swap an ingredient").press("Enter")
    page.locator('[name="swap-old"]').select_option("water")
    page.locator('[name="swap-new"]').select_option("whole-milk")
    page.locator('[name="swap-rest"]').press("Space")  # the rest stays as it is
    page.get_by_role("button", name="Work out the swap").press("Enter")
    swapped = page.get_by_test_id("swapped")
    expect(swapped.get_by_role("alert")).to_contain_text("New allergen: milk. Read the label.")
    expect(swapped).to_contain_text("870.00\u00a0g of Water become 870.00\u00a0g of Whole milk")
    swapped.get_by_role("button", name="Take these amounts").press("Enter")
    expect(page.locator('[name="ingredient-1"]')).to_have_value("whole-milk")
    expect(page.locator(".save-bar")).to_contain_text("Not saved yet.")
    page.locator('[name="amount-2"]').fill("3 cups")
    page.get_by_role("button", name="Work out the swap").press("Enter")
    expect(page.get_by_test_id("swap").locator(".complaint").first).to_contain_text(
        "Put right what is marked"
    )
