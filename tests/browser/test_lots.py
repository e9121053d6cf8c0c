"""Lots on the page of the real daemon: received by keyboard, scanned at the board, split."""

from __future__ import annotations

import re
import time
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.real_daemon import RealDaemon

SIZE_G = 400


def scan(page: Page, code: str) -> None:
    """What a scanner that types does: the whole code at once, and Enter."""
    page.evaluate(
        """code => {
          for (const key of [...code, 'Enter'])
            (document.activeElement ?? document.body).dispatchEvent(
              new KeyboardEvent('keydown', {key, bubbles: true, cancelable: true}));
        }""",
        code,
    )


def receive(station: RealDaemon, ingredient: str, **given: Any) -> str:
    body = {"quantity_g": "5 kg", "by": "Ada", "ingredient": ingredient, **given}
    return str(station.post("api/lots", **body)["lot"])


@pytest.fixture
def station(run_daemon: RunDaemon) -> RealDaemon:
    it = run_daemon("demo", "--no-open", "--speed", "4")
    it.post("api/simulation", do="cook", working=False)
    return it


def begin(station: RealDaemon) -> list[dict[str, Any]]:
    """A batch whose vessel stands on the scale; its additions."""
    station.post("api/batches", formula="flatbread-dough", batch_g=str(SIZE_G), operator="Ada")
    additions: list[dict[str, Any]] = station.state()["batch"]["additions"]
    return additions


def pour(station: RealDaemon, grams: float) -> None:
    """Pour about so much, and wait until it is judged."""
    station.post("api/simulation", do="pour", g_per_s="40")
    station.until(lambda it: float(it["live"]["net_g"] or 0) > grams, "poured that much")
    station.post("api/simulation", do="stop")
    station.until(lambda it: it["live"]["verdict"] is not None, "judged it")


def accept(station: RealDaemon, batch: str) -> None:
    """Accept what is in; once more where the display moved on just then."""
    for tries_left in (4, 3, 2, 1, 0):
        station.until(lambda it: it["live"]["verdict"] is not None, "judged it")
        try:
            station.post(f"api/batches/{batch}/commands", do="accept", reason="as it is")
        except httpx.HTTPStatusError as error:
            if error.response.status_code != 409 or not tries_left:
                raise
            time.sleep(0.5)
        else:
            return


def named(station: RealDaemon) -> list[dict[str, Any]]:
    record = station.record("demo-0001")
    return [one["body"] for one in record["entries"] if one["kind"] == "lot named"]


def test_goods_are_received_by_keyboard_and_by_scanner(
    station: RealDaemon, open_page: OpenPage
) -> None:
    page = open_page(f"{station.url}#/receive")
    expect(page.get_by_label("Ingredient")).to_be_visible()
    scan(page, "]C1010950110153000310ABC123\x1d172799313103001250")
    expect(page.get_by_role("alert")).to_contain_text("Scan it again.")
    scan(page, "]C1010950110153000310ABC123\x1d172712313103001250")
    for label, value in (
        ("Lot on the pack", "ABC123"),
        ("Use by", "2027-12-31"),
        ("Trade number", "09501101530003"),
        ("How much", "1250"),
    ):
        expect(page.get_by_label(label)).to_have_value(value)
    page.get_by_label("Ingredient").focus()
    page.keyboard.type("caster", delay=80)
    expect(page.get_by_label("Ingredient")).to_have_value("sucrose")
    page.get_by_label("Supplier", exact=True).focus()
    page.keyboard.type("Mill", delay=80)
    page.get_by_label("Use by").fill("2027-02-30")
    page.get_by_label("Who").fill("Ada")
    page.get_by_label("Who").press("Enter")
    expect(page.get_by_label("Use by")).to_have_attribute("aria-invalid", "true")
    page.get_by_label("Use by").fill("2027-12-31")
    page.wait_for_timeout(200)
    page.get_by_label("Use by").press("Enter")
    expect(page.get_by_test_id("lot-facts")).to_contain_text("Mill")
    lot = station.get("api/lots")["lots"][0]
    assert (lot["ingredient"], lot["supplier"], lot["quantity_g"]) == ("sucrose", "Mill", "1250")
    # Scanned again, the same pack is that lot, wherever one is.
    page.goto(f"{station.url}#/lots")
    expect(page.get_by_role("link", name=re.compile("Caster sugar"))).to_be_visible()
    scan(page, "]C1010950110153000310ABC123\x1d172712313103001250")
    expect(page.get_by_role("heading", level=1)).to_contain_text(lot["lot"])
    page.locator("[data-act=block]").click()
    page.get_by_label("Why?").fill("a stone in it")
    page.get_by_label("Who").fill("Ada")
    page.get_by_role("button", name="Do it").click()
    expect(page.get_by_test_id("lot-facts")).to_contain_text("a stone in it")
    assert station.get("api/lots")["lots"][0]["fit"] == "blocked"


