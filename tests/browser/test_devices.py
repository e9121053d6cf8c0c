"""A tablet is let in with a code, works, and is out when it is forgotten: on two real pages.

The station's own page is at 127.0.0.1; the tablet is at 127.0.0.2, by TLS, where it is nobody until
it was paired.
"""

from __future__ import annotations

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.real_daemon import RealDaemon
from tests.browser.test_axe import in_both
from tests.browser.test_corrections import shot
from tests.station.tls_files import tls_files
from weighd.domain.devices import CODE_S

#: A certificate that only tests trust; a worker of the page would not come by it.
TRUSTING = {"ignore_https_errors": True, "service_workers": "block"}
SIZES = [(390, 844), (1024, 768), (1920, 1080)]


class Open(RealDaemon):
    """A station with a second door."""

    there = ""


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Open]:
    folder: Path = tmp_path_factory.mktemp("station")
    (folder / "formulas").mkdir()
    tls = tls_files(folder)
    with socket.socket() as probe:
        probe.bind(("127.0.0.2", 0))
        port = probe.getsockname()[1]
    config = folder / "weighd.toml"
    config.write_text(
        '[station]\nname = "test"\nformulas = "formulas"\n[scales.bench]\ndriver = "simulated"\n'
        f'[elsewhere]\nhost = "127.0.0.2"\nport = {port}\nnames = ["127.0.0.2"]\n{tls.toml}\n'
    )
    it = Open(folder, "serve", "--config", str(config))
    it.there = f"https://127.0.0.2:{port}/"
    it.start()
    yield it
    it.stop()


def offered(own: Page, name: str, may: str) -> str:
    """Have a code shown at the station; the code."""
    own.get_by_role("button", name="Let a device in").click()
    form = own.get_by_test_id("add-device")
    form.locator("[name=name]").fill(name)
    form.locator(f"[name=may][value={may}]").check()
    form.get_by_role("button", name="Show the code").click()
    return own.locator(".code-digits").inner_text().replace(" ", "")


def let_in(tablet: Page, code: str) -> None:
    """Type a code on the large keys."""
    for digit in code:
        tablet.get_by_role("button", name=digit, exact=True).click()
    tablet.get_by_role("button", name="OK", exact=True).click()


def test_a_tablet_comes_in_works_and_is_forgotten(station: Open, open_page: OpenPage) -> None:
    own = open_page(f"{station.url}#/settings")
    own.get_by_test_id("to-devices").click()
    expect(own.get_by_text("No other device was let in.")).to_be_visible()
    tablet = open_page(station.there, **TRUSTING, viewport={"width": 1024, "height": 768})
    expect(tablet.get_by_test_id("knock")).to_be_visible()
    expect(tablet.get_by_text("Let this device in")).to_be_visible()
    for width, height in SIZES:
        tablet.set_viewport_size({"width": width, "height": height})
        assert tablet.evaluate("document.documentElement.scrollWidth <= innerWidth")
        for key in tablet.locator(".keypad .key").all():
            box = key.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= 64
            assert box["y"] + box["height"] <= height
        shot(tablet, f"knock-{width}")
    assert in_both(tablet) == []
    code = offered(own, "tablet at the bench", "work")
    expect(own.get_by_text(station.there)).to_be_visible()
    expect(own.get_by_role("timer")).to_contain_text("4:5")
    assert CODE_S == 300
    for width, height in SIZES:
        own.set_viewport_size({"width": width, "height": height})
        assert own.evaluate("document.documentElement.scrollWidth <= innerWidth")
        shot(own, f"code-{width}")
    assert in_both(own) == []
    let_in(tablet, f"{(int(code) + 1) % 10**8:08}")
    expect(tablet.locator(".complaint")).to_contain_text("That is not the code")
    let_in(tablet, code)
    expect(tablet.get_by_test_id("knock")).to_have_count(0)
    tablet.locator("main.start, .formulas, main").first.wait_for()
    expect(own.get_by_text("tablet at the bench was let in.")).to_be_visible()
    row = own.locator('[data-device="tablet at the bench"]')
    expect(row).to_contain_text("Works, let in")
    [cookie] = tablet.context.cookies()
    assert (cookie["name"], cookie["httpOnly"], cookie["secure"], cookie["sameSite"]) == (
        "__Host-weighd-device-test",
        True,
        True,
        "Strict",
    )
    assert tablet.evaluate("document.cookie") == ""
    tablet.reload()
    expect(tablet.get_by_test_id("knock")).to_have_count(0)
    tablet.goto(f"{station.there}#/devices")
    mine = tablet.locator('[data-device="tablet at the bench"]')
    expect(mine).to_contain_text("this device")
    expect(tablet.get_by_text("at the station's own screen")).to_be_visible()
    expect(mine.get_by_role("button")).to_have_count(0)
    # Forgotten while its page is open: it says so, and offers the way in.
    own.get_by_role("button", name="Close").click()
    row.get_by_role("button", name="Forget").click()
    row.get_by_role("button", name="Press again to forget").click()
    expect(row).to_have_count(0)
    expect(tablet.get_by_test_id("knock")).to_contain_text("forgotten at the station")
    shot(tablet, "forgotten")


def test_a_screen_on_the_wall_only_looks_and_says_when_it_is_out(
    station: Open, open_page: OpenPage
) -> None:
    own = open_page(f"{station.url}#/devices")
    wall = open_page(f"{station.there}#/wall/on", **TRUSTING, locale="de-DE", timezone_id="UTC")
    expect(wall.get_by_text("Dieses Gerät einlassen")).to_be_visible()
    let_in(wall, offered(own, "wall", "look"))
    expect(wall.get_by_test_id("wall-quiet")).to_be_visible()
    expect(own.get_by_text("wall was let in.")).to_be_visible()
    wall.goto(f"{station.there}#/settings")
    expect(wall.get_by_test_id("only-looks")).to_contain_text("Dieses Gerät zeigt nur")
    wall.goto(f"{station.there}#/wall/on")
    expect(wall.get_by_test_id("wall-quiet")).to_be_visible()
    station.post("api/devices/wall/forget")
    expect(wall.get_by_test_id("knock")).to_contain_text("an der Station vergessen")


def test_without_a_second_door_the_way_to_one_is_told(page: Page, open_page: OpenPage) -> None:
    """By the pretend station, which answers as one that is open to its own computer only."""
    page.route(
        "**/api/devices",
        lambda route: route.fulfill(
            json={"at": [], "plain": False, "here": True, "devices": [], "waiting": None}
        ),
    )
    page.goto(f"{page.url.partition('#')[0]}#/devices")
    expect(page.get_by_text("open to its own computer only")).to_be_visible()
    expect(page.locator(".code-lines")).to_contain_text("[elsewhere]")
    expect(page.get_by_role("button", name="Let a device in")).to_have_count(0)
    assert in_both(page) == []
