"""Signing in on large keys, a second person's PIN for one act, the list of people: on the page."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.real_daemon import RealDaemon
from tests.browser.test_corrections import shot
from tests.station.listed_people import PINS
from tests.station.test_countersigned import Cook
from weighd.domain.people import ALL, Right
from weighd.station.people import People
from weighd.storage.journal import open_journal
from weighd.storage.pins import Argon2Pins

SIZES = [(390, 844), (1024, 768), (1920, 1080)]


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealDaemon]:
    """A station with a batch of Zoe's, where Ada may do all, Bo accept and sign, Cy nothing."""
    folder = tmp_path_factory.mktemp("station")
    journal = open_journal(folder / "data" / "weighd.db", "test")
    hand = Cook(who="Zoe")
    hand.weigh()
    journal.append(hand.journal)
    people = People(journal.people(), Argon2Pins(1, 8), lambda: "2026-11-25T09:00:00.000Z")
    people.add("Ada", ALL, PINS["Ada"])
    people.add("Bo", {Right.ACCEPT, Right.COUNTERSIGN}, PINS["Bo"])
    people.add("Cy", (), PINS["Cy"])
    journal.close()
    (folder / "formulas").mkdir()
    config = folder / "weighd.toml"
    config.write_text('[station]\nname = "test"\nformulas = "formulas"\n')
    it = RealDaemon(folder, "serve", "--config", str(config))
    it.start()
    yield it
    it.stop()


def sign_in(page: Page, name: str) -> None:
    page.get_by_test_id("person").click()
    page.locator(f'.person-names [data-person="{name}"]').click()
    type_pin(page, PINS[name])
    expect(page.get_by_test_id("person")).to_have_text(f"Signed in: {name}")


def type_pin(page: Page, pin: str) -> None:
    """By keyboard, more slowly than a scanner does."""
    expect(page.locator("[name=pin]")).to_be_focused()
    page.keyboard.type(pin, delay=80)
    page.keyboard.press("Enter")
    expect(page.locator(".keypad")).to_have_count(0)


@pytest.mark.parametrize("size", SIZES)
def test_signing_in_by_large_keys_in_every_window(
    station: RealDaemon, open_page: OpenPage, size: tuple[int, int]
) -> None:
    page = open_page(station.url, viewport={"width": size[0], "height": size[1]})
    page.get_by_test_id("person").click()
    page.locator('.person-names [data-person="Bo"]').click()
    keys = page.locator(".keypad .key")
    for one in keys.all():
        box = one.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 64
        assert box["y"] + box["height"] <= size[1]
    for digit in "0001":
        page.get_by_role("button", name=digit, exact=True).click()
    page.get_by_role("button", name="OK", exact=True).click()
    expect(page.locator(".keypad .complaint")).to_contain_text("not the PIN of this name")
    shot(page, f"keypad-{size[0]}")
    # A key that was touched has the focus, and the keyboard goes on.
    page.get_by_role("button", name=PINS["Bo"][0], exact=True).click()
    page.keyboard.type(PINS["Bo"][1:], delay=80)
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("person")).to_have_text("Signed in: Bo")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.evaluate("document.cookie") == ""  # no script reads it
    page.reload()
    expect(page.get_by_test_id("person")).to_have_text("Signed in: Bo")
    sign_in(page, "Cy")  # a change of person
    page.get_by_test_id("person").click()
    page.get_by_test_id("sign-out").click()
    expect(page.get_by_test_id("person")).to_have_text("Sign in")


def test_a_record_is_countersigned_by_who_may(station: RealDaemon, open_page: OpenPage) -> None:
    page = open_page(f"{station.url}#/records/test-0001")
    sign_in(page, "Cy")
    section = page.get_by_test_id("countersigned")
    section.get_by_role("button", name="Countersign").click()
    expect(section).to_contain_text("Sign in as somebody who may countersign.")
    section.get_by_role("button", name="Sign in").click()
    page.locator('.person-names [data-person="Bo"]').click()
    type_pin(page, PINS["Bo"])
    section.get_by_label("Note").fill("sheet seen")
    section.get_by_role("button", name="Countersign this record").click()
    expect(section.locator("li")).to_contain_text("Bo, ")
    expect(section.locator("li")).to_contain_text("sheet seen")


def test_the_list_is_changed_by_who_may_or_with_their_pin(
    station: RealDaemon, open_page: OpenPage
) -> None:
    page = open_page(f"{station.url}#/people")
    expect(page.locator(".person-list > li")).to_have_count(3)
    expect(page.get_by_text("Only whoever may look after people")).to_be_visible()
    sign_in(page, "Ada")
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        shot(page, f"people-{width}")
    page.get_by_role("button", name="Add somebody").click()
    form = page.get_by_test_id("add-person")
    form.locator("[name=name]").fill("Dee")
    form.locator("[name=new-pin]").fill("1234")
    form.get_by_label("Correct").check()
    form.get_by_role("button", name="Save").click()
    expect(form.locator(".complaint")).to_contain_text("first that anybody would try")
    form.locator("[name=new-pin]").fill("3141")
    form.get_by_role("button", name="Save").click()
    dee = page.locator('.person[data-person="Dee"]')
    expect(dee).to_contain_text("Correct")
    # Signed out at the station meanwhile: the act waits for somebody's PIN, and goes on.
    page.context.clear_cookies()
    dee.get_by_role("button", name="Change").click()
    dee.get_by_role("button", name="Retire").click()
    dee.get_by_role("button", name="Press again").click()
    expect(page.locator(".sheet")).to_contain_text("somebody who may look after people")
    type_pin(page, PINS["Ada"])
    expect(dee).to_have_count(0)
    expect(page.locator(".person-list > li")).to_have_count(3)