def test_a_wrong_ingredient_is_told_before_the_pour_and_a_lot_that_runs_out_is_split(
    station: RealDaemon, open_page: OpenPage
) -> None:
    additions = begin(station)
    first = additions[0]
    other = next(it for it in additions if it["ingredient"] != first["ingredient"])
    wrong = receive(station, other["ingredient"])
    one = receive(station, first["ingredient"], use_by="2099-01-01")
    two = receive(station, first["ingredient"], use_by="2099-02-01")
    old = receive(station, first["ingredient"], use_by="2001-01-01")
    page = open_page(station.url)
    expect(page.locator("[data-do='take lot']")).to_contain_text(f"Take {one}")

    scan(page, wrong)
    told = page.get_by_test_id("scan-said")
    expect(told).to_contain_text(f"That is {other['name']}; {first['name']} is being weighed.")
    expect(told.locator(".shape-fail")).to_be_visible()  # a shape, not only a colour
    assert named(station) == []
    page.keyboard.press("Enter")
    expect(page.locator("dialog")).to_have_count(0)
    scan(page, old)
    expect(told).to_contain_text("was to be used by 2001-01-01")
    page.keyboard.press("Escape")
    scan(page, "010950110153000410X")
    expect(told).to_contain_text("The check digit does not fit")
    page.keyboard.press("Escape")
    # The letters of a code are no keys of the board, and its Enter is not the big button.
    assert station.state()["live"]["phase"] == "awaiting vessel"
    assert named(station) == []

    page.wait_for_timeout(200)
    page.keyboard.press("k")
    expect(page.get_by_test_id("lot")).to_have_text(one)
    station.post("api/simulation", do="vessel", mass_g="820")
    station.until(lambda it: "tare" in it["live"]["can"], "saw the vessel")
    expect(page.get_by_test_id("phase")).to_have_text("Vessel on?")
    page.keyboard.press("t")
    station.until(lambda it: it["live"]["phase"] == "ready", "tared")
    pour(station, float(first["target_g"]) * 0.4)
    scan(page, two)
    dialog = page.locator("dialog")
    expect(dialog.get_by_label("As on the label of the pack")).to_have_value(two)
    expect(dialog.get_by_role("button", name="It was the wrong lot")).to_be_visible()
    dialog.get_by_role("button", name="It ran out").click()
    expect(page.get_by_test_id("lot")).to_have_text(two)
    expect(dialog).to_have_count(0)
    bodies = named(station)
    assert [one_["lot"] for one_ in bodies] == [one, two]
    assert float(bodies[1]["from_g"]) > float(first["target_g"]) * 0.3
    pour(station, float(first["target_g"]) * 0.9)
    batch = station.state()["batch"]["id"]
    accept(station, batch)
    entries = station.record(batch)["entries"]
    body = next(it["body"] for it in entries if it["kind"] == "addition accepted")
    assert [it["lot"] for it in body["lots"]] == [one, two]

    page.goto(f"{station.url}#/trace/{one}")
    row = page.get_by_test_id("forward").locator("li")
    expect(row).to_contain_text(batch)
    expect(page.get_by_test_id("balance")).to_contain_text("Nobody counted what is left")
    page.get_by_label("Code").fill(batch)
    page.get_by_role("button", name="Trace", exact=True).click()
    expect(page.get_by_test_id("back")).to_contain_text(one)
