"""A running daemon whose computer's clock is set: in mid-batch, with somebody signed in."""

from __future__ import annotations

import shutil
import subprocess
import time
from pathlib import Path

import pytest

from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import QUICK, Cook, Served, kitchen
from tests.station.test_moving import start as started
from weighd.cli.verify import in_words
from weighd.main.proving import verify_file

HOUR = 3600
PIN, OTHER_PIN = "7391", "2684"


@pytest.fixture
def moved(tmp_path: Path) -> tuple[Path, tuple[str, ...]]:
    """The file that says by how much the clock is moved, and what a daemon is to run under."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        pytest.skip("no C compiler: the clock of a process cannot be set here")
    built, file = tmp_path / "wall_clock.so", tmp_path / "moved"
    source = Path(__file__).with_name("wall_clock.c")
    subprocess.run([compiler, "-shared", "-fPIC", "-o", built, source], check=True)
    file.write_text("0")
    return file, ("env", f"LD_PRELOAD={built}", f"WALL_CLOCK={file}")


def test_the_clock_is_set_back_to_1970_and_far_ahead_in_mid_batch(
    tmp_path: Path, moved: tuple[Path, tuple[str, ...]]
) -> None:
    file, under = moved
    config = kitchen(tmp_path)
    for name, pin in (("Ada", PIN), ("Bo", OTHER_PIN)):
        rights = [] if name == "Ada" else ["--right", "none"]
        added = run("people", "add", name, "--config", config, *rights, stdin=f"{pin}\n".encode())
        assert added.returncode == 0, added.stderr
    with PtyScale(tmp_path / "scale", QUICK) as scale, Served(config, under=under) as daemon:

        def sign_in(name: str, pin: str) -> tuple[int, str]:
            answer = daemon.ask("POST", "/api/sign-in", {"name": name, "pin": pin})
            return answer.status_code, answer.json().get("code", "")

        def set_by(seconds: int, how: str) -> None:
            """Set the clock and wait until the station tells of it."""
            file.write_text(str(seconds))
            daemon.wait(
                lambda s: any(
                    one["code"] == "clock-wrong" and one["text"].startswith(how)
                    for one in s["station"]["notices"]
                )
            )

        assert sign_in("Ada", PIN) == (200, "")
        for _ in range(3):
            assert sign_in("Bo", "0001") == (401, "wrong-pin")
        assert sign_in("Bo", OTHER_PIN) == (429, "wait-for-pin")
        assert sign_in("Ada", PIN) == (200, "")
        cook = Cook(daemon, scale)
        cook.start(operator="Ada")
        cook.vessel()
        set_by(-HOUR, "behind")
        cook.weigh(1)
        assert sign_in("Bo", OTHER_PIN) == (200, ""), "a wait is not an hour longer"
        set_by(-int(time.time()) + 60, "behind 1970")
        assert sign_in("Ada", PIN) == (200, "")
        cook.weigh(2)
        set_by(50 * 365 * 24 * HOUR, "ahead")
        assert daemon.get("/api/people")["me"]["name"] == "Ada", "who is signed in stays so"
        cook.weigh(3)
        document = cook.record()
        entries = document["entries"]
        assert daemon.stop() == 0
    assert started(config) == [], "the clock is right, and in no doubt by what it was"
    kinds = [one["kind"] for one in entries]
    assert kinds == ["batch opened", "tared", *["addition accepted"] * 3, "batch closed"]
    said = [one["body"].get("clock", {}).get("is") for one in entries]
    assert said == [None, None, "behind", "unset", "ahead", "ahead"]
    sure = entries[1]["at"]
    assert {one["body"]["clock"]["newest"] for one in entries[2:]} == {sure}
    assert [one["body"]["net_g"] for one in entries[2:5]] == ["500.0", "120.0", "20.0"]
    found = verify_file(str(tmp_path / "data" / "weighd.db"))
    assert (found.report.set_back, found.report.clock_doubted) == (2, 4)
    assert "4 entries say that the clock" in in_words(found.report)
    assert "Traceback" not in daemon.log()
