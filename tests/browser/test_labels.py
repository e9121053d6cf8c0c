"""Labels and recall on the page: chosen by keyboard, printed by the browser in their size."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.browser.conftest import OpenPage
from tests.browser.real_daemon import RealDaemon
from tests.station.process_cook import Cook
from tests.station.test_lots import receive
from weighd.storage.journal import open_journal

SIZES = [(390, 844), (1024, 768), (1920, 1080)]
#: Where pictures are put to be looked at, where somebody asks for them.
SHOTS = os.environ.get("WEIGHD_SHOTS", "")


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealDaemon]:
    """A station whose journal holds a batch that was drawn into three containers, and its milk."""
    folder = tmp_path_factory.mktemp("station")
    cook = Cook()
    receive(cook, lot="R-1", quantity="5 kg", supplier="Invented Dairy", supplier_lot="M-17")
    batch = cook.weigh(lot="R-1")
    for draw in ({"weight": "500 g", "containers": 2}, {"weight": "75 g"}):
        cook.do("record yield", batch=batch, by="Bo", draw=draw)
    journal = open_journal(folder / "data" / "weighd.db", "test")
    journal.append(cook.journal)
    journal.close()
    (folder / "formulas").mkdir()
    config = folder / "weighd.toml"
    config.write_text(
        '[station]\nname = "test"\nformulas = "formulas"\n'
        f'[scales.bench]\ndriver = "serial"\nport = "{folder / "none"}"\ninterval_g = "0.1"\n'
        '[labels]\nkitchen = "Invented kitchen"\n'
    )
    it = RealDaemon(folder, "serve", "--config", str(config))
    it.start()
    yield it
    it.stop()


def shot(page: Page, name: str) -> None:
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}.png")


def printed(page: Page) -> PdfReader:
    """What the browser prints, on pages as large as the labels say."""
    page.emulate_media(media="print")
    made = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True, print_background=True)))
    page.emulate_media(media="screen")
    return made


def mm(reader: PdfReader) -> list[tuple[int, int]]:
    sizes = [one.mediabox for one in reader.pages]
    return [
        (round(float(one.width) * 25.4 / 72), round(float(one.height) * 25.4 / 72)) for one in sizes
    ]


def test_labels_are_chosen_by_keyboard_and_printed_in_their_size(
    station: RealDaemon, open_page: OpenPage
) -> None:
    page = open_page(f"{station.url}#/records/test-0001", viewport={"width": 1024, "height": 768})
    page.get_by_role("link", name="Labels").focus()
    page.keyboard.press("Enter")
    sheets = page.get_by_test_id("label-sheets")
    expect(sheets).to_contain_text("Contains: MILK")
    made = printed(page)
    assert mm(made) == [(62, 40)]
    text = " ".join(made.pages[0].extract_text().split())
    for told in ("Test ice", "test-0001", "Net 575", "Contains: MILK", "Invented kitchen"):
        assert told in text, told
    # One for each container that was drawn.
    page.get_by_label("Of what").focus()
    page.keyboard.press("ArrowDown")
    expect(sheets.locator(".sticker")).to_have_count(3)
    expect(sheets).to_contain_text("3 of 3")
    assert mm(printed(page)) == [(62, 40)] * 3
    # Several on a sheet.
    page.get_by_label("Size").select_option("70x37 on 210x297")
    expect(sheets.locator(".label-page")).to_have_count(1)
    shot(page, "labels-sheet")
    made = printed(page)
    assert mm(made) == [(210, 297)]
    assert made.pages[0].extract_text().count("Contains:") == 3
    # What cannot be is told at its field, and the labels that were there stay.
    page.get_by_label("Of what").select_option("batch")
    page.get_by_label("Net of each").fill("much")
    expect(page.get_by_label("Net of each")).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_role("button", name="Print")).to_be_disabled()
    page.get_by_label("Net of each").fill("120 g")
    page.get_by_label("How many").fill("4")
    expect(sheets.locator(".sticker")).to_have_count(4)
    expect(sheets).to_contain_text("120\u00a0g")
    with page.expect_download() as download:
        page.get_by_role("link", name="PDF").click()
    pages = PdfReader(download.value.path()).pages
    assert pages[0].extract_text().count("Contains:") == 4


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_labels_and_recall_have_room_at_every_size(
    station: RealDaemon, open_page: OpenPage, size: tuple[int, int]
) -> None:
    window = {"width": size[0], "height": size[1]}
    page = open_page(f"{station.url}#/labels/lot/R-1", viewport=window)
    expect(page.get_by_test_id("label-sheets")).to_contain_text("Invented Dairy")
    shot(page, f"labels-{size[0]}")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.goto(f"{station.url}#/trace/M-17")
    expect(page.get_by_test_id("forward")).to_contain_text("500\u00a0g out")
    expect(page.get_by_test_id("sums")).to_contain_text("found in")
    for told in ("Invented Dairy", "Ada"):
        expect(page.locator("main")).to_contain_text(told)
    shot(page, f"trace-{size[0]}")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    with page.expect_download() as download:
        page.get_by_role("link", name="Mock recall (PDF)").click()
    assert "A drill" in PdfReader(download.value.path()).pages[0].extract_text()
