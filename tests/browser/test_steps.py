"""The steps of a formula written on the page, by keyboard, on the real station; then made."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.test_axe import AXE, violations
from tests.browser.test_pantry import kitchen, tab_to

ICE = """\
# Invented, for a test.
name = "Plain ice"
scenario = "An invented kitchen."

[[additions]]
ingredient = "water"
target = "60 g"
tolerance = "5 %"

# what is done after the bowl
[[steps]]
kind = "mix"   # by hand
how = "Stir."

# cold before it is frozen
[[steps]]
kind = "cool"
temperature = "at most 4 °C"   # in ice water
time = "within 90 min"
"""


def save(page: Page) -> None:
    page.keyboard.press("Control+Enter")


def test_steps_are_written_refused_at_their_field_kept_and_made(
    run_daemon: RunDaemon, open_page: OpenPage, tmp_path: Path
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "10")
    file = kitchen(tmp_path) / "plain-ice.toml"
    file.write_text(ICE, "utf-8")
    page = open_page(f"{station.url}#/formula/plain-ice")
    said, bar = page.get_by_test_id("step-said-2"), page.locator(".save-bar")
    expect(said).to_contain_text("Cool: bring it to 4\u00a0°C or colder, within 90\u00a0min.")
    assert "Stays in the file" not in page.locator(".editor-main").inner_text()

    # A bad temperature is told at its field while it is typed, and keeps nobody from the figures.
    page.get_by_role("button", name="Change step 2").press("Enter")
    expect(page.locator('[name="step-kind-2"]')).to_be_focused()
    field = page.locator('[name="step-temperature-2"]')
    tab_to(page, '[name="step-temperature-2"]')
    page.keyboard.press("Control+A")
    page.keyboard.type("cold")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_test_id("step-2")).to_contain_text('"cold" is no limit of temperature')
    expect(said).to_contain_text("not understood")
    expect(page.get_by_test_id("composed")).to_have_attribute("data-present", "true")
    tab_to(page, '[name="step-time-2"]')
    save(page)
    expect(bar.get_by_role("alert")).to_contain_text("no limit of temperature")
    expect(field).to_be_focused()
    expect(field).to_have_value("cold")
    assert file.read_text("utf-8") == ICE
    page.keyboard.press("Control+A")
    page.keyboard.type("2 to 38 °F")
    expect(said).to_contain_text(
        "bring it between 2\u00a0°F (−16.6\u00a0°C) and 38\u00a0°F (3.3\u00a0°C)"
    )

    # Moved by keys, the focus stays; a kind takes what it takes.
    page.keyboard.press("Alt+ArrowUp")
    expect(page.locator('[name="step-temperature-1"]')).to_be_focused()
    expect(page.get_by_test_id("steps").get_by_role("status").first).to_have_text(
        "Cool is step 1 now."
    )
    page.locator('.step-add [data-kind="heat-treat"]').press("Enter")
    expect(page.locator('[name="step-temperature-3"]')).to_have_count(0)
    expect(page.get_by_test_id("step-said-3")).to_contain_text("Choose a published table.")
    save(page)
    expect(page.get_by_role("radiogroup")).to_be_focused()
    expect(page.get_by_test_id("step-3")).to_contain_text('"table" is missing or empty')
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    # 7 CFR 58.635, as in weighd/data/heat_treatments.toml.
    expect(page.get_by_test_id("step-said-3")).to_contain_text(
        "155\u00a0°F (68.4\u00a0°C) or hotter for 30\u00a0min"
    )
    expect(page.get_by_test_id("step-said-3")).to_contain_text("No step cools it after this.")
    expect(page.get_by_role("radiogroup")).to_contain_text("7 CFR 58.635; read")

    # Taken out and put back; dry ice brings its cautions at once.
    page.get_by_role("button", name="Take step 3 out").press("Enter")
    expect(page.locator(".step-row")).to_have_count(2)
    page.get_by_role("button", name="Put it back").click()
    expect(page.locator(".step-row")).to_have_count(3)
    page.locator('.step-add [data-kind="freeze"]').click()
    page.get_by_test_id("step-4").get_by_role("button", name="Dry ice").click()
    expect(page.get_by_test_id("brought-4")).to_contain_text("Open windows and doors")
    page.get_by_test_id("step-4").get_by_role("button", name="Add a caution").click()
    expect(page.locator('[name="caution-name-4-1"]')).to_be_focused()
    page.keyboard.type("slippery")
    page.locator('[name="caution-text-4-1"]').fill("Frost on the floor: wipe it.")
    expect(page.get_by_test_id("step-said-4")).to_contain_text("food-grade, slippery")
    page.evaluate(AXE)
    assert violations(page) == []

    # Another hand changed the file: nothing is written over, and nothing typed is lost.
    file.write_text(ICE.replace('"Stir."', '"Stir well."'), "utf-8")
    save(page)
    expect(bar.get_by_role("alert")).to_contain_text("was changed since you read it")
    expect(page.locator('[name="caution-name-4-1"]')).to_have_value("slippery")
    file.write_text(ICE, "utf-8")
    save(page)
    expect(bar).to_contain_text("Saved.")
    text = file.read_text("utf-8")
    steps = tomllib.loads(text)["steps"]
    assert [one["kind"] for one in steps] == ["cool", "mix", "heat-treat", "freeze"]
    assert steps[0]["temperature"] == "2 to 38 °F"
    assert steps[3]["cautions"] == [{"name": "slippery", "text": "Frost on the floor: wipe it."}]
    assert '# cold before it is frozen\n[[steps]]\nkind = "cool"\n' in text
    for comment in ("# Invented, for a test.", "# what is done after the bowl", "# by hand"):
        assert comment in text
    assert 'temperature = "2 to 38 °F"   # in ice water' in text

    batch = station.begin("plain-ice")
    station.until(lambda it: it["batch"]["status"] == "in process", "all weighed")
    page.goto(f"{station.url}#/process/{batch}")
    rows = page.locator(".process-steps li")
    expect(rows).to_have_text([re.compile(one) for one in ("Cool", "Mix", "Heat-treat", "Freeze")])
    expect(rows.first).to_contain_text("2 °F to 38 °F")


def test_a_formula_without_steps_is_offered_usual_ones_and_a_lost_station_loses_nothing(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open")
    page = open_page(f"{station.url}#/formula/lemon-sorbet")
    offer = page.get_by_test_id("usual-steps")
    expect(offer).to_contain_text("Common practice, no source")
    offer.locator('[data-usual="custard"]').click()
    expect(page.locator(".step-row")).to_have_count(7)
    expect(page.get_by_test_id("step-said-2")).to_contain_text("Choose a published table.")
    page.route("**/api/steps", lambda route: route.abort())
    page.get_by_role("button", name="Change step 4").click()
    page.locator('[name="step-time-4"]').fill("2 h to 3 h")
    expect(page.get_by_test_id("steps").get_by_role("alert")).to_contain_text("not answered")
    expect(page.locator('[name="step-time-4"]')).to_have_value("2 h to 3 h")
    page.unroute("**/api/steps")
    page.locator('[name="step-time-4"]').fill("2 h to 4 h")
    expect(page.get_by_test_id("step-said-4")).to_contain_text("for 2\u00a0h to 4\u00a0h")
    expect(page.get_by_test_id("steps").get_by_role("alert")).to_have_count(0)
    # Nothing is saved before a table was chosen: it is asked for at its place.
    save(page)
    expect(page.get_by_role("radiogroup")).to_be_focused()
    expect(page.locator(".save-bar")).to_contain_text("Not saved yet.")
