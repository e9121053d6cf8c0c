"""The real daemon with a batch in process: killed and started again, it stands where it stood."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.real_daemon import RealDaemon


@pytest.fixture
def station(tmp_path: Path) -> Iterator[RealDaemon]:
    it = RealDaemon(tmp_path, "demo", "--no-open", "--speed", "40")
    it.start()
    yield it
    it.stop()


def test_a_batch_in_process_outlives_the_daemon(station: RealDaemon, tmp_path: Path) -> None:
    batch = station.begin("hazelnut-gelato", "600")
    for left in range(8, -1, -1):  # each wait is cut at 15 s
        try:
            station.until(lambda it: it["batch"]["status"] == "in process", "all weighed")
            break
        except AssertionError:
            if not left:
                raise

    def ask(what: str, step: int, **more: object) -> None:
        station.post(f"api/batches/{batch}/commands", do=what, step=step, by="Ada", **more)

    ask("begin step", 1, confirmed=["tree nuts"])
    ask("end step", 1)
    ask("begin step", 2)
    ask("enter temperature", 2, temperature="69.5")
    station.kill()
    station.start()
    (before,) = station.state()["process"]["batches"]
    assert station.state()["batch"] is None  # the bench is free
    assert (before["id"], before["state"], before["step"]) == (batch, "running", 2)
    run = before["steps"][1]["runs"][0]
    assert [one["temperature"] for one in run["values"]] == ["69.5 °C"]
    # The fast clock of the demonstration begins anew with the wall's: some minutes are lost by it.
    station.simulate("wait", minutes=90)
    ask("enter temperature", 2, temperature="69")
    ask("end step", 2)
    (after,) = station.state()["process"]["batches"]
    assert (after["state"], after["step"]) == ("waiting", 3)
    assert after["steps"][1]["runs"][0]["reached"] == "155 °F, 30 min"
    station.stop()
    database = tmp_path / "data" / "weighd.db"
    done = subprocess.run(
        [sys.executable, "-m", "weighd", "verify", str(database)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert "1 of the batches is in process" in done.stdout
