"""From an empty folder to a first weighed batch, as somebody new goes; each step in trouble."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.fake_daemon import FakeDaemon
from tests.browser.real_daemon import RealDaemon
from tests.browser.test_axe import violations
from tests.pty_scale import PtyScale

ROOT = Path(__file__).resolve().parents[2]


class EmptyFolder(RealDaemon):
    """``weighd serve`` in a folder that holds nothing, on a machine with one port or none."""

    def __init__(self, folder: Path, port: str, hurry: float) -> None:
        super().__init__(folder, "serve", hurry=hurry)
        # --data is left out: a newcomer gives no options.
        at = self._command[self._command.index("--port") + 1]
        self._command = [str(ROOT / "tests/with_port.py"), port, "serve", "--port", at]
        self._folder = folder

    def start(self) -> None:
        env = {**os.environ, **self._clock, "PYTHONUNBUFFERED": "1", "HOME": str(self._folder)}
        env["PYTHONPATH"] = os.pathsep.join([str(ROOT), env.get("PYTHONPATH", "")])
        with self._errors.open("a") as errors:
            self._process = subprocess.Popen(
                [sys.executable, *self._command], stdout=subprocess.PIPE, stderr=errors,
                text=True, cwd=self._folder, env=env,
            )  # fmt: skip
        assert self._process.stdout is not None
        assert re.search(r"http://\S+", self._process.stdout.readline())


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Callable[..., EmptyFolder]]:
    running: list[EmptyFolder] = []

    def start(port: str, hurry: float = 1) -> EmptyFolder:
        it = EmptyFolder(tmp_path, port, hurry)
        running.append(it)
        it.start()
        return it

    yield start
    for it in running:
        it.stop()


def step(page: Page, name: str) -> None:
    expect(page.locator(f"[data-testid=walk][data-step={name}]")).to_be_visible(timeout=15_000)


def hint(page: Page, *names: str) -> None:
    said = ", ".join(f"[data-testid=first-hint][data-hint='{one}']" for one in names)
    expect(page.locator(said)).to_be_visible(timeout=15_000)


def test_somebody_new_weighs_a_batch_on_the_simulated_scale(
    empty: Callable[..., EmptyFolder], open_page: OpenPage, tmp_path: Path
) -> None:
    station = empty(str(tmp_path / "nothing"), 2)
    page = open_page(station.url)
    step(page, "scale")
    expect(page.get_by_test_id("first-none")).to_be_visible()
    wrong = violations(page)
    page.get_by_role("button", name="Try it with a simulated scale").click()
    step(page, "you")
    assert "banner-lost" not in page.content()
    assert tomllib.loads((tmp_path / "weighd.toml").read_text())["scales"]["bench"]["driver"]
    wrong += violations(page)
    page.reload()  # comes back to the same step
    step(page, "you")
    page.get_by_label("Name").fill("Ada")
    page.get_by_role("button", name="Go on").click()
    step(page, "formula")
    wrong += violations(page)
    page.locator("[data-testid=first-list] summary").click()
    page.get_by_label("What it makes").fill("Test ice")
    page.get_by_label("The list").fill("60 g milk ± 12 g\n40 g sugar ± 12 g")
    page.get_by_role("button", name="Weigh this").click()
    hint(page, "set down")
    wrong += violations(page)
    page.get_by_role("button", name="Set the bowl down").click()
    hint(page, "tare")
    page.get_by_test_id("primary").click()
    for n in range(2):
        hint(page, "pour")
        page.get_by_test_id("pour").hover()
        page.mouse.down()
        station.until(
            lambda it: (
                (it["live"]["cue"] or {}).get("cue") == "stop"
                or float(it["live"]["to_go_g"] or 99) < 3
            ),
            "poured",
        )
        page.mouse.up()
        hint(page, "take it")
        page.get_by_test_id("primary").click()
        if n == 0:
            expect(page.get_by_test_id("ingredient")).to_have_text("sugar")
    end = page.get_by_test_id("first-end")
    expect(end).to_contain_text("2 ingredients")
    expect(end).to_contain_text("simulated")
    expect(end.get_by_role("link")).to_have_count(5)
    assert wrong + violations(page) == []
    record = station.record("station-0001")["entries"]
    opened, last = record[0]["body"], record[-1]
    assert opened["operator"] == "Ada"
    assert opened["scales"]["bench"]["driver"] == "simulated", "the record says so"
    assert last["kind"] == "batch closed"
    # Once only: the next batch is weighed without hints.
    station.begin("test-ice")
    page.goto(f"{station.url}#/")
    expect(page.get_by_test_id("primary")).to_be_visible()
    expect(page.get_by_test_id("first-hint")).to_have_count(0)


def test_a_scale_on_a_port_is_found_heard_and_set_up(
    empty: Callable[..., EmptyFolder], open_page: OpenPage, tmp_path: Path
) -> None:
    with PtyScale(tmp_path / "port") as scale:
        scale.bench.vessel(250)
        station = empty(str(tmp_path / "port"))
        page, other = open_page(station.url), open_page(station.url)
        place = page.get_by_test_id(f"place-{tmp_path / 'port'}")
        expect(place.get_by_test_id("first-reading")).to_contain_text("250", timeout=15_000)
        assert violations(page) == []
        place.get_by_role("button", name="Use this scale").click()
        expect(place.get_by_label("Its smallest step")).to_have_value("0.1")
        place.get_by_label("It weighs up to").fill("6000")
        place.get_by_role("button", name="Use this scale").click()
        step(page, "you")
        # The other page does not ask once more.
        expect(other.get_by_role("heading", name="The scale bench is set up")).to_be_visible()
        state = station.until(lambda it: it["scales"]["bench"]["link"] == "live", "live")
        assert state["station"]["simulation"] is False
        written = tomllib.loads((tmp_path / "weighd.toml").read_text())["scales"]["bench"]
        plate = {"max_g": "6000", "interval_g": "0.1"}
        assert written == {"driver": "serial", "port": str(tmp_path / "port"), **plate}
        page.get_by_role("link", name="Leave it out").click()
        page.locator("[data-testid=first-examples] button").first.click()
        hint(page, "tare")
        assert scale.received == b""


# --- each step in trouble, at a pretend station --------------------------------------------------

PLACE = {
    "id": "serial:/dev/ttyUSB0", "driver": "serial", "where": "/dev/ttyUSB0", "what": "An adapter",
    "used": "", "state": "listening", "why": "", "rule": False,
}  # fmt: skip
LOOKED = {"folder": "/srv/kitchen", "file": "weighd.toml", "scales": [], "faults": []}


class Pretend:
    """What a pretend station says of ports, and what it was asked."""

    def __init__(self, daemon: FakeDaemon) -> None:
        self.daemon = daemon
        self.places: list[dict[str, Any]] = []
        self.refusal: dict[str, str] | None = None
        self.asked: list[tuple[str, Any]] = []

    async def answer(self, path: str, body: Any) -> tuple[int, Any]:
        self.asked.append((path, body))
        if self.refusal is not None and path != "learn":
            return 409, self.refusal
        if path == "scale":
            return 200, {"scale": "bench", "anew": True}
        return 200, {**LOOKED, "places": self.places}


@pytest.fixture
def pretend(daemon: FakeDaemon) -> Iterator[Pretend]:
    it = Pretend(daemon)
    daemon.first = it.answer
    daemon.state["scales"] = {}
    yield it
    daemon.first = None


def test_every_state_of_a_port_says_what_to_do(pretend: Pretend, open_page: OpenPage) -> None:
    page = open_page(pretend.daemon.url, viewport={"width": 390, "height": 844})
    expect(page.get_by_test_id("first-none")).to_contain_text("Is it switched on?")
    wrong = violations(page)
    place = page.get_by_test_id("place-/dev/ttyUSB0")
    denied = "No permission for /dev/ttyUSB0: add the user to the group dialout."
    for state, more, said, button in (
        ("listening", {}, "Listening", None),
        ("silent", {}, "It says nothing", "Try the usual speeds"),
        ("trying", {"why": "Trying other rates."}, "up to a minute", None),
        ("in vain", {"why": "It says nothing by itself."}, "by itself", "Try once more"),
        ("unreadable", {}, "nothing that is understood", "Try the usual speeds"),
        ("refused", {"why": denied}, "group dialout", None),
        ("refused", {"why": "x", "rule": True}, "weighd scales --rule | sudo tee", None),
        ("used", {"used": "bench"}, "already", None),
    ):
        pretend.places = [{**PLACE, "state": state, **more}]
        expect(place).to_contain_text(said)
        assert place.get_by_role("button").all_inner_texts() == ([button] if button else [])
        wrong += violations(page)
    pretend.refusal = {"code": "not-here", "detail": "Not here."}
    expect(page.get_by_role("alert")).to_contain_text("own computer")
    assert wrong + violations(page) == []


def test_a_refused_choice_is_kept_and_a_lost_station_said(
    pretend: Pretend, open_page: OpenPage
) -> None:
    page = open_page(pretend.daemon.url)
    shown = {"shown": "12.5", "unit": "g", "grams": "12.5", "stable": True}
    reading = {**shown, "over": False, "fault": ""}
    pretend.places = [{**PLACE, "state": "reading", "reading": reading, "step_g": "0.5"}]
    page.get_by_role("button", name="Use this scale").click()
    most, least = page.get_by_label("It weighs up to"), page.get_by_label("Its smallest step")
    expect(least).to_have_value("0.5")
    most.fill("heavy")
    expect(page.get_by_text("Give grams as a number")).to_be_visible()
    most.fill("3000")
    pretend.refusal = {"code": "no-such-scale", "detail": "interval_g must be smaller than max_g."}
    page.get_by_role("button", name="Use this scale").click()
    expect(page.get_by_role("alert").first).to_contain_text("Nothing was written")
    pretend.refusal = None
    expect(most).to_have_value("3000")
    assert violations(page) == []
    pretend.daemon.stop()
    expect(page.get_by_text("What was chosen is not lost")).to_be_visible(timeout=10_000)
    expect(most).to_have_value("3000")
    pretend.daemon.start()
    expect(page.get_by_text("What was chosen is not lost")).to_have_count(0, timeout=10_000)
    asked = [body for path, body in pretend.asked if path == "scale"]
    assert asked[0]["place"] == PLACE["id"]
    assert (asked[0]["max_g"], asked[0]["interval_g"], asked[0]["more"]) == ("3000", "0.5", False)
