"""Putting right what somebody wrote, on the page: by keyboard, told by field, all of it kept."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.real_daemon import RealDaemon
from tests.station.scripted import Hand
from tests.station.test_corrections import weigh
from weighd.storage.journal import open_journal

SIZES = [(390, 844), (1024, 768), (1920, 1080)]
#: Where pictures are put to be looked at, where somebody asks for them.
SHOTS = os.environ.get("WEIGHD_SHOTS", "")


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealDaemon]:
    """A station whose journal holds a batch of milk out of lot A, with sugar a little over."""
    folder = tmp_path_factory.mktemp("station")
    journal = open_journal(folder / "data" / "weighd.db", "test")
    hand = weigh(Hand())
    hand.do("block lot", lot="B", by="Ada", reason="recalled")
    journal.append(hand.journal)
    journal.close()
    (folder / "formulas").mkdir()
    config = folder / "weighd.toml"
    config.write_text(
        '[station]\nname = "test"\nformulas = "formulas"\n'
        f'[scales.bench]\ndriver = "serial"\nport = "{folder / "none"}"\ninterval_g = "0.1"\n'
    )
    it = RealDaemon(folder, "serve", "--config", str(config))
    it.start()
    yield it
    it.stop()


def shot(page: Page, name: str) -> None:
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}.png")


def roomy(page: Page) -> None:
    """Nothing sticks out sideways, and every target is large enough for a wet finger."""
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    for where in ("correct-form", "corrections"):
        for one in page.get_by_test_id(where).locator("input[type=text], button, .choice").all():
            box = one.bounding_box()
            assert not one.is_visible() or (box and box["height"] >= 64), one


def written(page: Page, label: str, text: str) -> None:
    """Type over what stands in a field; more slowly than a scanner does."""
    field = page.get_by_test_id("correct-form").get_by_label(label)
    field.fill("")
    field.fill(text)


def test_a_lot_is_put_right_by_keyboard_and_nothing_is_hidden(
    station: RealDaemon, open_page: OpenPage
) -> None:
    page = open_page(f"{station.url}#/records/test-0001", viewport={"width": 1024, "height": 768})
    first = page.locator(".record-addition").first
    first.get_by_role("button", name="Correct 1. Milk").focus()
    page.keyboard.press("Enter")
    form = page.get_by_test_id("correct-form")
    expect(form.get_by_role("radio").first).to_be_focused()
    page.keyboard.press("Space")
    expect(page.get_by_test_id("correct-old")).to_have_text("A")
    roomy(page)
    shot(page, "correct-form")
    written(page, "What it should be", "B")
    page.keyboard.press("Enter")
    why = form.get_by_label("Why?")
    expect(why).to_be_focused()
    expect(why).to_have_attribute("aria-invalid", "true")
    written(page, "Why?", "wrong label")
    page.keyboard.press("Enter")
    expect(form.get_by_label("Who are you?")).to_be_focused()
    written(page, "Who are you?", "Bo")
    page.keyboard.press("Enter")
    # It was blocked: told at the field, and taken once somebody says that it did go in.
    sure = form.get_by_role("checkbox")
    expect(sure).to_be_visible()
    expect(form).to_contain_text("recalled")
    shot(page, "correct-confirm")
    sure.focus()
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    expect(form).to_be_hidden()
    expect(first.get_by_role("button", name="Correct 1. Milk")).to_be_focused()
    lot = first.locator(".stands")
    expect(lot.locator("s").first).to_have_text("A")
    expect(lot.locator("b").first).to_have_text("B")
    expect(page.get_by_test_id("corrected-said")).to_have_text("Put right: lot.")

    # Another page saw it as it was: it is told what stands, and loses nothing it typed.
    first.get_by_role("button", name="Correct 1. Milk").click()
    form.get_by_role("radio").first.check()
    written(page, "What it should be", "C")
    written(page, "Why?", "looked again")
    written(page, "Who are you?", "Cleo")
    entry = station.record("test-0001")["entries"][-1]["body"]["of"]["n"]
    station.post(
        "api/batches/test-0001/commands", do="correct", entry=entry, field="lot", old="B",
        new="D", reason="a word", by="Dora",
    )  # fmt: skip
    form.get_by_role("button", name="Put it right").click()
    expect(form.get_by_label("What it should be")).to_have_attribute("aria-invalid", "true")
    expect(form).to_contain_text('Meanwhile the lot is "D"')
    expect(page.get_by_test_id("correct-old")).to_have_text("D")
    expect(form.get_by_label("What it should be")).to_have_value("C")
    form.get_by_role("button", name="Put it right").click()
    expect(form).to_be_hidden()
    summary = lot.locator("summary")
    expect(summary).to_have_text("put right 3 times")
    summary.focus()
    page.keyboard.press("Enter")
    for told in ("A", "B", "D", "wrong label", "a word", "looked again", "Dora"):
        expect(lot).to_contain_text(told)
    expect(page.get_by_test_id("corrections").locator(".corrections-made li")).to_have_count(3)
    made = [one for one in station.record("test-0001")["entries"] if one["kind"] == "corrected"]
    assert [one["body"]["new"] for one in made] == ["B", "D", "C"]


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_it_has_room_at_every_size(
    station: RealDaemon, open_page: OpenPage, size: tuple[int, int]
) -> None:
    page = open_page(
        f"{station.url}#/records/test-0001", viewport={"width": size[0], "height": size[1]}
    )
    section = page.get_by_test_id("corrections")
    section.locator("summary").click()
    expect(section).to_contain_text("Vessel tared")
    section.scroll_into_view_if_needed()
    shot(page, f"corrections-{size[0]}")
    section.get_by_role("button", name="Correct Vessel tared").first.click()
    roomy(page)
    shot(page, f"correct-{size[0]}")
    page.keyboard.press("Escape")
    expect(page.get_by_test_id("correct-form")).to_be_hidden()
