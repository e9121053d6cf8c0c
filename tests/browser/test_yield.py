"""What came of a batch, on the page: a draw entered, refused by its field, put right; keyboard."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.real_daemon import RealDaemon
from tests.domain.test_against_plan import with_facts
from tests.station.planned_kitchen import ICE
from tests.station.test_comparing import PRICES, poured
from weighd.storage.journal import open_journal

SIZES = [(390, 844), (1024, 768), (1920, 1080)]
#: Where pictures are put to be looked at, where somebody asks for them.
SHOTS = os.environ.get("WEIGHD_SHOTS", "")


@pytest.fixture
def url(tmp_path: Path) -> Iterator[str]:
    """A station whose journal holds a batch with 40 g of milk too much, and prices of today."""
    journal = open_journal(tmp_path / "data" / "weighd.db", "test")
    journal.append(poured(ICE, "940.0", "2.0", "3.4", "640.0").journal)
    journal.close()
    formulas = tmp_path / "formulas"
    formulas.mkdir()
    (formulas / "test-ice.toml").write_text(with_facts(ICE))
    (formulas / "ingredients.toml").write_text(PRICES)
    config = tmp_path / "weighd.toml"
    config.write_text(
        '[station]\nname = "test"\nformulas = "formulas"\n'
        f'[scales.bench]\ndriver = "serial"\nport = "{tmp_path / "none"}"\ninterval_g = "0.1"\n'
        '[vessels.tub]\nmass_g = "85"\n'
    )
    daemon = RealDaemon(tmp_path, "serve", "--config", str(config))
    daemon.start()
    yield f"{daemon.url}#/records/test-0001"
    daemon.stop()


def shot(page: Page, name: str) -> None:
    if SHOTS:
        for panel in ("as-weighed", "yield"):
            page.get_by_test_id(panel).screenshot(path=f"{SHOTS}/{name}-{panel}.png")


def roomy(page: Page) -> None:
    """Nothing sticks out sideways, and every field and button is large enough for a wet finger."""
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    targets = "input, select, button, summary"
    for one in page.get_by_test_id("yield").locator(targets).all():
        box = one.bounding_box()
        if box is not None:
            assert box["height"] >= 44, one


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_a_draw_is_entered_refused_and_put_right(
    url: str, open_page: OpenPage, size: tuple[int, int]
) -> None:
    page = open_page(url, viewport={"width": size[0], "height": size[1]})
    panel, name = page.get_by_test_id("yield"), f"{size[0]}"
    expect(panel).to_contain_text("Nothing is recorded yet")
    panel.get_by_role("button", name="Record a draw").click()
    form = page.get_by_test_id("draw-form")
    roomy(page)
    shot(page, f"{name}-form")

    # Refused by the field that is wrong, which then has the focus; nothing typed is lost.
    form.get_by_label("Weight drawn, net", exact=True).fill("1,25")
    form.get_by_label("Unit of masses").select_option("kg")
    form.get_by_label("Volume drawn", exact=True).fill("1,4x")
    form.get_by_role("button", name="Record this draw").click()
    volume = form.get_by_label("Volume drawn", exact=True)
    expect(volume).to_be_focused()
    expect(form).to_contain_text("is not a unit known here")
    shot(page, f"{name}-refused")
    volume.fill("1,4")
    form.get_by_label("Portions made").fill("20")
    form.get_by_role("button", name="Record this draw").click()

    expect(panel.locator(".draws li")).to_have_count(1)
    expect(panel).to_contain_text("1,25\u00a0kg, 1,4\u00a0L, 20 portions")
    expect(panel).to_contain_text("Cost of a portion")
    expect(page.get_by_test_id("draw-form")).to_have_count(0)

    # More than went in: said, and put right by one that names it.
    panel.get_by_role("button", name="Record a draw").click()
    page.get_by_test_id("draw-form").get_by_label("Weight drawn, net", exact=True).fill("3")
    page.get_by_test_id("draw-form").get_by_role("button", name="Record this draw").click()
    expect(panel).to_contain_text("More came out than went in")
    shot(page, f"{name}-gained")
    panel.get_by_role("button", name="Put draw 2 right").click()
    form = page.get_by_test_id("draw-form")
    form.get_by_label("Weight drawn, net", exact=True).fill("0.30")
    form.get_by_role("button", name="Record it in its place").click()
    expect(form.get_by_label("Why")).to_be_focused()
    expect(form).to_contain_text("needs a reason")
    shot(page, f"{name}-right")
    form.get_by_label("Why").fill("misread")
    form.get_by_role("button", name="Record it in its place").click()
    expect(panel).to_contain_text("Draw 2 is put right")
    expect(panel).not_to_contain_text("More came out than went in")
    roomy(page)

    weighed = page.get_by_test_id("as-weighed")
    weighed.locator("summary").click()
    expect(weighed).to_contain_text("All of it is in, 1585.4\u00a0g.")
    weighed.get_by_label("Served at").select_option("-6")
    expect(weighed).to_contain_text("Ice at \u22126\u00a0°C")
    expect(weighed.get_by_label("Served at")).to_be_visible()  # it stays open
    row = weighed.locator("tr", has_text="Begins to freeze")
    expect(row).to_contain_text("higher")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    shot(page, f"{name}-done")


def test_a_draw_is_taken_back_and_entered_by_keyboard_alone(url: str, open_page: OpenPage) -> None:
    page = open_page(url)
    panel = page.get_by_test_id("yield")
    panel.get_by_role("button", name="Record a draw").focus()
    page.keyboard.press("Enter")
    # The form has the focus: first where the weight is from, then the weight.
    expect(page.get_by_test_id("draw-form").get_by_label("Weight is")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.type("1250.0")
    page.keyboard.press("Enter")
    expect(panel).to_contain_text("Draw")
    expect(panel.locator(".draws li")).to_have_count(1)
    panel.get_by_role("button", name="Put draw 1 right").focus()
    page.keyboard.press("Enter")
    form = page.get_by_test_id("draw-form")
    form.get_by_label("Why").fill("of another batch")
    form.get_by_role("button", name="Take it back").focus()
    page.keyboard.press("Space")
    expect(panel).to_contain_text("Draw 1 is taken back")
    expect(panel.locator(".draws li")).to_have_count(0)


def test_a_scale_that_cannot_be_heard_is_told_beside_its_choice(
    url: str, open_page: OpenPage
) -> None:
    page = open_page(url)
    page.get_by_test_id("yield").get_by_role("button", name="Record a draw").click()
    form = page.get_by_test_id("draw-form")
    form.get_by_label("Weight is").select_option("bench")
    form.get_by_label("It stands in").select_option("tub")
    form.get_by_role("button", name="Record this draw").click()
    expect(form).to_contain_text("The scale has not said anything yet.")
