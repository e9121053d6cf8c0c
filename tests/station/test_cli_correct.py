"""``weighd correct`` and ``weighd countersign`` at a station that runs; the record verifies."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import QUICK, Cook, Served, kitchen


@dataclass(frozen=True)
class Bench:
    """A station that runs and has weighed one batch."""

    address: str
    config: Path
    database: Path


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    folder = tmp_path_factory.mktemp("kitchen")
    config = kitchen(folder)
    with PtyScale(folder / "scale", QUICK) as scale, Served(config) as daemon:
        cook = Cook(daemon, scale)
        cook.start()
        cook.weigh_all()
        yield Bench(daemon.address, config, next(folder.glob("**/*.db")))


def test_a_name_is_put_right_beside_the_running_station(bench: Bench) -> None:
    at = ("--url", bench.address)
    listed = run("correct", "kitchen-0001", *at)
    assert (listed.returncode, listed.stderr) == (0, "")
    assert "  1  batch opened: operator: " in listed.stdout
    drawn = json.loads(run("correct", "kitchen-0001", "--json", *at).stdout)
    entry = next(it["entry"] for it in drawn["written"] if it["kind"] == "addition accepted")
    ask = ("correct", "kitchen-0001", "--entry", str(entry), "--field", "lot", "--to", "L-123")
    wrong = run(*ask, "--by", "Ada", *at)
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert "why" in wrong.stderr
    done = run(*ask, "--by", "Ada", "--reason", "read off the wrong sack", *at)
    assert (done.returncode, done.stdout) == (0, f"Entry {entry}, lot: (none) -> L-123.\n")
    same = run(*ask, "--by", "Ada", "--reason", "again", *at)
    assert (same.returncode, "that already" in same.stderr) == (2, True)
    scale_says = run(
        "correct", "kitchen-0001", "--entry", str(entry), "--field", "net_g", "--to", "1",
        "--reason", "x", *at,
    )  # fmt: skip
    assert (scale_says.returncode, "by hand" in scale_says.stderr) == (2, True)
    half = run("correct", "kitchen-0001", "--to", "L-1", *at)
    assert (half.returncode, "--entry" in half.stderr) == (2, True)
    listed = run("correct", "kitchen-0001", *at)
    assert "lot: (none) -> L-123. Ada: read off the wrong sack" in listed.stdout
    checked = run("verify", bench.database)
    assert checked.returncode == 0, checked.stderr


def post(address: str, path: str, **body: Any) -> None:
    asked = urllib.request.Request(
        f"{address}/api/{path}", json.dumps(body).encode(), {"Content-Type": "application/json"}
    )
    urllib.request.urlopen(asked, timeout=10).close()


def test_a_batch_is_countersigned_by_name_and_then_by_pin(bench: Bench) -> None:
    config = bench.config
    at = ("--url", bench.address)
    ask = ("countersign", "kitchen-0001")
    none = run(*ask, "--list", *at)
    assert none.stdout == "Batch kitchen-0001 is not countersigned.\n"
    stale = run(*ask, "--by", "Zoe", "--upto", "1", *at)
    assert (stale.returncode, "Meanwhile" in stale.stderr) == (2, True)
    done = run(*ask, "--by", "Zoe", "--note", "sheet seen", *at)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Zoe countersigned batch kitchen-0001 as far as entry" in done.stdout
    assert done.stdout.endswith(". sheet seen\n")
    # From the first person on, a name is not enough.
    post(bench.address, "people", name="Eve", pin="4711", rights=["all"])
    wrong = run(*ask, "--by", "Eve", *at, stdin=b"1111\n")
    assert (wrong.returncode, "not the PIN" in wrong.stderr) == (2, True)
    gone = run(*ask, "--by", "Eve", *at)
    assert gone.returncode == 2
    done = run(*ask, "--by", "Eve", *at, stdin=b"4711\n")
    assert (done.returncode, len(done.stdout.splitlines())) == (0, 2)
    busy = run("people", "add", "Bo", "--config", config, stdin=b"2580\n")
    assert (busy.returncode, "on its page" in busy.stderr) == (4, True)
    assert run("people", "list", "--config", config).stdout == "1. Eve: all rights.\n"
    checked = run("verify", bench.database)
    assert checked.returncode == 0, checked.stderr
    assert "Countersigned 2 times" in checked.stdout
    exported = json.loads(run("export", "kitchen-0001", "--config", config).stdout)
    assert exported["entries"][-1]["body"]["proved"] == {"Eve": "pin"}
    assert exported["signatures"][-1]["entries"] == len(exported["entries"])
    assert "argon2" not in json.dumps(exported)
