"""Makes the recorded sessions in ``fixtures/sessions``: ``python tests/sessions/make.py [NAME]``.

Each is one run of the real daemon's parts (serial driver on a real pty, station, journal) with the
simulated scale writing to that pty and a scripted pair of hands. The headers say so: these
recordings prove the station, not the physics. The golden record beside each is what it made then.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import sys
import tempfile
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

from tests.pty_scale import PtyScale
from weighd.cli.replay import text_of
from weighd.config import parse
from weighd.domain.errors import OperatorError
from weighd.domain.recovery import Trouble, state_of
from weighd.domain.recovery_ways import enlarged
from weighd.main.daemon import Daemon
from weighd.main.files import replay_file
from weighd.main.plugging import plug
from weighd.main.recording import Recording
from weighd.main.simulation import demo_shelf
from weighd.station.inputs import Command
from weighd.station.session import Header, header_line, read
from weighd.storage.session_file import session_lines
from weighd_drivers.sim_handle import SimulatedBench
from weighd_drivers.sim_parameters import BenchParameters

FOLDER = Path(__file__).parents[2] / "fixtures" / "sessions"
NOTE = "simulated scale over a real pty, scripted hands, invented kitchen"


class Hands:
    """Scripted hands: they see the picture, work at the bench and press keys."""

    def __init__(self, daemon: Daemon, scale: PtyScale, fine: PtyScale) -> None:
        self.daemon, self.scale = daemon, scale
        self.bench = scale.bench
        self.fine = fine.bench
        self._presses = 0

    @property
    def live(self) -> dict[str, Any]:
        return self.daemon.picture.state()["live"] or {}

    async def until(self, what: Callable[[], object], seconds: float = 20) -> None:
        deadline = time.monotonic() + seconds
        while not what():
            if time.monotonic() > deadline:
                raise TimeoutError(f"waited in vain: {self.live}")
            await asyncio.sleep(0.02)

    async def phase(self, *phases: str) -> None:
        await self.until(lambda: self.live.get("phase") in phases)

    async def press(self, do: str, **given: Any) -> None:
        self._presses += 1
        await self.daemon.runner.command(Command(0, do, key=f"press-{self._presses}", **given))

    async def begin(self, formula: str, batch_g: str = "") -> None:
        content = demo_shelf().get(formula).content()
        await self.press("start", by="Scripted hands", formula=content, batch_g=batch_g)
        await self.tare(self.bench, 312.4)

    async def tare(self, bench: SimulatedBench, grams: float) -> None:
        """Set a vessel on a scale and tare it."""
        await asyncio.sleep(0.3)
        bench.vessel(grams)
        await self.until(
            lambda: "tare" in self.live["can"] and Decimal(self.live["gross_g"] or 0) > 1
        )
        await self.press("tare")
        await self.phase("ready")

    async def tip(self, bench: SimulatedBench) -> None:
        """All of an addition at once, out of a measure; accepted."""
        bench.tap(float(self.target))
        await self.until(lambda: "accept" in self.live["can"])
        await self.press("accept", addition=self.live["addition"])

    @property
    def target(self) -> str:
        """Of the current addition, in grams."""
        batch = self.daemon.picture.state()["batch"]
        return str(batch["additions"][self.live["addition"] - 1]["target_g"])

    async def pour(self, grams: float) -> None:
        """Fast to within a few grams, the rest in taps; then wait for the verdict."""
        fast = grams - 6
        if fast > 0:
            self.bench.pour(fast / 4)
            await asyncio.sleep(4.0 - 0.15)
            self.bench.stop()
            await self.phase("judged", "held")
        while (to_go := Decimal(self.live["to_go_g"] or 0)) > Decimal("0.15"):
            self.bench.tap(float(min(to_go, Decimal(4))))
            await self.until(lambda: self.live["phase"] != "judged")
            await self.phase("judged", "held")

    async def check(self, *weights: float) -> None:
        """Every weight asked for put on, the second one first, and taken off again."""

        def asks(wanted: str) -> bool:
            run = self.daemon.picture.state()["scales"]["bench"]["check"]["running"]
            return bool(run) and run["wanted"] == wanted

        await self.press("start check", scale="bench", by="Scripted hands")
        for n, grams in enumerate(weights):
            await self.until(lambda: asks("put"))
            if n == 0:
                self.bench.weight(weights[1])
                await asyncio.sleep(2.0)
            self.bench.weight(grams)
            await self.until(lambda: asks("remove"))
            self.bench.weight(0)
        await self.until(lambda: not asks("remove"))
        await asyncio.sleep(0.3)

    async def additions(self, *, lots: bool = False) -> None:
        """Every addition that is left, one after the other."""
        while live := self.live:
            batch = self.daemon.picture.state()["batch"]
            one = batch["additions"][live["addition"] - 1]
            if lots:
                await self.press("name lot", lot=f"LOT-{one['n']:02d}", addition=one["n"])
            await self.pour(float(one["target_g"]))
            if self.live["phase"] == "held":
                await self.press("accept", reason="a gram more does no harm here")
            elif "accept" in self.live["can"]:
                await self.press("accept", addition=one["n"])
            else:
                await self.press("accept", addition=one["n"], reason="as near as it gets")


async def plain(hands: Hands) -> None:
    """A whole batch with nothing special."""
    await hands.begin("lemon-sorbet", "900")
    await hands.additions(lots=True)


async def over_pour(hands: Hands) -> None:
    """The first addition poured over, held, pressed on in vain, taken out of."""
    await hands.begin("flatbread-dough", "400")
    hands.bench.pour(80)
    await hands.until(lambda: Decimal(hands.live["net_g"] or 0) > Decimal(245))
    hands.bench.stop()
    await hands.phase("held")
    with contextlib.suppress(OperatorError):
        await hands.press("accept")
    await hands.press("take out")
    hands.bench.take(float(hands.live["sum_g"]) - 229.7)
    await hands.phase("judged", "held")
    await hands.press("accept", reason="near enough")
    await hands.additions()


async def put_right(hands: Hands) -> None:
    """The second addition poured over, and the batch made larger for it."""
    await hands.begin("flatbread-dough", "400")
    await hands.tip(hands.bench)
    await hands.pour(float(hands.target) * 1.2)
    station: Any = hands.daemon.station
    change: Any = enlarged(state_of(station.batch, Trouble.OVER, station.now.claim.net_g))
    await hands.press("put right", change=change.as_json(), reason="poured too fast")
    await hands.until(lambda: "accept" in hands.live["can"])
    await hands.press("accept")
    await hands.additions()


async def unplugged(hands: Hands) -> None:
    """The cable pulled in mid-pour and put back; then the scale falls silent for a while."""
    await hands.begin("lemon-sorbet", "500")
    hands.bench.pour(60)
    await asyncio.sleep(1.5)
    hands.scale.unplug()
    hands.bench.stop()
    await hands.phase("held")
    await asyncio.sleep(1.0)
    hands.scale.plug()
    await hands.until(lambda: hands.live["phase"] != "held")
    await hands.phase("judged")
    hands.scale.silent()
    await hands.phase("held")
    hands.scale.silent(quiet=False)
    await hands.phase("judged")
    await hands.pour(0)
    await hands.press("accept")
    hands.scale.garbage()
    hands.scale.half()
    await hands.additions()


async def abandoned(hands: Hands) -> None:
    """The vessel lifted and put back with some in it, a bump, and the batch given up."""
    await hands.begin("blackcurrant-buttermilk-sherbet", "600")
    hands.bench.pour(50)
    await asyncio.sleep(3)
    hands.bench.stop()
    await hands.phase("judged")
    hands.bench.lift()
    await hands.phase("awaiting vessel")
    await asyncio.sleep(0.5)
    hands.bench.put_back()
    await hands.phase("judged")
    hands.bench.bump(3.0)
    await asyncio.sleep(2.0)
    await hands.press("abandon", reason="the blackcurrants had gone off")


async def planned(hands: Hands) -> None:
    """By the plan on two scales: a dish that was forgotten at first, then tipped into the bowl."""
    content = demo_shelf().get("hazelnut-gelato").content()
    content.pop("steps", None)  # what is recorded here is weighing
    *rest, salt = content["additions"]
    milk, gum, sugar = rest[0], rest[6], rest[3]
    # Finer than the bench can judge: these two go into the dish, and the sugar into the bowl again.
    content["additions"] = [milk, {**gum, "tolerance": "0.05 g"}, {**salt, "tolerance": "0.05 g"}]
    content["additions"].append(sugar)
    vessels = {"bowl_g": "312", "dish_g": "61", "dish_holds_g": "60"}
    await hands.press(
        "start", by="Scripted hands", formula=content, batch_g="600", plan=True, **vessels
    )
    await hands.tare(hands.bench, 312.4)
    await hands.tip(hands.bench)
    await hands.tare(hands.fine, 61.28)
    await hands.tip(hands.fine)
    await hands.tip(hands.fine)
    await hands.until(lambda: (hands.live["due"] or {}).get("off_g"))
    with contextlib.suppress(OperatorError):
        await hands.press("tare")
    batch = hands.daemon.picture.state()["batch"]
    hands.fine.lift()
    hands.bench.tap(sum(float(one["net_g"]) for one in batch["additions"][1:3]))
    await hands.until(lambda: "tare" in hands.live["can"] and not hands.live["due"]["off_g"])
    await hands.press("tare")
    await hands.phase("ready")
    await hands.tip(hands.bench)


async def checked(hands: Hands) -> None:
    """The scale checked, a wrong weight put on once; a batch weighed; then it fails its check."""
    await hands.check(2000.0, 500.0)
    await hands.begin("lemon-sorbet", "500")
    await hands.additions()
    hands.bench.lift()
    await hands.check(2000.0, 500.9)


async def by_difference(hands: Hands) -> None:
    """Out of each ingredient's own container: lifted and poured, spooned, too much poured back."""
    content = demo_shelf().get("lemon-sorbet").content()
    content["additions"] = content["additions"][:3]
    await hands.press(
        "start", by="Scripted hands", formula=content, batch_g="900", method="by difference"
    )
    bench = hands.bench
    for n, poured in enumerate((1.0, 1.1, 0.6), start=1):
        target = float(hands.target)
        if n > 1:
            with contextlib.suppress(OperatorError):
                await hands.until(lambda: "tare" in hands.live["can"])
                await hands.press("tare")  # the one before still stands there
            bench.lift()
            await hands.until(lambda: Decimal(hands.live["gross_g"] or 9) < 1)
        bench.vessel(180.2, target * 2)
        await hands.until(
            lambda: "tare" in hands.live["can"] and Decimal(hands.live["gross_g"] or 0) > 1
        )
        await hands.press("tare")
        await hands.phase("ready")
        bench.lift()
        await hands.phase("awaiting vessel")
        bench.pour_out(target * poured)
        await asyncio.sleep(0.8)
        bench.put_back()
        await hands.phase("judged", "held")
        if hands.live["phase"] == "held":
            await hands.press("take out")
            bench.tap(target * (poured - 1))
            await hands.until(lambda: "accept" in hands.live["can"])
        while (to_go := float(hands.live["to_go_g"] or 0)) > 0.15:
            bench.take(min(to_go, 30.0))  # with a spoon, where it stands
            await hands.until(lambda: hands.live["phase"] != "judged")
            await hands.phase("judged", "held")
        await hands.press("accept", addition=n)


