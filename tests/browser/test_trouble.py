"""The page at the real daemon when things go wrong: a killed station, a pulled cable, two hands."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OpenPage, RunDaemon
from tests.browser.real_daemon import RealDaemon
from tests.pty_scale import PtyScale

DASHES = "–––"
BAD = "<script>window.bad = 1</script><img src=x onerror='window.bad = 1'>"

FORMULA = """
name = "Test dough"
[ingredients]
flour = { name = "Flour" }
water = { name = "Water" }
[[additions]]
ingredient = "flour"
target = "400 g"
tolerance = "15 g"
[[additions]]
ingredient = "water"
target = "250 g"
tolerance = "15 g"
"""

CONFIGURATION = """
[station]
name = "kitchen"
formulas = "formulas"
operators = ["Ada", "Bo <b>bold</b>"]
"""

#: A scale on a tty: what stands on it outlives the daemon, as on a real bench.
ON_A_TTY = (
    CONFIGURATION
    + """
[scales.bench]
driver = "serial"
port = "{port}"
shape = "status-sign-digits-unit"
max_g = "6000"
interval_g = "0.1"
"""
)

SIMULATED = (
    CONFIGURATION
    + """
[scales.bench]
driver = "simulated"
"""
)


def kitchen(folder: Path, configuration: str, formula: str = FORMULA) -> Path:
    """A folder with a configuration and one formula; the configuration's path."""
    (folder / "formulas").mkdir()
    (folder / "formulas" / "test-dough.toml").write_text(formula, encoding="utf-8")
    path = folder / "weighd.toml"
    path.write_text(configuration, encoding="utf-8")
    return path


@pytest.fixture
def scale(tmp_path: Path) -> Iterator[PtyScale]:
    """A scale on a tty, with a vessel's place and nothing on it."""
    with PtyScale(tmp_path / "tty", speed=4) as it:
        yield it


@pytest.fixture
def station(run_daemon: RunDaemon, tmp_path: Path, scale: PtyScale) -> RealDaemon:
    """The daemon at that scale, a batch open, its vessel tared."""
    path = kitchen(tmp_path, ON_A_TTY.format(port=scale.link))
    it = run_daemon("serve", "--config", str(path))
    it.until(lambda state: state["scales"]["bench"]["link"] == "live", "live")
    it.begin("test-dough")
    it.tare(lambda: scale.bench.vessel(251.3))
    return it


def pour(scale: PtyScale, to: float) -> None:
    """Pour until about so much is in the vessel: fast at first, gently at the end."""
    deadline = time.monotonic() + 10
    for rate, before in ((75, 60), (10, 5)):
        scale.bench.pour(rate)
        while float(scale.bench.picture()["contents_g"] or 0) < to - before:
            assert time.monotonic() < deadline, "it did not pour"
            time.sleep(0.005)
    scale.bench.stop()


def test_a_killed_station_is_away_at_once_and_the_batch_goes_on_after_it(
    station: RealDaemon, scale: PtyScale, open_page: OpenPage
) -> None:
    page = open_page(station.url)
    number, plate = page.get_by_test_id("number-main"), page.get_by_test_id("phase")
    pour(scale, 200)
    expect(plate).to_have_text("Short")
    before = number.inner_text()
    station.kill()
    expect(number).to_have_text(DASHES, timeout=1000)
    expect(page.get_by_test_id("banner-lost")).to_be_visible(timeout=1000)
    expect(plate).to_have_text("No connection")
    expect(page.locator(".in-vessel b")).to_have_text(DASHES)
    expect(page.get_by_test_id("primary")).to_have_attribute("aria-disabled", "true")
    page.wait_for_timeout(500)  # and it stays so, however often the page knocks
    expect(number).to_have_text(DASHES)

    station.start()
    expect(page.get_by_test_id("banner-lost")).to_have_count(0, timeout=8000)
    expect(
        page.get_by_text("The station restarted. The batch goes on where it was.")
    ).to_be_visible()
    expect(plate).to_have_text("Short")
    assert abs(float(number.inner_text()) - float(before)) <= 0.2
    pour(scale, 400)
    expect(plate).to_have_text("On target")
    page.get_by_test_id("primary").click()
    expect(page.get_by_test_id("ingredient")).to_have_text("Water")
    expect(plate).to_have_text("Ready to pour")
    page.goto(f"{station.url}#/records/kitchen-0001")
    expect(page.locator(".record-addition header").first).to_contain_text("On target")
    expect(page.locator(".events li", has_text="Station restarted")).to_have_count(1)


