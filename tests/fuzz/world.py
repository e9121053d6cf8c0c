"""A station to be fuzzed: a daemon of its own on loopback, with something of everything in it.

Its folder, its port and its record are its own and go with it. The scales are simulated, one with
a cook at it; the record begins with a batch that was planned, held, put right, taken through its
steps and countersigned, with checks and lots. All of it is invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Any

from tests.station.daemon import Served
from tests.station.everything import planned
from weighd.domain.people import Right
from weighd.main.proving import verify_file
from weighd.main.shipped import copy_of_the_kitchen
from weighd.storage.journal import open_journal

#: Kept by whoever looks after people, in the world that has some.
KEEPER, PIN = "Ada", "483920"
_SCALE = 'driver = "simulated"\ninterval_g = "0.1"\nmax_g = 6000\n'
#: More than this a station does not grow by, whatever is asked of it.
MOST: Mapping[str, float] = {"MB": 60, "peak MB": 90, "handles": 40, "threads": 30}


class World(Served):
    """A station that is fuzzed. ``people`` lists somebody; then most of it asks for PINs."""

    def __init__(self, folder: Path, *, people: bool = False, more: str = "") -> None:
        copy_of_the_kitchen(folder / "formulas")
        config = folder / "weighd.toml"
        config.write_text(
            '[station]\nname = "test"\ndata = "data"\nformulas = "formulas"\n'
            f'operators = ["Ada", "Bo"]\n[scales.bench]\n{_SCALE}[scales.fine]\n{_SCALE}'
            f'[dry_ice]\nroom_m3 = 40\n[heads]\nat_utc = "22:00"\nfolder = "heads"\n{more}'
        )
        (folder / "data").mkdir()
        journal = open_journal(folder / "data" / "weighd.db", "test")
        journal.append(list(planned()))
        journal.close()
        super().__init__(config)
        self._people = people
        self._before: dict[str, float] = {}

    def __enter__(self) -> World:
        super().__enter__()
        self._http.timeout = 120  # a machine that fuzzes is busy
        self.wait(lambda it: all(one["link"] == "live" for one in it["scales"].values()), 60)
        self.ask("POST", "/api/simulation", {"do": "cook", "working": True, "speed": 4})
        begun = self.ask("POST", "/api/batches", {"formula": "lemon-sorbet", "operator": "Ada"})
        assert begun.status_code == 201, begun.text
        if self._people:
            made = self.ask(
                "POST", "/api/people", {"name": KEEPER, "rights": [*map(str, Right)], "pin": PIN}
            )
            assert made.status_code == 201, made.text
        self._warm()
        self.settle()
        return self

    def _warm(self) -> None:
        """Ask once for what is imported late: scipy, typst, what reads codes."""
        for method, path, body in (
            ("POST", "/api/solve", {"of": "hazelnut-gelato", "targets": {"fat": "9"}}),
            ("POST", "/api/scan", {"text": "(01)04012345678901(10)AB"}),
            ("GET", "/api/batches/test-0001/sheet.pdf", None),
            ("GET", "/api/lots/R-0001/labels?format=pdf", None),
            ("GET", "/api/formulas/hazelnut-gelato/plan", None),
            ("GET", "/api/trends", None),
            ("GET", "/metrics", None),
        ):
            self.ask(method, path, body)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        super().__exit__(kind, error, trace)

    def settle(self) -> None:
        """From here on it must not grow; asked once what is imported late is there."""
        self._before = self.size()

    def size(self) -> dict[str, float]:
        """What the process takes now."""
        told = Path(f"/proc/{self.pid}/status").read_text()
        lines = dict(line.split(":", 1) for line in told.splitlines())
        return {
            "MB": int(lines["VmRSS"].split()[0]) / 1000,
            "peak MB": int(lines["VmHWM"].split()[0]) / 1000,
            "handles": float(len(list(Path(f"/proc/{self.pid}/fd").iterdir()))),
            "threads": float(lines["Threads"]),
        }

    def grown(self) -> dict[str, float]:
        """What it takes more than before."""
        now = self.size()
        return {key: round(now[key] - self._before[key], 1) for key in now}

    def sound(self) -> list[str]:
        """What is wrong with the station that runs, in words; nothing where all is well."""
        wrong = []
        if self.ended:
            return [f"it ended: {self.log()[-2000:]}"]
        health = self.ask("GET", "/api/health")
        if health.status_code != 200 or health.json()["store"] != "ok":
            wrong.append(f"health: {health.text}")
        log = self.log()
        if "Traceback" in log:
            at = log.index("Traceback")
            wrong.append(f"a traceback in its log: {log[max(0, at - 500) : at + 3000]}")
        grown = self.grown()
        for key, most in MOST.items():
            if grown[key] > most:
                wrong.append(f"{key} grew by {grown[key]}")
        return wrong

    def proved(self) -> str:
        """What a verification of its record says, once it has ended."""
        assert self.stop() == 0, self.log()[-2000:]
        found = verify_file(self.database)
        return f"{found.report.entries} entries, {found.report.batches} batches"


def examples(world: World) -> dict[str, list[Any]]:
    """Names of what is there, for paths: by the name of the parameter."""
    entries = {one.kind for one in planned()}
    assert "scale checked" in entries
    batches = [one["id"] for one in world.get("/api/batches")["batches"]]
    check = world.get("/api/scales/bench/checks")["checks"]
    formulas = [one["id"] for one in world.get("/api/formulas")["formulas"]]
    return {
        "batch": batches,
        "name": ["bench", "fine", KEEPER],
        "formula": formulas,
        "lot": [one["lot"] for one in world.get("/api/lots", gone=True)["lots"]],
        "ingredient": [one["id"] for one in world.get("/api/ingredients")["ingredients"]][:8],
        "kind": [one["id"] for one in world.get("/api/limits")["classes"]],
        "seq": [one["seq"] for one in check] or [1],
        "by": ["ingredient", "scale", "operator"],
        "key": ["milk", "bench"],
        "revision": ["now"],
        "notice": ["n1"],
        "of": formulas,
        "old": ["sucrose", "cream", "milk"],
        "new": ["dextrose", "sucrose"],
        "use": [["dextrose"], []],
        "operator": ["Ada", "Bo"],
        "place": ["simulated"],
    }
