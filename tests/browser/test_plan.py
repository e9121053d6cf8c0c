"""A batch by the plan, on two real scales' lines: the page tells the hands what to do, and holds
the cook to it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from playwright.sync_api import Page, expect

from tests.browser.real_daemon import RealDaemon
from tests.pty_scale import PtyScale
from tests.station.daemon import FAST
from weighd_drivers.sim_parameters import BenchParameters

FORMULA = """
name = "Bench sherbet"
scenario = "An invented kitchen's formula."
[ingredients]
milk = { name = "Milk", allergens = ["milk"] }
salt = { name = "Fine salt" }
gum = { name = "Gum" }
sugar = { name = "Caster sugar" }
[[additions]]
ingredient = "milk"
target = "620 g"
tolerance = "2 %"
[[additions]]
ingredient = "salt"
target = "2 g"
tolerance = "0.2 g"
[[additions]]
ingredient = "gum"
target = "23.5 g"
tolerance = "0.2 g"
[[additions]]
ingredient = "sugar"
target = "540 g"
tolerance = "9 g"
"""


class Bench:
    """Two scales and hands: what stands on which, and what is poured."""

    def __init__(self, folder: Path) -> None:
        (folder / "formulas").mkdir()
        (folder / "formulas" / "bench-sherbet.toml").write_text(FORMULA)
        self.big = PtyScale(
            folder / "big", BenchParameters(interval_g=Decimal(1)), seed=3, speed=FAST
        )
        self.fine = PtyScale(
            folder / "fine",
            BenchParameters(
                capacity_g=Decimal(500), interval_g=Decimal("0.01"), noise_g=0.002, wander_g=0.001
            ),
            seed=4,
            speed=FAST,
        )
        (folder / "weighd.toml").write_text(
            f"""
            [station]
            formulas = "{folder / "formulas"}"
            [scales.big]
            port = "{folder / "big"}"
            interval_g = "1"
            max_g = 6000
            [scales.fine]
            port = "{folder / "fine"}"
            interval_g = "0.01"
            max_g = 500
            """
        )
        self.config = folder / "weighd.toml"
        self.daemon = RealDaemon(folder, "serve", "--config", str(self.config), hurry=FAST)
        self.big.start()
        self.fine.start()
        self.daemon.start()

    def close(self) -> None:
        self.daemon.stop()
        self.big.close()
        self.fine.close()


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    it = Bench(tmp_path)
    yield it
    it.close()


def first(page: Page) -> list[str]:
    return page.get_by_test_id("first").locator("li").all_inner_texts()


def tare(page: Page) -> None:
    """Tare; a display that wavered just then refuses, and the cook presses again."""
    for _ in range(5):
        expect(page.get_by_test_id("primary")).to_contain_text("Tare", timeout=15000)
        page.keyboard.press("Enter")
        with contextlib.suppress(AssertionError):
            expect(page.get_by_test_id("phase")).to_have_text("Ready to pour", timeout=3000)
            return
    raise AssertionError(page.locator("main").inner_text())


def test_a_batch_on_two_scales_by_keyboard(bench: Bench, open_page: Callable[..., Page]) -> None:
    page = open_page(bench.daemon.url, viewport={"width": 1280, "height": 900})
    page.set_default_timeout(15000)
    page.get_by_role("link", name="Bench sherbet").press("Enter")
    planned = page.get_by_test_id("planned")
    page.get_by_label("Empty bowl").fill("400")
    expect(planned).to_contain_text("4 weighings, 3 moves")
    expect(planned).to_contain_text("Set an empty dish on fine")
    page.get_by_label("Who is weighing").fill("Tester")
    page.get_by_label("Who is weighing").press("Enter")
    expect(page.get_by_test_id("ingredient")).to_have_text("Milk")
    expect(page.get_by_test_id("place")).to_have_text("On big, into the bowl")
    assert first(page) == ["Set the bowl on big"]
    press = page.get_by_test_id("primary")

    bench.big.bench.vessel(400.0)
    tare(page)
    bench.big.bench.tap(620.0)
    expect(press).to_contain_text("Accept", timeout=15000)
    page.keyboard.press("Enter")

    expect(page.get_by_test_id("ingredient")).to_have_text("Fine salt")
    expect(page.get_by_test_id("place")).to_have_text("On fine, into the dish")
    assert first(page) == ["Set an empty dish on fine"]
    bench.fine.bench.vessel(61.0)
    tare(page)
    bench.fine.bench.tap(2.0)
    expect(press).to_contain_text("Accept", timeout=15000)
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("ingredient")).to_have_text("Gum")
    bench.fine.bench.tap(23.5)
    expect(press).to_contain_text("Accept", timeout=15000)
    page.keyboard.press("Enter")

    # The dish is forgotten: the bowl is lighter than it should be, and the page says so.
    expect(page.get_by_test_id("ingredient")).to_have_text("Caster sugar")
    assert first(page) == ["Tip the dish into the bowl and scrape it out"]
    expect(page.get_by_test_id("due")).to_contain_text("lighter than it should be", timeout=15000)
    expect(press).to_have_text("Tip the dish into the bowl")
    expect(press).to_have_attribute("aria-disabled", "true")
    page.keyboard.press("t")
    expect(page.get_by_test_id("phase")).to_have_text("Vessel on?")
    bench.big.bench.tap(25.5)
    expect(page.get_by_test_id("due")).to_contain_text("With all of the dish in it", timeout=15000)
    tare(page)
    bench.big.bench.tap(540.0)
    expect(press).to_contain_text("Accept", timeout=15000)
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("done")).to_contain_text("Batch finished")


def test_another_scale_takes_over_where_one_is_lost(
    bench: Bench, open_page: Callable[..., Page]
) -> None:
    page = open_page(bench.daemon.url, viewport={"width": 1280, "height": 900})
    page.set_default_timeout(15000)
    page.get_by_role("link", name="Bench sherbet").press("Enter")
    page.locator("select[name=scale]").select_option("fine")
    page.locator("input[name=batch_g]").fill("400")
    page.get_by_label("Who is weighing").fill("Tester")
    page.get_by_label("Who is weighing").press("Enter")
    expect(page.get_by_test_id("ingredient")).to_have_text("Milk")
    bench.fine.bench.vessel(61.0)
    tare(page)
    bench.fine.unplug()
    held = page.get_by_test_id("held")
    expect(held).to_be_visible(timeout=15000)
    held.get_by_role("button", name="Another scale").press("Enter")
    page.get_by_role("dialog").locator("button[data-scale=big]").press("Enter")
    expect(page.get_by_test_id("scale-state")).to_contain_text("big")
    bench.big.bench.vessel(400.0)
    tare(page)
    bench.big.bench.tap(209.0)
    expect(page.get_by_test_id("primary")).to_contain_text("Accept", timeout=15000)
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("ingredient")).to_have_text("Fine salt")


def test_a_batch_is_sized_in_words_and_its_targets_go_to_the_steps_of_the_scales(
    bench: Bench, open_page: Callable[..., Page]
) -> None:
    page = open_page(bench.daemon.url, viewport={"width": 390, "height": 844})
    page.set_default_timeout(15000)
    page.get_by_role("link", name="Bench sherbet").press("Enter")
    size = page.locator("input[name=batch_g]")
    size.fill("unicorn=3 g")
    expect(page.get_by_test_id("formula")).to_contain_text('The formula has no "unicorn"')
    size.fill("7 x 77.77 g")
    expect(page.get_by_test_id("sized")).to_have_text("7 servings of 77.77 g: 544.39 g")
    page.locator("input[name=rounded]").press("Space")
    expect(page.get_by_test_id("moved")).to_contain_text("do not say what they hold")
    page.get_by_label("Who is weighing").fill("Tester")
    page.get_by_label("Who is weighing").press("Enter")
    expect(page.get_by_test_id("phase")).to_be_visible()
    entries = bench.daemon.record(bench.daemon.state()["batch"]["id"])["entries"]
    assert entries[0]["body"]["batch_g"] == "544.39"
    rounded = entries[0]["body"]["size"]["rounded"]
    assert [one["n"] for one in rounded] == [1, 2, 3, 4]
    assert all(
        "kept" in one or Decimal(one["target_g"]) % Decimal(one["interval_g"]) == 0
        for one in rounded
    )