def test_two_pages_that_accept_at_the_same_moment_accept_once(
    station: RealDaemon, scale: PtyScale, open_page: OpenPage
) -> None:
    pages = [open_page(station.url), open_page(station.url)]

    def both_press() -> None:
        """A click in each page at one moment of the clock that they share."""
        for page in pages:
            expect(page.get_by_test_id("phase")).to_have_text("On target")
        texts = [page.get_by_test_id("primary").inner_text() for page in pages]
        assert texts[0] == texts[1]
        at = time.time() * 1000 + 400
        for page in pages:
            page.evaluate(
                """at => void setTimeout(
                  () => document.querySelector('#primary').click(), at - Date.now())""",
                at,
            )

    pour(scale, 400)
    both_press()
    for page in pages:
        expect(page.get_by_test_id("ingredient")).to_have_text("Water")
        page.wait_for_timeout(500)  # an answer that is still on its way has come by then
        expect(page.get_by_role("alert")).to_have_count(0)
        expect(page.locator(".complaint")).to_have_count(0)
    pour(scale, 650)
    both_press()
    for page in pages:
        expect(page.get_by_test_id("done")).to_be_visible()
        expect(page.get_by_role("alert")).to_have_count(0)
    kinds = [it["kind"] for it in station.record("kitchen-0001")["entries"]]
    assert kinds == ["batch opened", "tared", *["addition accepted"] * 2, "batch closed"]


def test_a_scale_unplugged_in_mid_pour_is_said_and_weighing_goes_on(
    run_daemon: RunDaemon, open_page: OpenPage
) -> None:
    station = run_daemon("demo", "--no-open", "--speed", "4")
    station.simulate("cook", working=False)
    station.begin("lemon-sorbet")
    page = open_page(station.url, viewport={"width": 1440, "height": 900})
    station.tare(lambda: station.simulate("vessel", mass_g="251.3"))
    number, plate = page.get_by_test_id("number-main"), page.get_by_test_id("phase")
    expect(plate).to_have_text("Ready to pour")
    page.get_by_test_id("pour").focus()
    page.keyboard.down(" ")
    expect(plate).to_have_text("Pouring")
    station.until(lambda it: float(it["live"]["net_g"] or 0) > 100, "more than 100 g")
    page.get_by_role("button", name="Unplug scale").dispatch_event("click")  # Space is still held
    expect(plate).to_have_text("Scale lost")
    expect(number).to_have_text(DASHES)
    page.keyboard.up(" ")
    expect(page.get_by_test_id("held")).to_contain_text("Plug it in again")
    expect(page.get_by_test_id("held")).to_contain_text("In the vessel so far")
    expect(page.get_by_test_id("scale-state")).to_contain_text("Lost")
    expect(page.get_by_test_id("primary")).to_have_text("Plug the scale in")

    page.get_by_role("button", name="Plug scale in").click()
    expect(plate).to_have_text("Short")
    expect(page.get_by_test_id("held")).to_have_count(0)
    net = float(station.state()["live"]["net_g"])
    poured = station.get("api/simulation")["load"]["contents_g"]
    assert abs(net - poured) <= 0.2  # what ran in unseen is counted once the scale is back
    station.simulate("pour", g_per_s="20")
    expect(plate).to_have_text("Pouring")
    station.simulate("stop")
    kinds = [it["kind"] for it in station.record("demo-0001")["entries"]]
    assert kinds == ["batch opened", "tared", "held", "resumed"]


def test_names_from_formula_files_are_text_and_operators_are_offered(
    run_daemon: RunDaemon, tmp_path: Path, open_page: OpenPage
) -> None:
    evil = FORMULA.replace('"Test dough"', f'"{BAD}"').replace('"Flour"', f'"{BAD}"')
    station = run_daemon("serve", "--config", str(kitchen(tmp_path, SIMULATED, evil)))
    page = open_page(station.url)
    page.get_by_role("link", name=BAD).click()
    sheet = page.get_by_test_id("formula")
    expect(sheet.get_by_role("heading", name=BAD)).to_be_visible()
    expect(sheet.locator("tbody th").first).to_have_text(BAD)
    sheet.get_by_role("button", name="Bo <b>bold</b>", exact=True).click()
    expect(sheet.get_by_label("Who is weighing")).to_have_value("Bo <b>bold</b>")
    expect(sheet.get_by_role("button", name="Ada", exact=True)).to_be_visible()
    sheet.get_by_role("button", name="Start").click()
    expect(page.get_by_test_id("ingredient")).to_have_text(BAD)
    expect(page.locator(".additions h2")).to_contain_text(BAD)
    page.goto(f"{station.url}#/records/kitchen-0001")
    expect(page.locator("h1")).to_contain_text(BAD)
    expect(page.locator(".facts").first).to_contain_text("Bo <b>bold</b>")
    assert page.evaluate("window.bad") is None
    assert page.evaluate("document.querySelector('main b, main img, main script')") is None
