"""The tour: the demonstration is driven through a morning of an invented kitchen."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
from playwright.sync_api import Error as PlaywrightError

from docs.tour.camera import Camera
from docs.tour.station import Demo

#: How much faster the clock runs while nobody looks.
FAST = 20.0
LOTS = (
    ("whole-milk", "20 kg", "Lower Meadow Dairy", "M-118", "2031-03-09"),
    ("cream", "5 kg", "Lower Meadow Dairy", "R-042", "2031-03-08"),
    ("sucrose", "25 kg", "Quay Stores", "S-7710", "2032-06-30"),
    ("hazelnut-paste", "3 kg", "Quay Stores", "H-19", "2031-09-30"),
    ("blackcurrant-puree", "10 kg", "Orchard Nine", "B-2231", "2031-05-12"),
    ("lemon-juice", "4 kg", "Orchard Nine", "L-88", "2031-03-20"),
)


class Tour:
    """One demonstration, and the camera that goes along."""

    def __init__(self, demo: Demo, camera: Camera) -> None:
        self.demo, self.camera = demo, camera
        self.met: dict[str, str] = {}
        self.missed: list[str] = []

    def see(self, *names: str) -> None:
        """Stop the clock, look, and let it go on."""
        now = self.demo.turn(0)
        time.sleep(0.2)  # the last frame of what the bench did
        for name in names:
            try:
                self.camera.see(name, self.demo.url, self.demo.state(), now, self.met)
            except PlaywrightError as error:
                self.missed.append(f"{name}: {error}")
        self.demo.turn(1)

    def tried(self, deed: Callable[[], object]) -> None:
        """Do it again while the display still moves."""
        for left in range(40, -1, -1):
            try:
                deed()
            except httpx.HTTPStatusError as error:
                if error.response.status_code != 409 or not left:
                    raise RuntimeError(error.response.text) from error
                time.sleep(0.3)
            else:
                return

    def net(self) -> float:
        return float(self.demo.state()["live"]["net_g"] or 0)

    def poured(self, until: Callable[[dict[str, Any]], bool], rate: float) -> None:
        """Pour until the board says so."""
        self.demo.simulate("pour", g_per_s=str(rate))
        deadline = time.monotonic() + 60
        while not until(self.demo.state()["live"]):
            if time.monotonic() > deadline:
                raise RuntimeError(f"it never came: {self.demo.state()['live']}")
            time.sleep(0.01)

    def settled(self) -> str:
        """Let it settle; the verdict."""
        state = self.demo.until(
            lambda it: it["live"]["phase"] in ("judged", "held") and it["live"]["settled"],
            "settled",
        )
        return str(state["live"]["verdict"])

    def about(self, grams: float) -> str:
        """Pour so much, more slowly toward its end."""
        for rate, before in ((100.0, 70.0), (15.0, 12.0), (3.0, 1.2)):
            if self.net() < grams - before:
                self.poured(lambda it, to=grams - before: float(it["net_g"] or 0) >= to, rate)  # type: ignore[misc]
                self.demo.simulate("stop")
                time.sleep(0.8)
        return self.settled()

    def accept(self) -> None:
        n = self.demo.state()["live"]["addition"]
        self.tried(lambda: self.demo.do("accept", addition=n, reason="A heavy hand"))

    def vessel(self, grams: float = 420.0) -> None:
        self.demo.simulate("vessel", mass_g=str(grams))
        self.demo.until(
            lambda it: "tare" in it["live"]["can"] and float(it["live"]["gross_g"] or 0) > 100,
            "on the scale",
        )

    def cook(self, formula: str, size: str | None = None) -> str:
        """Let the simulated cook weigh a whole batch, quickly."""
        batch = self.demo.begin(formula, size)
        self.demo.turn(FAST)
        self.demo.simulate("cook", working=True)
        deadline = time.monotonic() + 240
        while self.demo.state()["batch"]["status"] == "open":
            if time.monotonic() > deadline:
                raise RuntimeError(f"the cook did not finish: {self.demo.state()['live']}")
            time.sleep(0.1)
        self.demo.until(lambda it: it["scales"]["bench"]["phase"] == "empty", "cleared away")
        self.demo.simulate("cook", working=False)
        self.demo.turn(1)
        return batch


Chapter = Callable[[Tour], None]


def stores(tour: Tour) -> None:
    """The first morning: what the page is before anything was weighed; goods come in."""
    tour.see("first", "first-formula", "start", "start-formula", "start-dry-ice")
    for ingredient, quantity, supplier, lot, use_by in LOTS:
        goods = {"ingredient": ingredient, "quantity_g": quantity, "supplier": supplier}
        made = tour.demo.post(
            "api/lots", **goods, supplier_lot=lot, use_by=use_by, temperature_c="3.5", by="Ada"
        )
        tour.met.setdefault("lot", str(made["lot"]))
    tour.demo.post(f"api/lots/{tour.met['lot']}/commands", do="open", by="Ada")


def days(tour: Tour) -> None:
    """Some days of work, by the simulated cook."""
    for formula in ("lemon-sorbet", "flatbread-dough", "lemon-sorbet", "lemon-sorbet"):
        batch = tour.cook(formula)
        if tour.demo.state()["batch"]["status"] == "in process":
            tour.demo.post(
                f"api/batches/{batch}/commands", do="close batch", by="Ada", reason="Not churned"
            )
        tour.demo.simulate("wait", minutes="1260")


def gelato(tour: Tour) -> None:
    """A batch by hand, seen in every state."""
    demo = tour.demo
    demo.begin("hazelnut-gelato", "1000")
    time.sleep(0.5)
    tour.see("board-awaiting")
    tour.vessel()
    tour.tried(lambda: demo.do("tare"))
    demo.phase("ready")
    tour.see("board-ready", "ask-lot", "ask-menu", "simulation")
    demo.do("name lot", lot=tour.met["lot"], addition=1)
    tour.poured(lambda it: float(it["net_g"] or 0) > 250, 60)
    tour.see("board-pouring", "wall")
    tour.poured(lambda it: (it["cue"] or {}).get("cue") == "slow", 60)
    tour.see("board-slow")
    demo.simulate("stop")
    demo.phase("settling")
    tour.see("board-settling")
    assert tour.settled() == "short"
    tour.see("board-short", "ask-trouble")
    tour.poured(lambda it: (it["cue"] or {}).get("cue") == "stop", 12)
    tour.see("board-stop")
    demo.simulate("stop")
    tour.about(607.5)
    tour.see("board-on-target")
    tour.accept()
    tour.about(85.3)
    demo.simulate("unplug")
    demo.until(lambda it: it["live"]["phase"] == "held", "scale lost")
    tour.see("board-scale-lost")
    demo.simulate("plug")
    demo.until(lambda it: it["scales"]["bench"]["link"] == "live", "it is back")
    tour.settled()
    tour.see("board-link-lost")
    tour.accept()
    tour.about(112.0)
    demo.until(lambda it: it["live"]["held"] is not None, "over")
    tour.see("board-over", "ask-reason")
    tour.accept()
    tour.about(150)
    demo.until(lambda it: it["live"]["held"] is not None, "over")
    tour.see("board-recovery")
    tour.accept()
    demo.do("abandon", reason="Seen enough")


def afterwards(tour: Tour) -> None:
    """Out of a container; then a batch that goes on after weighing."""
    demo = tour.demo
    demo.simulate("lift")
    asked = {"formula": "lemon-sorbet", "batch_g": None, "operator": "Ada", "scale": None}
    demo.post("api/batches", **asked, method="by difference")
    demo.simulate("vessel", mass_g="380", contents_g="1900")
    demo.until(lambda it: "tare" in it["live"]["can"], "a container")
    tour.tried(lambda: demo.do("tare"))
    demo.phase("ready")
    tour.see("board-by-difference")
    demo.do("abandon", reason="Seen enough")
    demo.simulate("lift")
    tour.met["processed"] = tour.cook("hazelnut-gelato", "1200")
    tour.see("done", "process", "process-step")
    batch = f"api/batches/{tour.met['processed']}/commands"

    def step(do: str, **more: Any) -> None:
        demo.post(batch, do=do, by="Ada", **more)

    step("begin step", step=1, confirmed=["tree nuts"])
    demo.simulate("wait", minutes="9")
    step("end step", step=1)
    step("begin step", step=2)
    demo.simulate("wait", minutes="18")
    step("enter temperature", step=2, temperature="69")
    demo.simulate("wait", minutes="10")
    step("enter temperature", step=2, temperature="69.5")
    demo.simulate("wait", minutes="12")
    tour.see("process-running")
    step("end step", step=2)
    tour.see("process-held")


def desk(tour: Tour) -> None:
    """What is looked up and looked after with dry hands."""
    tour.met["recorded"] = "demo-0004"
    tour.met["then"] = tour.demo.changed("lemon-sorbet", {"target": "880 g"})
    recorded = f"api/batches/{tour.met['recorded']}/yield"
    tour.demo.post(recorded, weight="1.25 kg", volume="1.4 L", portions=20, by="Bo")
    tour.see(
        *("records", "record", "labels-batch", "formulas", "formula", "new-formula", "paste"),
        *("formula-steps", "revisions", "both"),
        *("ingredients", "ingredient", "new-ingredient", "ingredient-table", "ingredient-file"),
        *("limits", "lots", "lot", "receive", "trace", "labels-lot", "trends", "trend", "scales"),
        *("check-start", "find", "settings", "devices"),
    )


def check(tour: Tour) -> None:
    """The scale is checked with weights."""
    tour.demo.until(lambda it: it["scales"]["bench"]["phase"] == "empty", "empty")
    tour.tried(lambda: tour.demo.post("api/scales/bench/check", do="start", by="Ada"))
    time.sleep(1)
    tour.see("check")


def floor(tour: Tour) -> None:
    """All stations: this one is alone, so that the others are made up."""
    tour.see("floor")


def seldom(tour: Tour) -> None:
    """States that the demonstration seldom comes to."""
    tour.see("board-too-close", "board-disturbed")


def two_scales(tour: Tour) -> None:
    """By a plan."""
    demo = tour.demo
    asked = {"formula": "hazelnut-gelato", "batch_g": "1000", "operator": "Ada", "scale": None}
    demo.post("api/batches", **asked, plan=True)
    time.sleep(0.5)
    tour.see("board-two-scales")


def people(tour: Tour) -> None:
    """Somebody is listed."""
    tour.see("people", "ask-pin")


def list_people(folder: Path) -> None:
    """Three invented people, with PINs that open nothing else."""
    from weighd.domain.people import ALL, Right
    from weighd.station.people import People
    from weighd.storage.journal import open_journal
    from weighd.storage.pins import Argon2Pins

    journal = open_journal(folder / "data" / "weighd.db", "demo")
    them = People(journal.people(), Argon2Pins(1, 8), lambda: "2031-03-08T09:00:00.000Z")
    them.add("Ada", ALL, "8264")
    them.add("Bo", {Right.ACCEPT, Right.COUNTERSIGN}, "5093")
    them.add("Cy", (), "7718")
    journal.close()
