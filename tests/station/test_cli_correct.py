"""``weighd correct`` at a station that runs: listed, put right, refused; the record verifies."""

from __future__ import annotations

import json
from pathlib import Path

from tests.pty_scale import PtyScale
from tests.station.daemon import QUICK, Cook, Served, kitchen, run


def test_a_name_is_put_right_beside_the_running_station(tmp_path: Path) -> None:
    config = kitchen(tmp_path)
    with PtyScale(tmp_path / "scale", QUICK) as scale, Served(config) as daemon:
        cook = Cook(daemon, scale)
        cook.start()
        cook.weigh_all()
        at = ("--url", daemon.address)
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
    checked = run("verify", str(next(tmp_path.glob("**/*.db"))))
    assert checked.returncode == 0, checked.stderr