SESSIONS = {
    one.__name__.replace("_", "-"): one
    for one in (plain, over_pour, put_right, unplugged, abandoned, planned, checked, by_difference)
}
#: A second scale beside the bench, in the sessions that use one.
FINE = BenchParameters(
    capacity_g=Decimal(500), interval_g=Decimal("0.01"), noise_g=0.002, wander_g=0.001
)
TWO = ("planned",)
_FINE = """
            [scales.fine]
            driver = "serial"
            port = "PLACE/fine"
            shape = "status-sign-digits-unit"
            max_g = "500"
            interval_g = "0.01"
            """
#: More of the configuration, for those that need it.
CONFIGURED = {
    "checked": """
            [scales.bench.check]
            limit_g = "0.5"
            [[scales.bench.check.masses]]
            name = "K-2000"
            nominal_g = 2000
            r111_class = "M1"
            [[scales.bench.check.masses]]
            name = "K-500"
            nominal_g = 500
            r111_class = "M1"
            """,
}


async def record(name: str, folder: Path) -> None:
    """Record one session and what the station makes of it."""
    with (
        tempfile.TemporaryDirectory() as place,
        PtyScale(Path(place) / "scale") as scale,
        PtyScale(Path(place) / "fine", FINE, seed=2) as fine,
    ):
        session = Path(place) / "session.jsonl"
        config = parse(
            f"""
            [station]
            name = "mill"
            data = "{place}/data"
            [scales.bench]
            driver = "serial"
            port = "{place}/scale"
            shape = "status-sign-digits-unit"
            max_g = "6000"
            interval_g = "0.1"
            {CONFIGURED.get(name, "")}
            """
            + (_FINE.replace("PLACE", place) if name in TWO else "")
        )
        daemon = Daemon(config, plug(config), demo_shelf(), record=Recording(session))
        hands = Hands(daemon, scale, fine)
        until = asyncio.Event()
        running = asyncio.create_task(daemon.run(until))
        try:
            await hands.until(
                lambda: all(
                    one["link"] == "live" for one in daemon.picture.state()["scales"].values()
                )
            )
            await SESSIONS[name](hands)
        finally:
            until.set()
            await running
        header, inputs = read(session_lines(session), str(session))
        assert list(inputs)
        rows = session.read_text("utf-8").replace(place, "/dev").splitlines()
        scales = {one: {**its, "port": "a pty"} for one, its in header.scales.items()}
        note = f"{SESSIONS[name].__doc__} ({NOTE})"
        kept = Header(scales, note, header.station, header.rule, header.version)
        out = folder / f"{name}.jsonl"
        out.write_text("\n".join([header_line(kept), *rows[1:]]) + "\n", "utf-8")
        golden = text_of(replay_file(out, None))
        (folder / f"{name}.golden.json").write_text(golden, "utf-8")
        live = [one.as_json() for one in daemon_entries(Path(place) / "data")]
        made = json.loads(golden)
        replayed = sorted(made["entries"] + made.get("checks", []), key=lambda one: one["seq"])
        assert replayed == json.loads(json.dumps(live)), "replay differs"


def daemon_entries(data: Path) -> list[Any]:
    """What the daemon really wrote."""
    from weighd.main.daemon import DATABASE
    from weighd.storage.journal import open_read_only

    journal = open_read_only(data / DATABASE)
    try:
        return list(journal.entries())
    finally:
        journal.close()


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for chosen in sys.argv[1:] or SESSIONS:
        asyncio.run(record(chosen, FOLDER))
        print(chosen)
